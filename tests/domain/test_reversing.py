"""Reversals of an earlier month's entry: what the policy of each month makes of them. Own rules and own cases."""

from collections.abc import Mapping
from datetime import date

import pytest

from pool_api.domain.book import Book
from pool_api.domain.entries import Body, Close, Command, Draw, Entry, Loan, Purchase, Return, Reversal
from pool_api.domain.errors import StockCostImpossible
from pool_api.domain.journal import Desk
from pool_api.domain.pool import LoansAtClose, Member, Policy, Pool, StockCosting
from pool_api.domain.values import STOCK, Currency, Month
from tests.domain.journals import numbered

SEPTEMBER, OCTOBER, NOVEMBER = Month(2026, 9), Month(2026, 10), Month(2026, 11)
FIFO, MOVING = Policy(stock_costing=StockCosting.FIFO), Policy(stock_costing=StockCosting.MOVING_AVERAGE)
CARRY, SETTLE = Policy(loans_at_close=LoansAtClose.CARRY), Policy()


def desk(entries: tuple[Entry, ...], policies: Mapping[Month, Policy]) -> Desk:
    """Give a desk on 20 November, at which everybody holds enough."""
    terms = Pool(
        id="riverside",
        name="Riverside",
        vendor="Norvane",
        currency=Currency("EUR"),
        time_zone="Europe/Vienna",
        began_on=SEPTEMBER.first,
        policy=policies[SEPTEMBER],
        policies=policies,
    )
    codes = ("ALDER", "BIRCH", "CEDAR")
    return Desk(
        pool=terms,
        members={code: Member(code=code, name=code, joined_on=terms.began_on) for code in codes},
        book=Book(number=len(entries), stock=90, held=dict.fromkeys(codes, 90), open={("ALDER", "BIRCH"): 5}),
        today=date(2026, 11, 20),
        targets={each.number: each for each in entries},
        history=lambda: entries,
    )


def reverse(desk: Desk, entry: int, on: date) -> Body:
    return desk.decide(Command(body=Reversal(entry=entry), effective_on=on, recorded_by="keeper"))


def bought(number: int, amount: int) -> Entry:
    body = Purchase(into=STOCK, paid_by="ALDER", quantity=10, amount=amount)
    return numbered(number, body, date(2026, 9, number))


def drawn(number: int, on: date) -> Entry:
    return numbered(number, Draw(member="BIRCH", quantity=10), on)


class TestStockCost:
    """10 bought for 1.00 and 10 for 1.20, of which 10 are drawn: taking the dear ones back leaves nothing where the
    oldest went first, but no credits at less than nothing where they were mixed."""

    ENTRIES = (bought(1, 100), bought(2, 120), drawn(3, date(2026, 9, 3)))

    def test_each_month_counts_under_its_own_policy(self) -> None:
        agreed = {SEPTEMBER: FIFO, OCTOBER: MOVING}

        assert Reversal(entry=2, quantity=10) == reverse(desk(self.ENTRIES, agreed), 2, date(2026, 10, 1))
        with pytest.raises(StockCostImpossible):
            reverse(desk(self.ENTRIES, {SEPTEMBER: MOVING, OCTOBER: FIFO}), 2, date(2026, 10, 1))

    def test_a_closed_month_counts_under_the_policy_that_its_close_froze(self) -> None:
        sheet = {"policy": FIFO.as_json(), "loans_settled": []}
        close = Close(month="2026-09", computed_at=3, digest="", sheet=sheet, settlement={"payments": []})
        entries = (*self.ENTRIES, numbered(4, close, SEPTEMBER.last))

        assert Reversal(entry=2, quantity=10) == reverse(desk(entries, {SEPTEMBER: MOVING}), 2, date(2026, 10, 1))

    def test_nothing_is_refused_for_what_is_impossible_without_it(self) -> None:
        """The dear ones were taken back, then a draw was recorded late; what was drawn first can still come back."""
        entries = (
            bought(1, 100),
            bought(2, 120),
            bought(3, 0),
            drawn(4, date(2026, 9, 4)),
            numbered(5, Reversal(entry=2, quantity=10), date(2026, 10, 5)),
            drawn(6, date(2026, 10, 1)),
        )
        counter = desk(entries, {SEPTEMBER: MOVING})

        assert Reversal(entry=4, quantity=10) == reverse(counter, 4, date(2026, 10, 6))
        with pytest.raises(StockCostImpossible):
            reverse(counter, 1, date(2026, 10, 6))


class TestLoans:
    """A loan or return of September, reversed in November."""

    @pytest.mark.parametrize("kind", [Loan, Return])
    @pytest.mark.parametrize(
        ("agreed", "still_open"),
        [
            ({SEPTEMBER: CARRY}, True),
            ({SEPTEMBER: CARRY, NOVEMBER: SETTLE}, True),
            ({SEPTEMBER: CARRY, OCTOBER: SETTLE, NOVEMBER: CARRY}, False),
            ({SEPTEMBER: SETTLE, OCTOBER: CARRY}, False),
            ({SEPTEMBER: SETTLE}, False),
        ],
    )
    def test_it_is_still_open_if_every_close_between_carries_it_on(
        self, kind: type[Loan | Return], agreed: dict[Month, Policy], still_open: bool
    ) -> None:
        """However much of it is open: what goes beyond that is open the other way."""
        entry = numbered(1, kind(lender="ALDER", borrower="BIRCH", quantity=8), date(2026, 9, 2))
        found = reverse(desk((entry,), agreed), 1, date(2026, 11, 3))

        assert Reversal(entry=1, quantity=8, still_open=still_open) == found

    def test_one_with_an_agreed_price_never_was_open(self) -> None:
        agreed = Loan(lender="ALDER", borrower="BIRCH", quantity=8, unit_price="7")
        entry = numbered(1, agreed, date(2026, 9, 2))

        assert Reversal(entry=1, quantity=8) == reverse(desk((entry,), {SEPTEMBER: CARRY}), 1, date(2026, 11, 3))
