"""The client of the credit pool service: book.record(Loan(...)), and all the other calls that calls/ describes.

What is sent and read stands in models/, what can go wrong in errors.py, tables for people in show.py.
"""

from pool_client.client import AsyncBook, AsyncClient, Book, Client

__all__ = ["AsyncBook", "AsyncClient", "Book", "Client"]
