"""When a call is tried again, under which key, and after how long."""

import asyncio

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pool_client.attempts import _DID_NOTHING, Patience
from pool_client.errors import Busy, Misused, PoolError, ServerFault, Unreachable
from pool_client.models.directory import Member

from pool_api.rest.problem_types import BY_CODE
from tests.clients.samples import DAY
from tests.clients.scripted import (
    API_KEY,
    DRAW,
    Outcome,
    answer,
    is_recorded,
    problem,
    recorded,
    scripted,
    scripted_async,
)

BIRCH = Member(code="BIRCH", name="Birch Workshop", joined_on=DAY)
BUSY: dict[str, Outcome] = {
    "unconnected": httpx.ConnectError,
    "unconnected in time": httpx.ConnectTimeout,
    "store-busy": problem(503, "store-busy"),
    "not-ready": problem(503, "not-ready"),
    "rate-limited": problem(429, "rate-limited"),
}
IN_DOUBT: dict[str, Outcome] = {
    "cut off": httpx.ReadError,
    "no answer in time": httpx.ReadTimeout,
    "half an answer": httpx.RemoteProtocolError,
    "store-unavailable": problem(503, "store-unavailable"),
    "a gateway's": httpx.Response(503, html="<h1>Unavailable</h1>"),
}
FINAL: dict[str, Outcome] = {
    "not-enough-held": problem(409, "not-enough-held"),
    "same-member": problem(422, "same-member"),
    "preview-stale": problem(412, "preview-stale"),
    "not-found": problem(404, "not-found"),
    "key-ended": problem(401, "key-ended"),
    "malformed-json": problem(400, "malformed-json"),
    "server-fault": problem(500, "server-fault"),
    "moved": httpx.Response(307, headers={"Location": "https://elsewhere.test"}),
}


@pytest.mark.parametrize("outcome", [*BUSY.values(), *IN_DOUBT.values()], ids=[*BUSY, *IN_DOUBT])
def test_recording_is_repeated_under_its_one_key(outcome: Outcome) -> None:
    book, script = scripted(outcome, outcome, recorded())

    assert is_recorded(book.record(DRAW))
    assert 3 == len(script.requests)
    assert 1 == len(set(script.keys))


def test_every_recording_has_a_key_of_its_own() -> None:
    book, script = scripted(recorded(), recorded())
    book.record(DRAW)
    book.record(DRAW)

    assert 2 == len(set(script.keys) - {None})


def test_a_key_that_is_given_is_kept() -> None:
    book, script = scripted(httpx.ReadError, recorded())
    book.record(DRAW, idempotency_key="of-last-friday")

    assert ["of-last-friday"] * 2 == script.keys


@pytest.mark.parametrize("key", ["", "short", "with blank", "ümlaut-key", "k" * 65])
def test_a_key_of_another_form_is_never_sent(key: str) -> None:
    book, script = scripted()

    with pytest.raises(Misused, match="8 to 64 letters"):
        book.record(DRAW, idempotency_key=key)
    assert [] == script.requests


@pytest.mark.parametrize("outcome", FINAL.values(), ids=FINAL)
def test_what_will_not_change_is_not_asked_again(outcome: Outcome) -> None:
    book, script = scripted(outcome)

    with pytest.raises(PoolError) as refused:
        book.record(DRAW)
    assert [refused.value.idempotency_key] == script.keys


@pytest.mark.parametrize("outcome", BUSY.values(), ids=BUSY)
def test_a_change_is_repeated_where_nothing_happened(outcome: Outcome) -> None:
    member = {"code": "BIRCH", "name": "Birch Workshop", "joined_on": "2026-11-03"}
    book, script = scripted(outcome, answer(member, ETag='"1"'))

    assert (BIRCH, '"1"') == ((made := book.put_member(BIRCH)).value, made.tag)
    assert [None, None] == script.keys


@pytest.mark.parametrize("outcome", IN_DOUBT.values(), ids=IN_DOUBT)
def test_a_change_is_not_repeated_where_it_may_have_happened(outcome: Outcome) -> None:
    book, script = scripted(outcome)

    with pytest.raises((Busy, Unreachable)):
        book.put_member(BIRCH, tag='"1"')
    assert ['"1"'] == [request.headers["If-Match"] for request in script.requests]


@pytest.mark.parametrize("outcome", IN_DOUBT.values(), ids=IN_DOUBT)
def test_reading_and_ending_a_key_are_repeated(outcome: Outcome) -> None:
    book, script = scripted(outcome, answer({"items": []}), outcome, httpx.Response(204))

    assert () == book.months()
    book.end_key(key_id="4f0c8e12ab34")
    assert 4 == len(script.requests)


def test_patience_ends_with_the_last_error_and_the_key_to_repeat_with() -> None:
    book, script = scripted(*[httpx.ReadTimeout] * 3, problem(503, "store-busy"))

    with pytest.raises(Busy) as gave_up:
        book.record(DRAW)
    assert [gave_up.value.idempotency_key] * 4 == script.keys
    assert [1.0, 2.0, 4.0] == script.pauses


def test_a_pause_that_is_asked_for_is_kept() -> None:
    book, script = scripted(problem(429, "rate-limited", {"Retry-After": "7"}), recorded())
    book.record(DRAW)

    assert [8.0] == script.pauses


def test_a_pause_beyond_all_patience_ends_the_call_at_once() -> None:
    book, script = scripted(problem(503, "store-unfit", {"Retry-After": "60"}))

    with pytest.raises(Busy) as gave_up:
        book.record(DRAW)
    assert (60.0, 1, []) == (gave_up.value.retry_after_s, len(script.requests), script.pauses)


@given(tried=st.integers(1, 40), asked_s=st.none() | st.integers(0, 8), draw=st.floats(0, 1, exclude_max=True))
def test_a_pause_is_as_long_as_asked_and_little_longer(tried: int, asked_s: int | None, draw: float) -> None:
    pause_s = Patience(tries=50, draw=lambda: draw).pause_s(tried, asked_s)

    assert pause_s is not None
    assert 0 <= pause_s - (asked_s or 0) <= min(0.25 * 2 ** (tried - 1), 8.0) + 1e-9


def test_pauses_of_many_clients_differ() -> None:
    assert 1 < len({Patience().pause_s(3, None) for _ in range(8)})


@pytest.mark.parametrize("content", [b"<h1>Welcome</h1>", b"[]", b'{"number": "2"}', b"\xff", b"[" * 100_000])
def test_an_answer_that_cannot_be_read_is_a_fault_of_the_service(content: bytes) -> None:
    book, script = scripted(httpx.Response(201, content=content))

    with pytest.raises(ServerFault, match="can't be read") as fault:
        book.record(DRAW)
    assert [fault.value.idempotency_key] == script.keys


def test_something_changeable_without_its_tag_is_a_fault_of_the_service() -> None:
    book, _ = scripted(answer({"code": "BIRCH", "name": "Birch Workshop", "joined_on": "2026-11-03"}))

    with pytest.raises(ServerFault, match="ETag is missing"):
        book.member(code="BIRCH")


def test_codes_that_say_that_nothing_happened_are_the_service_s_own() -> None:
    assert {429, 503} == {BY_CODE[code].status for code in _DID_NOTHING}


def test_awaited_calls_are_tried_in_the_same_way() -> None:
    book, script = scripted_async(httpx.ConnectError, problem(429, "rate-limited", {"Retry-After": "7"}), recorded())

    assert is_recorded(asyncio.run(book.record(DRAW)))
    assert 1 == len(set(script.keys))
    assert [1.0, 9.0] == script.pauses


def test_awaited_calls_end_in_the_same_errors() -> None:
    book, script = scripted_async(httpx.ReadError, problem(409, "not-enough-held"))

    with pytest.raises(PoolError, match="It is not-enough-held"):
        asyncio.run(book.record(DRAW))
    assert 2 == len(script.requests)


def test_no_error_tells_the_api_key() -> None:
    for outcome in (*BUSY.values(), *IN_DOUBT.values(), *FINAL.values()):
        book, _ = scripted(*[outcome] * 4)
        with pytest.raises(PoolError) as error:
            book.record(DRAW)
        told = (
            f"{error.value!r} {error.value} {vars(error.value)} {error.value.__cause__!r} {error.value.__context__!r}"
        )
        assert API_KEY not in told
