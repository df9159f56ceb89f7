"""What the keeper's report of a month shows in plots: what credits cost by month and member, how much was in stock day
by day, and who lends and who borrows.

Plain facts and how they follow from sheets and entries; how they are drawn stands elsewhere. Credits are whole credits,
amounts minor units, unit costs exact fractions of minor units per credit.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import NamedTuple

from pool_api.domain.book import held_change
from pool_api.domain.entries import Loan, Return, Reversal
from pool_api.domain.layers import Costed
from pool_api.domain.pool import Pool
from pool_api.domain.reversals import Fact
from pool_api.domain.sheets import Lending, OpenLoan, Sheet
from pool_api.reports.cautions import STATEMENT

MOST_MONTHS = 12
"""How many months are compared at the most, the one reported included."""


class MemberCost(NamedTuple):
    """What a member had available in a month, and its blended unit cost."""

    member: str
    available: Costed
    unit_cost: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCosts:
    """What credits cost in one month: the pool price, None without any, and members in order of code, those that had
    credits."""

    month: str
    price: Fraction | None
    members: tuple[MemberCost, ...]


class StockLevel(NamedTuple):
    """The credits in stock at the end of a day."""

    on: date
    credits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """What a lender lent a borrower in a month and got back; the loans that the month settles in money, with their
    amount, and those that stay open after it."""

    lender: str
    borrower: str
    lent: int
    returned: int
    settled: int
    amount: int
    open: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OverviewFacts:
    """What the overview of a month is made from.

    sheets are the months' up to this one, in order; entries are the month's; targets is what their reversals
    reverse; stock_before is the stock when the month began; number and hash name the entry of the journal that all of
    it rests on; remarks are what has to be said of the month besides."""

    pool: Pool
    sheets: Sequence[Sheet]
    entries: Sequence[Fact]
    targets: Mapping[int, Fact]
    stock_before: int
    today: date
    closed: bool
    number: int
    hash: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """What the report shows: costs first month first; stock_before when the month began, stock day by day; pairs in
    order of lender and borrower."""

    pool: Pool
    sheet: Sheet
    closed: bool
    number: int
    hash: str
    costs: tuple[MonthCosts, ...]
    stock_before: int
    stock: tuple[StockLevel, ...]
    pairs: tuple[Pair, ...]
    cautions: tuple[str, ...]

    @property
    def month(self) -> str:
        """The month reported."""
        return str(self.sheet.month)

    def balances(self) -> dict[str, tuple[int, int]]:
        """Give what each member lent and what it borrowed, less returns, of those who did either, in order of code."""
        found: dict[str, tuple[int, int]] = {}
        for pair in self.pairs:
            kept = pair.lent - pair.returned
            lent, borrowed = found.get(pair.lender, (0, 0))
            found[pair.lender] = (lent + kept, borrowed)
            lent, borrowed = found.get(pair.borrower, (0, 0))
            found[pair.borrower] = (lent, borrowed + kept)
        return dict(sorted(found.items()))


def overview(facts: OverviewFacts) -> Overview:
    """Make the overview of the month of the last sheet."""
    return Overview(
        pool=facts.pool,
        sheet=facts.sheets[-1],
        closed=facts.closed,
        number=facts.number,
        hash=facts.hash,
        costs=tuple(_costs(sheet) for sheet in facts.sheets[-MOST_MONTHS:]),
        stock_before=facts.stock_before,
        stock=tuple(_stock(facts)),
        pairs=tuple(_pairs(facts)),
        cautions=(*facts.remarks, *STATEMENT),
    )


def _costs(sheet: Sheet) -> MonthCosts:
    return MonthCosts(
        month=str(sheet.month),
        price=sheet.price,
        members=tuple(
            MemberCost(each.member, each.available, each.unit_cost)
            for each in sheet.members
            if each.unit_cost is not None
        ),
    )


def _stock(facts: OverviewFacts) -> list[StockLevel]:
    """Give the levels from the month's first day to its last; of the present month to today or the last entry's day."""
    month = facts.sheets[-1].month
    until = min(month.last, max([facts.today, month.first, *(entry.effective_on for entry in facts.entries)]))
    changes: dict[date, int] = defaultdict(int)
    for entry in facts.entries:
        changes[entry.effective_on] += held_change(None, entry, _target(entry, facts))
    found, level, day = [], facts.stock_before, month.first
    while day <= until:
        level += changes[day]
        found.append(StockLevel(day, level))
        day += timedelta(days=1)
    return found


def _pairs(facts: OverviewFacts) -> list[Pair]:
    """Give who lent whom how much. A reversal takes back what it reverses; that of an earlier month's loan counts as
    credits returned, that of an earlier month's return as credits lent."""
    moved: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0, 0, 0, 0])
    for entry in facts.entries:
        target = _target(entry, facts)
        body = entry.body if target is None else target.body
        if isinstance(body, Loan | Return):
            _count(moved[body.lender, body.borrower], entry, body, target)
    sheet = facts.sheets[-1]
    settled: list[Lending | OpenLoan] = [*sheet.loans_settled, *sheet.loans_agreed, *sheet.carried_settled]
    for each in settled:
        counts = moved[each.lender, each.borrower]
        counts[2] += each.quantity
        counts[3] += (each.amount if isinstance(each, Lending) else each.value) or 0
    for loan in sheet.open_loans:
        moved[loan.lender, loan.borrower][4] += loan.quantity
    return [
        Pair(lender=lender, borrower=borrower, lent=lent, returned=back, settled=paid, amount=amount, open=left)
        for (lender, borrower), (lent, back, paid, amount, left) in sorted(moved.items())
        if lent or back or paid or left
    ]


def _count(counts: list[int], entry: Fact, body: Loan | Return, target: Fact | None) -> None:
    lent, returned = (0, 1) if isinstance(body, Loan) else (1, 0)
    if target is None:
        counts[lent] += body.quantity
    elif (target.effective_on.year, target.effective_on.month) == (entry.effective_on.year, entry.effective_on.month):
        counts[lent] -= _reversed(entry)
    else:
        counts[returned] += _reversed(entry)


def _reversed(entry: Fact) -> int:
    return (entry.body.quantity or 0) if isinstance(entry.body, Reversal) else 0


def _target(entry: Fact, facts: OverviewFacts) -> Fact | None:
    return facts.targets[entry.body.entry] if isinstance(entry.body, Reversal) else None
