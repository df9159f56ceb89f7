"""Answers as a service was told to, for what the real one does too rarely: to be busy, gone, or out of its mind."""

import json
from dataclasses import dataclass, field
from typing import Any

import httpx
from pool_client.attempts import Patience
from pool_client.client import AsyncBook, AsyncClient, Book, Client
from pool_client.models.entries import Draw, Entry

ADDRESS = "https://pool.test"
API_KEY = "cp_" + "a" * 12 + "_" + "5" * 40
DRAW = Draw(member="BIRCH", quantity=40)
ENTRY = {
    "number": 2,
    "kind": "draw",
    "effective_on": "2026-11-03",
    "recorded_at": "2026-11-03T09:30:00.000000Z",
    "recorded_by": "keeper/-/4f0c8e12ab34",
    "note": "",
    "previous_hash": "0" * 64,
    "hash": "1" * 64,
    "body": {"member": "BIRCH", "quantity": 40},
}
PATIENCE = Patience(tries=4, first_pause_s=1.0, longest_pause_s=30.0, draw=lambda: 1.0)

Outcome = httpx.Response | type[httpx.RequestError]


def answer(told: Any, status: int = 200, **headers: str) -> httpx.Response:
    return httpx.Response(status, json=told, headers=headers)


def recorded() -> httpx.Response:
    return answer(ENTRY, 201)


def problem(status: int, code: str, headers: dict[str, str] | None = None, **fields: Any) -> httpx.Response:
    document = {
        "type": f"/problems/{code}",
        "title": code.capitalize(),
        "status": status,
        "detail": f"It is {code}.",
        "code": code,
        **fields,
    }
    media_type = {"Content-Type": "application/problem+json", **(headers or {})}
    return httpx.Response(status, content=json.dumps(document).encode(), headers=media_type)


@dataclass
class Script:
    """Gives one outcome after the other, and keeps what it was asked and how long its client waited."""

    outcomes: tuple[Outcome, ...]
    requests: list[httpx.Request] = field(default_factory=list)
    pauses: list[float] = field(default_factory=list)

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        outcome = self.outcomes[len(self.requests) - 1]
        if isinstance(outcome, httpx.Response):
            return outcome
        raise outcome("gone", request=request)

    async def sleep(self, seconds: float) -> None:
        self.pauses.append(seconds)

    @property
    def keys(self) -> list[str | None]:
        return [request.headers.get("Idempotency-Key") for request in self.requests]


def scripted(*outcomes: Outcome) -> tuple[Book, Script]:
    """Give a book of a service that answers like this."""
    script = Script(outcomes)
    http = httpx.Client(transport=httpx.MockTransport(script))
    client = Client(ADDRESS, API_KEY, http=http, patience=PATIENCE, sleep=script.pauses.append)
    return client.book("riverside"), script


def scripted_async(*outcomes: Outcome) -> tuple[AsyncBook, Script]:
    """Give a book, to be awaited, of a service that answers like this."""
    script = Script(outcomes)
    http = httpx.AsyncClient(transport=httpx.MockTransport(script))
    client = AsyncClient(ADDRESS, API_KEY, http=http, patience=PATIENCE, sleep=script.sleep)
    return client.book("riverside"), script


def is_recorded(entry: Entry) -> bool:
    return (2, DRAW) == (entry.number, entry.body)
