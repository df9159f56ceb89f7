"""What each kind of entry does to members in its month, and what its reversal does in a later one.

Two tables, one line (a function) for each kind: `_apply` for what stands, `_undo` for what is undone. Kinds without a
line do nothing to a member's month. What a draw costs is found in stock.py, how cost leaves a member in blending.py, at
what price loans are settled in costing.py.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache, singledispatch
from typing import NamedTuple, TypeVar

from pool_api.domain.entries import (
    Body,
    Charge,
    Direction,
    Draw,
    Loan,
    Outside,
    Payment,
    Purchase,
    Return,
    Use,
    WriteOff,
)
from pool_api.domain.layers import NOTHING, Costed
from pool_api.domain.reversals import Divisible, Standing
from pool_api.domain.values import STOCK, apportion

_Name = TypeVar("_Name")


@dataclass(slots=True)
class Tally:
    """One member's month while it is added up. opening are its own credits: held, more what it had lent, less what it
    had borrowed. due holds lines by the names of sheets.Due; days, by how much what it held changed on each day; spent
    (uses and outside entries out) and written_off are (entry, credits), in order."""

    opening: Costed = NOTHING
    draws: Costed = NOTHING
    purchases: Costed = NOTHING
    outside_in: Costed = NOTHING
    reversals_in: Costed = NOTHING
    reversals_out: Costed = NOTHING
    gain_undone: int = 0
    spent: list[tuple[int, int]] = field(default_factory=list)
    outside_out: set[int] = field(default_factory=set)
    written_off: list[tuple[int, int]] = field(default_factory=list)
    due: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    days: dict[date, int] = field(default_factory=lambda: defaultdict(int))

    def absorb(self, later: "Tally") -> None:
        """Add what came later in the month."""
        for name in self.__slots__:
            here, more = getattr(self, name), getattr(later, name)
            match more:
                case Costed():
                    setattr(self, name, plus(here, *more))
                case int():
                    setattr(self, name, here + more)
                case list():
                    here.extend(more)
                case set():
                    here.update(more)
                case dict():
                    _absorb(here, more)


class OpenChange(NamedTuple):
    """A change of what one member has open from another, at a value of its own; both below 0 where it gets less."""

    lender: str
    borrower: str
    quantity: int
    value: int


@dataclass(slots=True)
class Tallies:
    """A month while it is added up. open counts what each lender lent each borrower in the month (below zero where more
    was returned than lent), agreed are the loans that have a price of their own, in order; carried is what earlier
    months left open, followed by what reversals of their loans and returns change of it."""

    members: dict[str, Tally] = field(default_factory=lambda: defaultdict(Tally))
    open: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    agreed: list[Standing] = field(default_factory=list)
    carried: list[OpenChange] = field(default_factory=list)

    def add(self, standing: Standing) -> None:
        """Add what an entry of the month does; to be called in the order of (effective_on, number)."""
        body = standing.entry.body
        _line(type(body))(body, self, standing)

    def absorb(self, later: "Tallies") -> None:
        """Add what came later in the month; it stays as it is."""
        for code, tally in later.members.items():
            self.members[code].absorb(tally)
        _absorb(self.open, later.open)
        self.agreed += later.agreed
        self.carried += later.carried

    def undo(self, on: date, body: Body, part: "Part", *, still_open: bool) -> None:
        """Add what the reversal of a part of an earlier month's entry does; body is that entry's. One that is
        still_open changes what is open instead of dues."""
        if still_open and isinstance(body, Loan | Return):
            sign = -1 if isinstance(body, Loan) else 1
            self.carried.append(OpenChange(body.lender, body.borrower, sign * part.quantity, sign * part.value))
        for effect in _undo(body, part):
            tally = self.members[effect.member]
            tally.due["reversals"] += 0 if still_open else effect.due
            tally.gain_undone += effect.gain
            tally.days[on] += effect.credits
            if effect.credits > 0:
                tally.reversals_in = plus(tally.reversals_in, effect.credits, effect.cost)
            elif effect.credits < 0:
                tally.reversals_out = plus(tally.reversals_out, -effect.credits, effect.cost)

    def move(self, on: date, giver: str, receiver: str, quantity: int) -> None:
        """Move what is held from one member to another."""
        self.members[giver].days[on] -= quantity
        self.members[receiver].days[on] += quantity

    def owe(self, line_from: str, payer: str, line_to: str, payee: str, amount: int) -> None:
        """Take an amount from one member's due, on its line, and add it to another's."""
        self.members[payer].due[line_from] -= amount
        self.members[payee].due[line_to] += amount


def plus(there: Costed, quantity: int, cost: int) -> Costed:
    """Give costed credits with more of them."""
    return Costed(there.quantity + quantity, there.cost + cost)


def _absorb(here: dict[_Name, int], more: Mapping[_Name, int]) -> None:
    for name, amount in more.items():
        here[name] += amount


@singledispatch
def _apply(_body: Body, _month: Tallies, _standing: Standing) -> None:
    """Nothing: a kind that does nothing to a member's month."""


_line: Callable[[type], Callable[..., None]] = cache(_apply.dispatch)
"""The line of a kind. A month has more entries than kinds: dispatching takes as long as adding."""


@_apply.register
def _(body: Purchase, month: Tallies, standing: Standing) -> None:
    entry, quantity, amount = standing
    if body.into != STOCK:
        tally = month.members[body.into]
        tally.purchases = plus(tally.purchases, quantity, amount)
        tally.days[entry.effective_on] += quantity
    if body.into == STOCK:
        month.members[body.paid_by].due["purchases_paid"] += amount
    elif body.into != body.paid_by:
        month.owe("purchases_for_it", body.into, "purchases_paid", body.paid_by, amount)


@_apply.register
def _(body: Draw, month: Tallies, standing: Standing) -> None:
    month.members[body.member].days[standing.entry.effective_on] += standing.quantity


@_apply.register
def _(body: Loan, month: Tallies, standing: Standing) -> None:
    month.move(standing.entry.effective_on, body.lender, body.borrower, standing.quantity)
    if body.unit_price is None:
        month.open[body.lender, body.borrower] += standing.quantity
    else:
        month.agreed.append(standing)


@_apply.register
def _(body: Return, month: Tallies, standing: Standing) -> None:
    month.move(standing.entry.effective_on, body.borrower, body.lender, standing.quantity)
    month.open[body.lender, body.borrower] -= standing.quantity


@_apply.register
def _(body: Use, month: Tallies, standing: Standing) -> None:
    tally = month.members[body.member]
    tally.spent.append((standing.entry.number, standing.quantity))
    tally.days[standing.entry.effective_on] -= standing.quantity


@_apply.register
def _(body: WriteOff, month: Tallies, standing: Standing) -> None:
    if body.holder != STOCK:
        tally = month.members[body.holder]
        tally.written_off.append((standing.entry.number, standing.quantity))
        tally.days[standing.entry.effective_on] -= standing.quantity


@_apply.register
def _(body: Outside, month: Tallies, standing: Standing) -> None:
    entry, quantity, amount = standing
    tally = month.members[body.member]
    if body.direction is Direction.IN:
        tally.outside_in = plus(tally.outside_in, quantity, amount)
        tally.days[entry.effective_on] += quantity
    else:
        tally.spent.append((entry.number, quantity))
        tally.outside_out.add(entry.number)
        tally.days[entry.effective_on] -= quantity


@_apply.register
def _(body: Charge, month: Tallies, standing: Standing) -> None:
    month.owe("charges_from_it", body.from_member, "charges_to_it", body.to_member, standing.amount)


@_apply.register
def _(body: Payment, month: Tallies, standing: Standing) -> None:
    in_dues = standing.amount - body.answers
    month.owe("payments_received", body.to_member, "payments_made", body.from_member, in_dues)


class Part(NamedTuple):
    """The reversed part of an entry's original amounts: its credits, what was owed for them, what they had cost where
    they left, and who had borne how much of a write-off of stock."""

    quantity: int
    value: int
    cost: int
    shares: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Original:
    """The original amounts (see Part) of an entry of an earlier month, as they stood at the end of that month, and how
    much of them reversals have taken since. shares are what each member still bears of a write-off of stock."""

    body: Body
    value: Divisible
    cost: Divisible
    shares: Mapping[str, int]

    def part(self, quantity: int) -> Part:
        """Give the part that goes with quantity credits (1 for an entry that is reversed as a whole)."""
        cost = self.cost.part(quantity)
        weights = [abs(share) for share in self.shares.values()]
        shares = dict(zip(self.shares, apportion(cost, weights), strict=True)) if weights else {}
        return Part(quantity, self.value.part(quantity), cost, shares)

    def without(self, quantity: int) -> "Original":
        """Give what remains of it once that part is taken."""
        taken = self.part(quantity).shares
        return Original(
            body=self.body,
            value=self.value.without(quantity),
            cost=self.cost.without(quantity),
            shares={member: share - taken[member] for member, share in self.shares.items()},
        )


class _Effect(NamedTuple):
    """What a reversal does to one member: credits that come in (above 0) or go out, at that cost; due, and lending gain
    taken back."""

    member: str
    due: int = 0
    credits: int = 0
    cost: int = 0
    gain: int = 0


@singledispatch
def _undo(_body: Body, _part: Part) -> Iterator[_Effect]:
    """Nothing: a kind whose reversal does nothing to a member."""
    yield from ()


@_undo.register
def _(body: Purchase, part: Part) -> Iterator[_Effect]:
    yield _Effect(body.paid_by, due=-part.value)
    if body.into != STOCK:
        yield _Effect(body.into, due=part.value, credits=-part.quantity, cost=part.value)


@_undo.register
def _(body: Draw, part: Part) -> Iterator[_Effect]:
    yield _Effect(body.member, due=part.cost, credits=-part.quantity, cost=part.cost)


@_undo.register
def _(body: Loan, part: Part) -> Iterator[_Effect]:
    gain = part.value - part.cost
    yield _Effect(body.lender, due=-part.value, credits=part.quantity, cost=part.cost, gain=gain)
    yield _Effect(body.borrower, due=part.value, credits=-part.quantity, cost=part.value)


@_undo.register
def _(body: Return, part: Part) -> Iterator[_Effect]:
    gain = part.value - part.cost
    yield _Effect(body.borrower, due=-part.value, credits=part.quantity, cost=part.cost, gain=gain)
    yield _Effect(body.lender, due=part.value, credits=-part.quantity, cost=part.value)


@_undo.register
def _(body: Use, part: Part) -> Iterator[_Effect]:
    yield _Effect(body.member, credits=part.quantity, cost=part.cost)


@_undo.register
def _(body: WriteOff, part: Part) -> Iterator[_Effect]:
    if body.holder == STOCK:
        yield from (_Effect(member, due=share) for member, share in part.shares.items())
    else:
        yield _Effect(body.holder, credits=part.quantity, cost=part.cost)


@_undo.register
def _(body: Outside, part: Part) -> Iterator[_Effect]:
    if body.direction is Direction.IN:
        yield _Effect(body.member, credits=-part.quantity, cost=part.value)
    else:
        yield _Effect(body.member, credits=part.quantity, cost=part.cost)


@_undo.register
def _(body: Charge, part: Part) -> Iterator[_Effect]:
    yield _Effect(body.to_member, due=-part.value)
    yield _Effect(body.from_member, due=part.value)


@_undo.register
def _(body: Payment, part: Part) -> Iterator[_Effect]:
    in_dues = part.value - body.answers
    yield _Effect(body.from_member, due=-in_dues)
    yield _Effect(body.to_member, due=in_dues)
