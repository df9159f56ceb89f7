"""A holder's month as double entry: which accounts each entry, and the month's end, debits and credits.

A holder is a member, or the stock, whose book is that of the pool: what it holds against what it owes the members.
Promises: every transaction's debits equal its credits; over the months the account of the credits has the cost of the
holder's closing credits, that of the pool the due that remains, and the lending account the lending gains, to the minor
unit. Which figures there are is said in sheets.py; how accounts are called on paper is the holder's own.

Source: double entry, by which the debits and credits of every transaction are equal (L. Pacioli, Summa de arithmetica,
1494, Particularis de computis et scripturis, chapters 14 and 36; from memory). Which roles there are is an own rule.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from functools import singledispatch
from typing import NamedTuple

from pool_api.domain.entries import (
    Body,
    Charge,
    Direction,
    Draw,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Return,
    Reversal,
    Use,
    WriteOff,
)
from pool_api.domain.reversals import Fact, Part, Standing, split
from pool_api.domain.sheets import OpenLoan, Sheet
from pool_api.domain.values import STOCK


class Role(StrEnum):
    """What an account is for."""

    CREDITS = "credits"
    """credits on hand at cost: the holder's own, with what it has lent and without what it has borrowed"""
    POOL = "pool"
    """due from the pool's members (debit) or to them (credit), as far as no settlement has turned it into payments"""
    SETTLEMENT = "settlement"
    """payments that settlements ask for: to expect (debit) or to make (credit)"""
    LOANS = "loans"
    """loans that are carried on, at the value of their credits: of credits lent (debit) or borrowed (credit)"""
    BANK = "bank"
    """money that came in or went out, in whatever way"""
    OPENING = "opening"
    """what the books had before the pool's"""
    USED = "used"
    """cost of credits used on jobs"""
    WRITTEN_OFF = "written_off"
    """cost of own credits written off"""
    STOCK_LOSS = "stock_loss"
    """the holder's share of stock written off"""
    PASSED_ON = "passed_on"
    """cost of credits that went outside the pool"""
    PROCEEDS = "proceeds"
    """what those brought"""
    LENDING = "lending"
    """lending gains (credit) and losses (debit)"""
    CHARGES = "charges"
    """charges to the holder (debit) and from it (credit), for what the entries say, and by how a saving is shared"""
    DIFFERENCES = "differences"
    """cost that came late for credits that had left before, and what reversals could not take at original amounts"""


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountCodes:
    """How a holder calls its accounts: a code for each role. The usual ones are words, easy to find and replace."""

    credits: str = "CREDITS"
    pool: str = "POOL"
    settlement: str = "SETTLEMENT"
    loans: str = "LOANS"
    bank: str = "BANK"
    opening: str = "OPENING"
    used: str = "USED"
    written_off: str = "WRITTEN-OFF"
    stock_loss: str = "STOCK-LOSS"
    passed_on: str = "PASSED-ON"
    proceeds: str = "PROCEEDS"
    lending: str = "LENDING"
    charges: str = "CHARGES"
    differences: str = "DIFFERENCES"

    def of(self, role: Role) -> str:
        """Give the code of an account by its role."""
        code: str = getattr(self, role.value)
        return code

    def as_json(self) -> dict[str, str]:
        """Give the codes by role: AccountCodes(**c.as_json()) == c."""
        return asdict(self)


class Reason(StrEnum):
    """Why something is booked."""

    ENTRY = "entry"
    """what an entry of the journal says; of an earlier month's, what its reversal takes back"""
    LATE_COST = "late_cost"
    """an earlier month's draw or write-off that waited for credits to cost it"""
    LOANS_SETTLED = "loans_settled"
    """what two members had open at the month's end becomes due"""
    LOANS_CARRIED = "loans_carried"
    """what two members lent on balance is carried on"""
    LOANS_RETURNED = "loans_returned"
    """credits came back of loans carried on"""
    MADE_UP = "made_up"
    """cost of credits that had left before they were there"""
    DIFFERENCE = "difference"
    """what reversals could not take at original cost, or of a loan at its original value"""
    SAVING_SHARED = "saving_shared"
    """the policy shares what ordering together costs otherwise than at one unit price"""
    SETTLEMENT = "settlement"
    """the close turns a net into payments"""


class Posting(NamedTuple):
    """One side of a transaction, in minor units: debit above 0, credit below."""

    role: Role
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Transaction:
    """Something booked. postings add up to 0, each account once and none with 0, debits first; entry is the one that
    the transaction follows from, None at the month's end; other is the other member where loans are settled."""

    on: date
    reason: Reason
    entry: int | None
    other: str | None
    postings: tuple[Posting, ...]


Leg = tuple[Role, Role, int]
"""An amount of minor units from an account that is credited (second) to one that is debited (first)."""


def transactions(
    holder: str, sheet: Sheet, entries: Iterable[Fact], targets: Mapping[int, Fact], nets: Mapping[str, int]
) -> tuple[Transaction, ...]:
    """Book a holder's month.

    Takes:   the sheet and the entries of its month, in any order; targets, the entries that these reverse, by number;
             nets, what the month's close turned into payments, empty while the month is open.
    Gives:   what is to be booked, in the order of (day, entry), the month's end last.
    Refuses: nothing."""
    standing, reversals = split(entries)
    found = [
        *_late(holder, sheet),
        *_of_entries(holder, sheet, standing),
        *_taken_back(holder, sheet, reversals, targets),
    ]
    found.sort(key=lambda each: (each.on, each.entry or 0))
    found += _loans(holder, sheet)
    found += [_loans_left_over(holder, sheet, found), *_at_month_end(holder, sheet, nets.get(holder, 0))]
    return tuple(each for each in found if each.postings)


def _booked(
    on: date, reason: Reason, legs: Iterable[Leg], *, entry: int | None = None, other: str | None = None
) -> Transaction:
    sums: dict[Role, int] = {}
    for debit, credit, amount in legs:
        sums[debit] = sums.get(debit, 0) + amount
        sums[credit] = sums.get(credit, 0) - amount
    sides = sorted((amount < 0, list(Role).index(role), role, amount) for role, amount in sums.items() if amount)
    return Transaction(
        on=on,
        reason=reason,
        entry=entry,
        other=other,
        postings=tuple(Posting(role, amount) for *_, role, amount in sides),
    )


def _of_entries(holder: str, sheet: Sheet, standing: Iterable[Standing]) -> Iterator[Transaction]:
    """Book what stands of the month's own entries. Loans without an agreed price wait for the month's end."""
    agreed = {each.entry: each for each in sheet.loans_agreed}
    for entry, quantity, amount in standing:
        value, cost = amount, sheet.costs.get(entry.number, amount)
        if lending := agreed.get(entry.number):
            value, cost = lending.amount, lending.cost
        elif isinstance(entry.body, Loan | Return):
            continue
        part = Part(quantity, value, cost, sheet.shares.get(entry.number, {}))
        yield _booked(entry.effective_on, Reason.ENTRY, _legs(entry.body, holder, part), entry=entry.number)


def _taken_back(
    holder: str, sheet: Sheet, reversals: Iterable[Fact], targets: Mapping[int, Fact]
) -> Iterator[Transaction]:
    """Book what reversals take back of earlier months' entries: the same accounts, the other way."""
    for reversal in reversals:
        if isinstance(reversal.body, Reversal) and (part := sheet.reversed.get(reversal.number)):
            legs = _legs(targets[reversal.body.entry].body, holder, part)
            legs = _on_loan(legs) if reversal.body.still_open else legs
            back = ((credit, debit, amount) for debit, credit, amount in legs)
            yield _booked(reversal.effective_on, Reason.ENTRY, back, entry=reversal.number)


def _late(holder: str, sheet: Sheet) -> Iterator[Transaction]:
    """Book what draws and stock write-offs of earlier months cost at last."""
    for each in sheet.stock.late:
        part = Part(each.quantity, each.cost, each.cost, sheet.shares.get(each.entry, {}))
        legs = _written_off_stock(holder, part) if each.holder == STOCK else _drawn(each.holder, holder, part)
        yield _booked(sheet.month.first, Reason.LATE_COST, legs, entry=each.entry)


def _at_month_end(holder: str, sheet: Sheet, net: int) -> Iterator[Transaction]:
    """Book what the blending leaves over, how a saving is shared, and the settlement."""
    for own in (each for each in sheet.members if each.member == holder):
        yield _booked(sheet.month.last, Reason.MADE_UP, [(Role.DIFFERENCES, Role.CREDITS, own.made_up.cost)])
        yield _booked(sheet.month.last, Reason.DIFFERENCE, [(Role.CREDITS, Role.DIFFERENCES, own.difference)])
        shared = [(Role.POOL, Role.CHARGES, own.due.saving_shared)]
        yield _booked(sheet.month.last, Reason.SAVING_SHARED, shared)
    yield _booked(sheet.month.last, Reason.SETTLEMENT, [(Role.SETTLEMENT, Role.POOL, net)])


def _loans(holder: str, sheet: Sheet) -> Iterator[Transaction]:
    """Book the loans without an agreed price: what came back of those carried on, what is carried on or due now."""
    passed = (
        (Reason.LOANS_RETURNED, sheet.loans_returned),
        (Reason.LOANS_CARRIED, sheet.loans_carried),
        (Reason.LOANS_SETTLED, sheet.loans_settled),
    )
    for reason, lendings in passed:
        for each in lendings:
            legs = _passed(each.lender, each.borrower, holder, each.amount, each.cost)
            legs = legs if reason is Reason.LOANS_SETTLED else _on_loan(legs)
            yield _booked(sheet.month.last, reason, legs, other=_other(each.lender, each.borrower, holder))
    for loan in sheet.carried_settled:
        due = [(Role.POOL, Role.LOANS, _worth([loan], holder))]
        other = _other(loan.lender, loan.borrower, holder)
        yield _booked(sheet.month.last, Reason.LOANS_SETTLED, due, other=other)


def _loans_left_over(holder: str, sheet: Sheet, booked: Iterable[Transaction]) -> Transaction:
    """Book the value that loans carried on have lost or gained otherwise: a reversal takes its part of the original
    value, of which the loan can have less left."""
    moved = sum(amount for each in booked for role, amount in each.postings if role is Role.LOANS)
    left_over = _worth(sheet.open_loans, holder) - _worth(sheet.opening.loans, holder) - moved
    return _booked(sheet.month.last, Reason.DIFFERENCE, [(Role.LOANS, Role.DIFFERENCES, left_over)])


def _on_loan(legs: Iterable[Leg]) -> Iterator[Leg]:
    """Give the legs of credits passed on, with their value not due but owed in credits."""
    for debit, credit, amount in legs:
        yield (
            Role.LOANS if debit is Role.POOL else debit,
            Role.LOANS if credit is Role.POOL else credit,
            amount,
        )


def _other(lender: str, borrower: str, holder: str) -> str:
    return borrower if holder == lender else lender


def _worth(loans: Iterable[OpenLoan], holder: str) -> int:
    """Give the value of what a holder has lent, less that of what it has borrowed."""
    return sum((each.value or 0) * ((holder == each.lender) - (holder == each.borrower)) for each in loans)


def _passed(giver: str, receiver: str, holder: str, value: int, cost: int) -> Iterator[Leg]:
    """Credits passed within the pool for a value: the giver gains what that is above their cost."""
    if holder == giver:
        yield Role.POOL, Role.CREDITS, cost
        yield Role.POOL, Role.LENDING, value - cost
    if holder == receiver:
        yield Role.CREDITS, Role.POOL, value


def _drawn(member: str, holder: str, part: Part) -> Iterator[Leg]:
    if holder == member:
        yield Role.CREDITS, Role.POOL, part.cost
    if holder == STOCK:
        yield Role.POOL, Role.CREDITS, part.cost


def _written_off_stock(holder: str, part: Part) -> Iterator[Leg]:
    if holder == STOCK:
        yield Role.POOL, Role.CREDITS, part.cost
    else:
        yield Role.STOCK_LOSS, Role.POOL, part.shares.get(holder, 0)


@singledispatch
def _legs(_body: Body, _holder: str, _part: Part) -> Iterator[Leg]:
    """What a kind debits and credits with a holder, a line (a function) for each; others do nothing to its accounts."""
    yield from ()


@_legs.register
def _(body: Opening, holder: str, _part: Part) -> Iterator[Leg]:
    if holder == STOCK:
        yield Role.CREDITS, Role.POOL, body.stock_cost
    for each in body.members:
        if each.member == holder:
            yield Role.CREDITS, Role.OPENING, each.cost
            yield Role.POOL, Role.OPENING, each.due


@_legs.register
def _(body: Purchase, holder: str, part: Part) -> Iterator[Leg]:
    if holder == body.paid_by:
        yield Role.POOL, Role.BANK, part.value
    if holder == body.into:
        yield Role.CREDITS, Role.POOL, part.value


@_legs.register
def _(body: Draw, holder: str, part: Part) -> Iterator[Leg]:
    return _drawn(body.member, holder, part)


@_legs.register
def _(body: Loan, holder: str, part: Part) -> Iterator[Leg]:
    return _passed(body.lender, body.borrower, holder, part.value, part.cost)


@_legs.register
def _(body: Return, holder: str, part: Part) -> Iterator[Leg]:
    return _passed(body.borrower, body.lender, holder, part.value, part.cost)


@_legs.register
def _(body: Use, holder: str, part: Part) -> Iterator[Leg]:
    if holder == body.member:
        yield Role.USED, Role.CREDITS, part.cost


@_legs.register
def _(body: WriteOff, holder: str, part: Part) -> Iterator[Leg]:
    if body.holder == STOCK:
        yield from _written_off_stock(holder, part)
    elif holder == body.holder:
        yield Role.WRITTEN_OFF, Role.CREDITS, part.cost


@_legs.register
def _(body: Outside, holder: str, part: Part) -> Iterator[Leg]:
    if holder == body.member and body.direction is Direction.IN:
        yield Role.CREDITS, Role.BANK, part.value
    elif holder == body.member:
        yield Role.PASSED_ON, Role.CREDITS, part.cost
        yield Role.BANK, Role.PROCEEDS, part.value


@_legs.register
def _(body: Charge, holder: str, part: Part) -> Iterator[Leg]:
    if holder == body.from_member:
        yield Role.CHARGES, Role.POOL, part.value
    if holder == body.to_member:
        yield Role.POOL, Role.CHARGES, part.value


@_legs.register
def _(body: Payment, holder: str, part: Part) -> Iterator[Leg]:
    for account, amount in ((Role.SETTLEMENT, body.answers), (Role.POOL, part.value - body.answers)):
        if holder == body.from_member:
            yield account, Role.BANK, amount
        if holder == body.to_member:
            yield Role.BANK, account, amount
