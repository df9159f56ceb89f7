"""The line to the service: how a call goes over HTTP, for callers that wait and for callers that await.

Both drivers follow the same conversation of attempts.py; here is only what differs between waiting and awaiting. The
API key, or the token of a session, goes into the header Authorization of each request and nowhere else.
"""

import json
import re
import secrets
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from typing import Any, TypeVar

import httpx

from pool_client.attempts import Lost, Outcome, Patience, Pause, Try, attempts
from pool_client.calls.call import JSON, Answer, Call, Page, Upload
from pool_client.errors import Misused
from pool_client.wire import write

T = TypeVar("T")

TIMEOUT = httpx.Timeout(60.0, connect=5.0)
"""Of clients that are made here: a month of a large pool takes seconds to cost, a file some to import."""


def new_idempotency_key() -> str:
    """Give a key that was never used before: 192 random bits."""
    return secrets.token_urlsafe(24)


class _Requests:
    """Makes the requests to one service with one API key, or with none."""

    def __init__(self, base_url: str, key: str | None) -> None:
        self._base = _checked_address(base_url)
        if key is not None and not re.fullmatch(r"[!-~]+", key):
            raise ValueError("an API key is one word of printable ASCII")
        self._who = {} if key is None else {"Authorization": f"Bearer {key}"}

    def build(self, make: Callable[..., httpx.Request], call: Call[Any], key: str | None) -> httpx.Request:
        """Give the request of a call.

        Takes:   make — build_request of the HTTP client, which knows its timeouts; key — the idempotency key."""
        headers = {"Accept": JSON, **call.headers, **self._who, "User-Agent": "pool_client"}
        content = None
        if isinstance(call.body, Upload):
            headers["Content-Type"], content = call.body.media_type, call.body.content
        elif call.body is not None:
            headers["Content-Type"], content = JSON, json.dumps(write(call.body)).encode()
        if key is not None:
            headers["Idempotency-Key"] = key
        url = self._base + call.target
        return make(call.method, url, params=call.query or None, headers=headers, content=content)


class Line:
    """Sends calls and waits for their answers."""

    def __init__(
        self,
        base_url: str,
        key: str | None,
        http: httpx.Client,
        *,
        patience: Patience,
        sleep: Callable[[float], None],
    ) -> None:
        self.http = http
        self._requests = _Requests(base_url, key)
        self._patience = patience
        self._sleep = sleep

    def send(self, call: Call[T]) -> T:
        """Make a call. Refuses: any error of the tree in errors.py."""
        steps = attempts(call, _key_of(call), self._patience)
        outcome: Outcome = None
        try:
            while True:
                step = steps.send(outcome)
                if isinstance(step, Pause):
                    self._sleep(step.seconds)
                    outcome = None
                else:
                    outcome = self._try(call, step)
        except StopIteration as end:
            result: T = end.value
            return result

    def each(self, call: Call[Page[T]]) -> Iterator[T]:
        """Give the rows of a list, page after page, each page asked for when it is needed, and as long as it can be
        unless the call says otherwise."""
        call = call.in_long_pages()
        page = self.send(call)
        yield from page.items
        while page.next is not None:
            page = self.send(call.on(page.next))
            yield from page.items

    def _try(self, call: Call[Any], step: Try) -> Outcome:
        try:
            return _answer(self.http.send(self._requests.build(self.http.build_request, call, step.key)))
        except httpx.RequestError as error:
            return _lost(error)


class AsyncLine:
    """Sends calls and awaits their answers."""

    def __init__(
        self,
        base_url: str,
        key: str | None,
        http: httpx.AsyncClient,
        *,
        patience: Patience,
        sleep: Callable[[float], Awaitable[None]],
    ) -> None:
        self.http = http
        self._requests = _Requests(base_url, key)
        self._patience = patience
        self._sleep = sleep

    async def send(self, call: Call[T]) -> T:
        """Make a call. Refuses: any error of the tree in errors.py."""
        steps = attempts(call, _key_of(call), self._patience)
        outcome: Outcome = None
        try:
            while True:
                step = steps.send(outcome)
                if isinstance(step, Pause):
                    await self._sleep(step.seconds)
                    outcome = None
                else:
                    outcome = await self._try(call, step)
        except StopIteration as end:
            result: T = end.value
            return result

    async def each(self, call: Call[Page[T]]) -> AsyncIterator[T]:
        """Give the rows of a list, page after page, each page asked for when it is needed, and as long as it can be
        unless the call says otherwise."""
        call = call.in_long_pages()
        page = await self.send(call)
        for row in page.items:
            yield row
        while page.next is not None:
            page = await self.send(call.on(page.next))
            for row in page.items:
                yield row

    async def _try(self, call: Call[Any], step: Try) -> Outcome:
        try:
            return _answer(await self.http.send(self._requests.build(self.http.build_request, call, step.key)))
        except httpx.RequestError as error:
            return _lost(error)


def _key_of(call: Call[Any]) -> str | None:
    if not call.keyed:
        return None
    if call.key is not None and not re.fullmatch(r"[A-Za-z0-9_-]{8,64}", call.key):
        raise Misused("An idempotency key is 8 to 64 letters, digits, - or _.")
    return call.key or new_idempotency_key()


def _checked_address(base_url: str) -> str:
    try:
        url = httpx.URL(base_url)
    except httpx.InvalidURL as error:
        raise ValueError(f"{base_url} is no address: {error}") from None
    if url.scheme not in {"http", "https"} or not url.host or url.userinfo or url.query or url.fragment:
        raise ValueError(f"{base_url} is no address of a service, such as https://pool.example")
    return base_url.rstrip("/")


def _answer(response: httpx.Response) -> Answer:
    return Answer(
        status=response.status_code,
        headers={name.lower(): value for name, value in response.headers.items()},
        content=response.content,
    )


_NEVER_SENT = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)


def _lost(error: httpx.RequestError) -> Lost:
    if isinstance(error, _NEVER_SENT):
        return Lost(sentence=f"The service can't be reached at {error.request.url.netloc.decode()}.", connected=False)
    return Lost(sentence=f"The connection was lost before the answer came ({type(error).__name__}).", connected=True)
