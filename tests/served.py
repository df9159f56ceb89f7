"""The real service in process, on a database of the test's own: its clock stands still and its identifiers count.

Requests go through the same app as in production, on an event loop in a thread of its own; nothing is patched. An app
serves one test after the other, each with an office of its own.
"""

import asyncio
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import count
from typing import Any

import httpx
import pyotp
import uvicorn
from fastapi import FastAPI
from pool_client import Book, Client
from pool_client.models.directory import Handle, Member, Policy, Pool, Role
from pool_web.beside import Beside

from pool_api.rest.compose import Variables, open_office, serving_app
from pool_api.rest.rates import Rate
from pool_api.services.keys import make_first_key
from pool_api.services.office import Office
from pool_api.settings import Settings

FIRST_DAY = date(2026, 9, 1)
NOON = datetime(2026, 11, 10, 12, tzinfo=UTC)
POOL = "riverside"
SHOPS = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD")
DEADLOCK_S = 300
"""No request takes that long, however busy the machine; one that never ends is to fail."""

CHEAP: dict[str, Any] = {"password_memory_kib": 8, "password_rounds": 1}
"""Passwords that are hashed fast, which nothing but a test may do."""

PASSWORD = "four words in a row"

UNLIMITED = Rate(burst=1_000_000, per_second=1_000_000)


@dataclass
class Clock:
    """A clock that moves when it is told to."""

    at: datetime = NOON
    latest_ns: int = 1

    def now(self) -> datetime:
        return self.at

    def monotonic_ns(self) -> int:
        """Give the same clock for what only counts on: it stands still where the other is set back."""
        self.latest_ns = max(self.latest_ns, 1 + (self.at - NOON) // timedelta(microseconds=1) * 1_000)
        return self.latest_ns

    def pass_days(self, days: int) -> None:
        self.at += timedelta(days=days)

    def pass_seconds(self, seconds: int) -> None:
        self.at += timedelta(seconds=seconds)


class InProcess(httpx.BaseTransport):
    """Takes requests to an app on an event loop in another thread, and waits for the answers."""

    def __init__(self, app: FastAPI) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._asgi = httpx.ASGITransport(app, raise_app_exceptions=False)
        self._life = app.router.lifespan_context(app)
        self._do(self._life.__aenter__())

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        content = request.read()
        copy = httpx.Request(request.method, request.url, headers=request.headers, content=content)
        answer: httpx.Response = self._do(self._answer(copy))
        return answer

    async def _answer(self, request: httpx.Request) -> httpx.Response:
        answer = await self._asgi.handle_async_request(request)
        sent = b"".join([part async for part in answer.aiter_raw()])
        return httpx.Response(answer.status_code, headers=answer.headers, stream=httpx.ByteStream(sent))

    def _do(self, work: Any) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(DEADLOCK_S)

    def close(self) -> None:
        self._do(self._life.__aexit__(None, None, None))
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()


@dataclass
class Served:
    """A running service with one pool, and a key of every role. identifiers are those to come of the service's own,
    numbers those of requests."""

    clock: Clock
    http: httpx.Client
    office: Office
    address: str = "http://service.test"
    keys: dict[str, str] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=lambda: count(1))
    identifiers: Iterator[int] = field(default_factory=lambda: count(1))

    def client(self, key: str | None = "keeper") -> Client:
        """Give a client for one of the keys by its name, or for somebody who has none."""
        return Client(self.address, None if key is None else self.keys[key], http=self.http)

    def book(self, key: str = "keeper", pool: str = POOL) -> Book:
        """Give the book of a pool."""
        return self.client(key).book(pool)

    def send(
        self,
        method: str,
        path: str,
        body: Any = None,
        *,
        key: str | None = "keeper",
        idempotency_key: str | None = "",
        **headers: str,
    ) -> httpx.Response:
        """Send a raw request below the pool; a POST gets a new idempotency key unless it is given or None."""
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        if key is not None:
            given["Authorization"] = f"Bearer {self.keys.get(key, key)}"
        if method == "POST" and idempotency_key is not None:
            given["Idempotency-Key"] = idempotency_key or f"test-key-{next(self.numbers):06d}"
        address = path if path.startswith("/v1") else f"/v1/pools/{POOL}{path}"
        return self.http.request(method, address, json=body, headers=given)


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """What is known of a database on which a service was set up before: its keys, and how many identifiers it made."""

    keys: dict[str, str]
    made: int


def prepare(database_url: str) -> Prepared:
    """Set a pool up on a migrated database."""
    with serving(database_url) as served:
        set_up(served)
        return Prepared(keys=dict(served.keys), made=next(served.identifiers) - 1)


@contextmanager
def serving(database_url: str, prepared: Prepared | None = None) -> Iterator[Served]:
    """Serve a migrated database: without any pool, the only key being the operator's, unless it is a prepared one."""
    clock, numbers = Clock(), count(1 + (prepared.made if prepared else 0))
    variables = Variables(now=clock.now, random_hex=lambda size: f"{next(numbers):0{2 * size}x}")
    settings = Settings(database_url=database_url, docs=False, **CHEAP)
    office = open_office(settings, variables)
    keys = dict(prepared.keys) if prepared else {"operator": make_first_key(office, name="test operator") or ""}
    with (
        _lent_app(settings, office, clock) as app,
        httpx.Client(transport=InProcess(app), base_url="http://service.test") as http,
    ):
        yield Served(clock=clock, http=http, office=office, keys=keys, identifiers=numbers)


@dataclass
class _Watch:
    """What only counts on, in an app that is lent to one test after another, each with a clock of its own."""

    clock: Clock
    before_ns: int = 0

    def monotonic_ns(self) -> int:
        return self.before_ns + self.clock.monotonic_ns()

    def lend(self, clock: Clock) -> None:
        self.clock, self.before_ns = clock, self.monotonic_ns()


_IDLE: list[tuple[FastAPI, _Watch]] = []
"""Apps of tests that have ended: making one takes several times as long as all else that a test needs."""


@contextmanager
def _lent_app(settings: Settings, office: Office, clock: Clock) -> Iterator[FastAPI]:
    if _IDLE:
        app, watch = _IDLE.pop()
        watch.lend(clock)
    else:
        watch = _Watch(clock)
        app = serving_app(settings, office, rate=UNLIMITED, failures=UNLIMITED, monotonic_ns=watch.monotonic_ns)
    app.state.office = office
    yield app
    _IDLE.append((app, watch))


@contextmanager
def listening(database_url: str, *, pages: bool = False) -> Iterator[Served]:
    """Serve a migrated database without any pool on a port of its own, however fast requests come."""
    clock, numbers = Clock(), count(1)
    variables = Variables(now=clock.now, random_hex=lambda size: f"{next(numbers):0{2 * size}x}")
    settings = Settings(database_url=database_url, docs=False, **CHEAP)
    office = open_office(settings, variables)
    first_key = make_first_key(office, name="test operator") or ""
    with _lent_app(settings, office, clock) as app, socket.create_server(("127.0.0.1", 0)) as listener:
        front = Beside(app, clock.now) if pages else app
        server = uvicorn.Server(uvicorn.Config(front, http="httptools", log_level="warning"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        address = f"http://127.0.0.1:{listener.getsockname()[1]}"
        with httpx.Client(base_url=address) as http:
            yield Served(clock=clock, http=http, office=office, address=address, keys={"operator": first_key})
        server.should_exit = True
        thread.join()


def join(
    served: Served, name: str, key: str, *, role: Role = Role.KEEPER, member: str | None = None, pool: str = POOL
) -> str:
    """Let somebody new join a pool, keep the token of the session under a key's name, and give the person's id."""
    token = served.book("operator", pool).invite(role=role, member=member).token or ""
    made = served.client(None).accept_invitation(token=token, name=name, password=PASSWORD)
    served.keys[key] = made.token or ""
    return made.person.person


def second_factor(served: Served, key: str) -> str:
    """Give somebody who is signed in a second factor, and its secret to make codes of."""
    client = served.client(key)
    secret = client.begin_second_factor().secret
    client.confirm_second_factor(code=code_of(served, secret))
    return secret


def code_of(served: Served, secret: str, *, later: int = 0) -> str:
    """Give the code that an app shows now, or some half minutes later or earlier."""
    return pyotp.TOTP(secret).at(served.clock.at, counter_offset=later)


def set_up(served: Served, pool: str = POOL, policy: Policy | None = None, prefix: str = "") -> None:
    """Make a pool with four shops, and a key of every role; keys of a second pool get a prefix."""
    terms = Pool(
        id=pool,
        name="Riverside",
        vendor="Norvane Tuning Systems",
        currency="EUR",
        time_zone="Europe/Vienna",
        began_on=FIRST_DAY,
        policy=policy or Policy(),
    )
    operator = served.client("operator")
    operator.put_pool(terms)
    keeper = operator.book(pool).make_key(name="the book", role=Role.KEEPER)
    served.keys[f"{prefix}keeper"] = keeper.secret or ""
    book = served.book(f"{prefix}keeper", pool)
    for shop in SHOPS:
        handle = Handle(handle=f"nv-{shop.lower()}", since=FIRST_DAY)
        book.put_member(Member(code=shop, name=f"{shop.title()} Workshop", joined_on=FIRST_DAY, handles=(handle,)))
    served.keys[f"{prefix}clerk"] = book.make_key(name="counter", role=Role.CLERK, member="ALDER").secret or ""
    served.keys[f"{prefix}reader"] = book.make_key(name="accountant", role=Role.READER).secret or ""
