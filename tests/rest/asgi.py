"""The service in process, spoken to in raw ASGI, so that a test says every byte and every chunk itself; and callers."""

import asyncio
from collections.abc import Iterable, Mapping
from itertools import count
from typing import Any
from urllib.parse import unquote

import httpx
from fastapi import APIRouter, FastAPI

from pool_api.domain.access import Caller, Role
from pool_api.domain.keys import key_digest
from pool_api.rest.app import create_app

KEEPER = "cp_" + "a" * 12 + "_" + "1" * 40
CLERK = "cp_" + "b" * 12 + "_" + "2" * 40
READER = "cp_" + "c" * 12 + "_" + "3" * 40
OPERATOR = "cp_" + "d" * 12 + "_" + "4" * 40
OTHER_KEEPER = "cp_" + "e" * 12 + "_" + "5" * 40
UNKNOWN = "cp_" + "f" * 12 + "_" + "6" * 40

CALLERS = {
    KEEPER: Caller(role=Role.KEEPER, pool="riverside", member=None, key_id="a" * 12, name="the book"),
    CLERK: Caller(role=Role.CLERK, pool="riverside", member="ALDER", key_id="b" * 12, name="the counter"),
    READER: Caller(role=Role.READER, pool="riverside", member=None, key_id="c" * 12, name="the accountant"),
    OPERATOR: Caller(role=Role.OPERATOR, pool=None, member=None, key_id="d" * 12, name="the server"),
    OTHER_KEEPER: Caller(role=Role.KEEPER, pool="hillside", member=None, key_id="e" * 12, name="another book"),
}
BY_DIGEST = {key_digest(key): caller for key, caller in CALLERS.items()}


async def find_key(digest: str) -> Caller | None:
    return BY_DIGEST.get(digest)


async def ready() -> list[str]:
    return []


def make_app(*routers: APIRouter, **changed: Any) -> FastAPI:
    """Make the service with routers, known callers and ids that count."""
    numbers = count(1)
    given = {"find_key": find_key, "ready": ready, "new_id": lambda: f"request-{next(numbers)}", **changed}
    return create_app(routers=routers, **given)


def call(
    app: FastAPI,
    method: str,
    path: str,
    *,
    key: str | None = None,
    headers: Mapping[str, str] | Iterable[tuple[str, str]] = (),
    body: bytes | list[bytes] = b"",
    peer: str = "192.0.2.1",
    scheme: str = "http",
) -> httpx.Response:
    """Send a request and give its answer.

    A body of bytes comes with its Content-Length and in one chunk, a list without and in its chunks. How many chunks
    the service left unread is in the answer's extensions."""
    chunks = [body] if isinstance(body, bytes) else list(body)
    given = list(headers.items() if isinstance(headers, Mapping) else headers)
    if key is not None:
        given.append(("Authorization", f"Bearer {key}"))
    if isinstance(body, bytes) and body:
        given.append(("Content-Length", str(len(body))))
    said: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        if not chunks:
            return {"type": "http.disconnect"}
        return {"type": "http.request", "body": chunks.pop(0), "more_body": bool(chunks)}

    async def send(message: Any) -> None:
        said.append(dict(message))

    asyncio.run(app(_scope(method, path, given, peer, scheme), receive, send))
    start = next(message for message in said if message["type"] == "http.response.start")
    content = b"".join(message.get("body", b"") for message in said if message["type"] == "http.response.body")
    answer = httpx.Response(start["status"], headers=start["headers"], content=content)
    answer.extensions["unread_chunks"] = len(chunks)
    return answer


def _scope(method: str, path: str, headers: list[tuple[str, str]], peer: str, scheme: str) -> dict[str, Any]:
    plain, _, query = path.partition("?")
    return {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": scheme,
        "path": unquote(plain),
        "raw_path": plain.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(name.lower().encode(), value.encode("latin-1")) for name, value in headers],
        "client": (peer, 40_000),
        "server": ("testserver", 80),
        "state": {},
    }


def told(answer: httpx.Response) -> tuple[int, str]:
    """Check that an answer is a whole problem document; give its status and code."""
    document = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert document["status"] == answer.status_code
    assert document["type"] == f"/problems/{document['code']}"
    assert document["title"]
    assert document["detail"]
    return answer.status_code, document["code"]
