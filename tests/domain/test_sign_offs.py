"""Whether a month's reconciliation may be signed off, and that this does nothing to the book. Own rules."""

from dataclasses import replace
from datetime import date

import pytest

from pool_api.domain import errors
from pool_api.domain.book import Book
from pool_api.domain.entries import Body, Command, SignOff
from pool_api.domain.hashing import GENESIS, chained
from pool_api.domain.journal import IRREVERSIBLE, Desk
from pool_api.domain.pool import Pool
from pool_api.domain.values import Currency, Month

SIGN_OFF = SignOff(
    month="2026-10",
    digest="d" * 64,
    accounts=(),
    matched=1,
    suggested=0,
    open=0,
    broken=0,
    dismissed=0,
    accepted_open=False,
)
POOL = Pool(
    id="riverside",
    name="Riverside",
    vendor="Norvane Tuning Systems",
    currency=Currency("EUR"),
    time_zone="Europe/Vienna",
    began_on=date(2026, 9, 1),
)


def decide(body: Body, closed_through: Month | None = None) -> Body:
    desk = Desk(
        pool=POOL,
        members={},
        book=Book(first_month=Month(2026, 9), closed_through=closed_through),
        today=date(2026, 11, 10),
        targets={},
        history=tuple,
    )
    return desk.decide(Command(body=body, effective_on=date(2026, 10, 31), recorded_by="keeper/-/0a"))


@pytest.mark.parametrize("closed_through", [None, Month(2026, 9), Month(2026, 10)])
def test_a_month_that_is_over_is_signed_off_whether_it_is_closed_or_not(closed_through: Month | None) -> None:
    assert SIGN_OFF == decide(SIGN_OFF, closed_through)


def test_a_month_that_goes_on_is_not_signed_off() -> None:
    with pytest.raises(errors.MonthNotReached) as refused:
        decide(replace(SIGN_OFF, month="2026-11"))

    assert {"month": "2026-11", "from_day": "2026-12-01"} == refused.value.fields()


def test_a_month_before_the_pool_began_is_not_signed_off() -> None:
    with pytest.raises(errors.BeforePoolBegan):
        decide(replace(SIGN_OFF, month="2026-08"))


def test_it_leaves_the_book_as_it_is_but_for_its_number() -> None:
    book = Book(stock=7, held={"ALDER": 3}, open={("ALDER", "BIRCH"): 2}, closed_through=Month(2026, 9))
    entry = chained(
        "riverside",
        1,
        GENESIS,
        Command(body=SIGN_OFF, effective_on=date(2026, 10, 31), recorded_by="keeper/-/0a"),
        "2026-11-10T12:00:00.000000Z",
    )
    before = book.copy()

    book.apply(entry)

    before.number, before.hash = 1, entry.hash
    assert before == book
    assert "sign_off" in IRREVERSIBLE
