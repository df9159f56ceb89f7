"""Answers that get lost on their way from the real service: whatever was asked for happens once."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import httpx
import pytest
from pool_client import Book, Client
from pool_client.errors import Unreachable
from pool_client.models.directory import Role
from pool_client.models.entries import Command, Draw, Purchase

from tests.served import POOL, Served

DAY = date(2026, 9, 2)
BOUGHT = Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00"))


class Losing(httpx.BaseTransport):
    """Takes requests to a service, and loses some of its first answers after it has done what it was asked."""

    def __init__(self, http: httpx.Client, losses: int) -> None:
        self._http = http
        self.losses = losses

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        request.read()
        answer = self._http.send(request)
        if self.losses:
            self.losses -= 1
            raise httpx.ReadError("the line broke", request=request)
        return httpx.Response(answer.status_code, headers=answer.headers, content=answer.content)


def losing(service: Served, losses: int) -> Book:
    http = httpx.Client(transport=Losing(service.http, losses))
    return Client(service.address, service.keys["keeper"], http=http, sleep=lambda _: None).book(POOL)


def test_an_entry_is_recorded_once(service: Served) -> None:
    entry = losing(service, 3).record(BOUGHT, effective_on=DAY)

    assert (1, BOUGHT) == (entry.number, entry.body)
    assert [entry] == list(service.book().entries())


def test_a_batch_is_recorded_once(service: Served) -> None:
    commands = [Command(body=body, effective_on=DAY) for body in (BOUGHT, Draw(member="BIRCH", quantity=40))]
    recorded = losing(service, 2).record_all(commands)

    assert [1, 2] == [entry.number for entry in recorded]
    assert list(recorded) == list(service.book().entries())[::-1]


def test_what_ran_out_of_patience_can_be_repeated_under_its_key(service: Served) -> None:
    with pytest.raises(Unreachable) as gave_up:
        losing(service, 10).record(BOUGHT, effective_on=DAY)
    again = service.book().record(BOUGHT, effective_on=DAY, idempotency_key=gave_up.value.idempotency_key)

    assert [again] == list(service.book().entries())


def test_a_key_is_made_once_and_its_text_is_lost_with_the_first_answer(service: Served) -> None:
    before = len(list(service.book().keys()))
    made = losing(service, 1).make_key(name="counter", role=Role.READER)

    assert (None, before + 1) == (made.secret, len(list(service.book().keys())))


@pytest.mark.parametrize(
    "ask",
    [
        lambda book, _key_id: book.positions(),
        lambda book, _key_id: list(book.entries()),
        lambda book, key_id: book.end_key(key_id=key_id),
    ],
    ids=["positions", "entries", "end-key"],
)
def test_what_does_nothing_twice_is_asked_again(service: Served, ask: Callable[[Book, str], object]) -> None:
    keeper = service.client("operator").book(POOL).make_key(name="other", role=Role.KEEPER).secret
    service.keys["keeper"] = keeper or ""

    ask(losing(service, 1), next(service.book().keys()).key_id)
