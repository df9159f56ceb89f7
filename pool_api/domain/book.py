"""What the journal adds up to: credits held, in stock and on loan, what is undone, closed and still to be paid.

The Book is the fold of the journal: applying the same entries in order gives the same book, which is what the
projections of the store are verified against. Costs and dues are no part of it: they follow from the month sheet.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from pool_api.domain.entries import (
    Body,
    Close,
    Direction,
    Draw,
    Entry,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Reopening,
    Return,
    Reversal,
    Use,
    WriteOff,
    quantity_of,
)
from pool_api.domain.hashing import GENESIS
from pool_api.domain.pool import Policy, Pool
from pool_api.domain.reversals import Fact
from pool_api.domain.values import STOCK, Month


class Move(NamedTuple):
    """A change of credits at one place: held by `member`, open from `member` to `borrower`, or in stock (no member)."""

    change: int
    member: str | None = None
    borrower: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SettlementPayment:
    """A payment that a close asks for; amounts in minor units. paid counts only what answers it."""

    id: str
    month: Month
    payer: str
    payee: str
    amount: int
    paid: int = 0

    @property
    def unpaid(self) -> int:
        """What is left to pay."""
        return self.amount - self.paid


@dataclass(slots=True, kw_only=True)
class Book:
    """What the journal adds up to. undone counts what is reversed of an entry (1 for kinds reversed as a whole);
    first_month is the one that the pool began in: once it is reopened, no month is closed."""

    number: int = 0
    hash: str = GENESIS
    stock: int = 0
    first_month: Month | None = None
    closed_through: Month | None = None
    custodian: str | None = None
    held: dict[str, int] = field(default_factory=dict)
    open: dict[tuple[str, str], int] = field(default_factory=dict)
    undone: dict[int, int] = field(default_factory=dict)
    payments: dict[str, SettlementPayment] = field(default_factory=dict)

    def copy(self) -> "Book":
        """Give a book that can be moved on without moving this one."""
        twin = copy(self)
        twin.held, twin.open = dict(self.held), dict(self.open)
        twin.undone, twin.payments = dict(self.undone), dict(self.payments)
        return twin

    def at(self, move: Move) -> int:
        """Give the credits now at the place of a move."""
        if move.member is None:
            return self.stock
        if move.borrower is None:
            return self.held.get(move.member, 0)
        return self.open.get((move.member, move.borrower), 0)

    def apply(self, entry: Entry, target: Entry | None = None) -> None:
        """Add one entry. target is the entry that a reversal reverses, or the close that a reopening undoes."""
        for move in moves(entry, target):
            self._move(move)
        match entry.body:
            case Relocation(to_member=to_member):
                self.custodian = to_member
            case Payment(pays=str(paid)):
                self._pay(paid, entry.body.answers)
            case Reversal(entry=number, quantity=quantity):
                self.undone[number] = self.undone.get(number, 0) + (quantity or 1)
                if target and isinstance(target.body, Payment) and target.body.pays:
                    self._pay(target.body.pays, -target.body.answers)
            case Close():
                self._close(entry.body)
            case Reopening():
                self._reopen(close_of(target))
        self.number, self.hash = entry.number, entry.hash

    def _move(self, move: Move) -> None:
        if move.member is None:
            self.stock += move.change
        elif move.borrower is None:
            self.held[move.member] = self.held.get(move.member, 0) + move.change
        else:
            there = self.at(move) + move.change
            self.open[move.member, move.borrower] = max(there, 0)
            if there < 0:
                self._move(Move(-there, move.borrower, move.member))

    def _pay(self, payment: str, amount: int) -> None:
        self.payments[payment] = replace(self.payments[payment], paid=self.payments[payment].paid + amount)

    def _close(self, close: Close) -> None:
        self.closed_through = Month.parse(close.month)
        self._settle_loans(close, +1)
        self.payments.update({payment.id: payment for payment in planned(close)})

    def _reopen(self, close: Close) -> None:
        month = Month.parse(close.month)
        self.closed_through = None if month == self.first_month else month.previous()
        self._settle_loans(close, -1)
        for payment in planned(close):
            del self.payments[payment.id]

    def _settle_loans(self, close: Close, sign: int) -> None:
        """Take what a close settled out of the open loans (or put it back). Each pair is netted: a return that came
        after the month leaves a loan the other way."""
        settled: dict[tuple[str, str], int] = {}
        for loan in (*close.sheet["loans_settled"], *close.sheet.get("carried_settled", ())):
            pair = (loan["lender"], loan["borrower"])
            settled[pair] = settled.get(pair, 0) + sign * loan["quantity"]
        pairs = {(min(pair), max(pair)) for pair in (*self.open, *settled)}
        for one, two in sorted(pairs):
            net = self.open.get((one, two), 0) - self.open.get((two, one), 0)
            net -= settled.get((one, two), 0) - settled.get((two, one), 0)
            self.open[one, two], self.open[two, one] = max(net, 0), max(-net, 0)


def planned(close: Close) -> Iterator[SettlementPayment]:
    """Give the payments that a close asks for, each with its name: the month and its place in the plan."""
    for place, payment in enumerate(close.settlement["payments"], start=1):
        yield SettlementPayment(
            id=payment_id(close.month, place),
            month=Month.parse(close.month),
            payer=payment["payer"],
            payee=payment["payee"],
            amount=payment["amount"],
        )


def payment_id(month: str, place: int) -> str:
    """Give the name of a settlement payment: its month and its place in the plan, from 1."""
    return f"{month}-{place}"


def close_of(entry: Entry | None) -> Close:
    """Give the body of a close entry. ValueError for any other."""
    if entry is None or not isinstance(entry.body, Close):
        raise ValueError("a reopening goes with the close that it undoes")
    return entry.body


def closes_of(entries: Iterable[Entry], before: Mapping[Month, Entry] | None = None) -> dict[Month, Entry]:
    """Give the close that stands for each closed month.

    Takes: the entries of a pool's journal, in order, or those that came after what gave before."""
    found = dict(before or {})
    for entry in entries:
        match entry.body:
            case Close(month=month):
                found[Month.parse(month)] = entry
            case Reopening(month=month):
                del found[Month.parse(month)]
    return found


def policy_under(pool: Pool, close: Entry | None, month: Month) -> Policy:
    """Give the policy that a month is costed under: the one that its close froze, or else the one agreed for it."""
    if close is None:
        return pool.policy_of(month)
    return Policy.from_json(close_of(close).sheet["policy"])


def held_change(member: str | None, entry: Fact, target: Fact | None = None) -> int:
    """Give the credits by which an entry changes what a member holds, or the stock (None). target is as of moves."""
    body, holder, q = entry.body, STOCK if member is None else member, quantity_of(entry.body) or 0
    undoes = isinstance(body, Reversal)
    if undoes:
        body, q = _reversed(target).body, -q
    change = 0
    if places := _PLACES.get(type(body)):
        for sign, place in places(body):
            if place == holder:
                change += sign * q
    elif isinstance(body, Opening):
        change = sum(each for each, place in _opened(body) if place == holder)
        change = -change if undoes else change
    return change


def moves(entry: Fact, target: Fact | None = None) -> Iterable[Move]:
    """Give the credits that an entry moves. target is the entry that a reversal reverses.

    A loan or a return reversed in a later month leaves the open loans alone unless it was still open."""
    body = entry.body
    if not isinstance(body, Reversal):
        return moves_of(body, quantity_of(body) or 0)
    undone = _reversed(target)
    open_ = body.still_open or Month.of(undone.effective_on) == Month.of(entry.effective_on)
    return (
        move._replace(change=-move.change)
        for move in moves_of(undone.body, body.quantity or 0)
        if move.borrower is None or open_
    )


def _reversed(target: Fact | None) -> Fact:
    if target is None:
        raise ValueError("a reversal goes with the entry that it reverses")
    return target


def moves_of(body: Body, q: int) -> Iterator[Move]:
    """Give the credits that a body moves, q of them where it has one quantity; none for a reversal."""
    if isinstance(body, Opening):
        yield from (Move(change, _member(place)) for change, place in _opened(body))
        yield from (Move(each.quantity, each.lender, each.borrower) for each in body.loans)
    elif places := _PLACES.get(type(body)):
        yield from (Move(sign * q, _member(place)) for sign, place in places(body))
    if isinstance(body, Return) or (isinstance(body, Loan) and body.unit_price is None):
        yield Move(q if isinstance(body, Loan) else -q, body.lender, body.borrower)


def _member(place: str) -> str | None:
    return None if place == STOCK else place


_PLACES: dict[type, Callable[[Any], tuple[tuple[int, str], ...]]] = {
    Purchase: lambda body: ((1, body.into),),
    Draw: lambda body: ((-1, STOCK), (1, body.member)),
    Loan: lambda body: ((-1, body.lender), (1, body.borrower)),
    Return: lambda body: ((-1, body.borrower), (1, body.lender)),
    Use: lambda body: ((-1, body.member),),
    WriteOff: lambda body: ((-1, body.holder),),
    Outside: lambda body: ((1 if body.direction is Direction.IN else -1, body.member),),
}
"""Which places, of a member or of the stock, the quantity of each kind leaves (-1) or reaches (1)."""


def _opened(body: Opening) -> Iterator[tuple[int, str]]:
    yield body.stock_quantity, STOCK
    yield from ((each.held, each.member) for each in body.members)
