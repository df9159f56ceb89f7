"""Who calls: which headers are looked up at all, how failures are counted, what reaches the log."""

import asyncio
import logging

import pytest

from pool_api.domain.access import Caller
from pool_api.domain.keys import key_digest
from pool_api.rest.auth import Doorkeeper
from pool_api.rest.errors import RateLimited, RequestError, Unauthenticated
from pool_api.rest.rates import Buckets, Rate
from tests.rest.asgi import BY_DIGEST, CALLERS, KEEPER, UNKNOWN

SECOND = 1_000_000_000


class Door:
    """A doorkeeper that lets three failures pass, and what it looked up."""

    def __init__(self) -> None:
        self.now = SECOND
        self.looked_up: list[str] = []
        self.there = dict(BY_DIGEST)
        self.keeper = Doorkeeper(self._find, Buckets(Rate(burst=3, per_second=1), lambda: self.now))

    async def _find(self, digest: str) -> Caller | None:
        self.looked_up.append(digest)
        return self.there.get(digest)

    def ask(self, authorization: str | None, peer: str = "192.0.2.1") -> Caller | type[RequestError]:
        try:
            return asyncio.run(self.keeper.caller(authorization, peer))
        except RequestError as error:
            return type(error)


def test_a_key_is_looked_up_by_its_digest_only() -> None:
    door = Door()

    assert CALLERS[KEEPER] == door.ask(f"Bearer {KEEPER}")
    assert door.looked_up == [key_digest(KEEPER)]


@pytest.mark.parametrize("form", ["bearer {}", "BEARER {}", "Bearer   {}", "Bearer {} "])
def test_the_scheme_is_read_in_any_case(form: str) -> None:
    assert CALLERS[KEEPER] == Door().ask(form.format(KEEPER))


@pytest.mark.parametrize(
    "authorization",
    [
        None,
        "",
        "Bearer",
        "Bearer ",
        KEEPER,
        f"Basic {KEEPER}",
        f"Bearer {KEEPER}x",
        f"Bearer {KEEPER[:-1]}",
        f"Bearer {KEEPER}, Bearer {KEEPER}",
        f"Bearer {KEEPER.upper()}",
        "Bearer ' OR 1=1 --",
        "Bearer \xff\xfe",
    ],
)
def test_what_is_no_key_is_never_looked_up(authorization: str | None) -> None:
    door = Door()

    assert door.ask(authorization) is Unauthenticated
    assert door.looked_up == []


def test_an_unknown_key_is_refused_in_the_words_of_an_ended_one() -> None:
    door = Door()
    with pytest.raises(Unauthenticated) as unknown:
        asyncio.run(door.keeper.caller(f"Bearer {UNKNOWN}", "192.0.2.1"))
    del door.there[key_digest(KEEPER)]
    with pytest.raises(Unauthenticated) as ended:
        asyncio.run(door.keeper.caller(f"Bearer {KEEPER}", "192.0.2.1"))

    assert unknown.value.fields() == ended.value.fields()


def test_a_key_that_ends_is_refused_at_the_next_request() -> None:
    door = Door()
    door.ask(f"Bearer {KEEPER}")
    del door.there[key_digest(KEEPER)]

    assert door.ask(f"Bearer {KEEPER}") is Unauthenticated


def test_too_many_failures_are_told_to_wait_and_not_looked_up_any_more() -> None:
    door = Door()
    answers = [door.ask(f"Bearer {UNKNOWN}") for _ in range(6)]

    assert answers == [Unauthenticated] * 3 + [RateLimited] * 3
    assert len(door.looked_up) == 3
    door.now += SECOND
    assert door.ask(f"Bearer {UNKNOWN}") is Unauthenticated


def test_the_failures_of_one_peer_do_not_slow_another() -> None:
    door = Door()
    for _ in range(6):
        door.ask(f"Bearer {UNKNOWN}", "192.0.2.66")

    assert door.ask(f"Bearer {UNKNOWN}", "192.0.2.1") is Unauthenticated


def test_a_key_that_worked_before_still_works_from_an_address_that_fails() -> None:
    door = Door()
    door.ask(f"Bearer {KEEPER}")
    for _ in range(6):
        door.ask(f"Bearer {UNKNOWN}")

    assert CALLERS[KEEPER] == door.ask(f"Bearer {KEEPER}")


def test_a_failure_is_logged_with_its_peer_and_without_the_key(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING):
        Door().ask(f"Bearer {UNKNOWN}", "192.0.2.7")
        Door().ask("Bearer nonsense\r\nforged line", "192.0.2.7")

    assert [record.getMessage() for record in caplog.records] == [
        "authentication failed: peer 192.0.2.7, this one is unknown or has ended",
        "authentication failed: peer 192.0.2.7, the header Authorization holds none",
    ]
