"""The client of the credit pool service. Everything that a program needs stands here."""

from pool_client.client import AsyncBook, AsyncClient, Book, Client

__all__ = ["AsyncBook", "AsyncClient", "Book", "Client"]
