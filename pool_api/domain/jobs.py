"""What jobs cost and earned, and what a job would: credits used, their cost, the price charged, and the margin.

A use counts in the month that it is effective in, with what reversals, whenever they came, have left of it. Its cost is
its part of the month sheet; its price counts for as long as any of it is left, as a price is of the job and not of a
credit. Where no price is recorded nobody knows what was earned: such uses are told apart and aren't in the margin.
Amounts are minor units.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple, dataclass
from datetime import date
from fractions import Fraction
from operator import add

from pool_api.domain.entries import Use, quantity_of
from pool_api.domain.reversals import Divisible, Fact
from pool_api.domain.values import Month, half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class JobUse:
    """One use on a job: credits left after reversals, what they cost, and what was charged for them."""

    entry: int
    member: str
    item: str
    job: str
    effective_on: date
    quantity: int
    left: int
    cost: int
    price: int | None


@dataclass(frozen=True, slots=True)
class Earned:
    """What some uses come to. cost is of all of them; unpriced ones have no price, and no part in the margin."""

    uses: int = 0
    credits: int = 0
    cost: int = 0
    price: int = 0
    unpriced_uses: int = 0
    unpriced_credits: int = 0
    unpriced_cost: int = 0

    @property
    def margin(self) -> int:
        """What was charged less the cost of what it was charged for."""
        return self.price - (self.cost - self.unpriced_cost)


def job_use(use: Fact, body: Use, cost: int, reversals: Sequence[Fact]) -> JobUse:
    """Give a use as reversals leave it.

    Takes:   cost — what its month's sheet says of it; reversals — those of it, in order of number."""
    left = body.quantity
    if reversals:
        month = Month.of(use.effective_on)
        undone = [(Month.of(each.effective_on) == month, quantity_of(each.body) or 0) for each in reversals]
        left -= sum(quantity for _, quantity in undone)
        same = sum(quantity for within, quantity in undone if within)
        divisible = Divisible(quantity=max(body.quantity - same, 1), amount=cost)
        for within, quantity in undone:
            divisible = divisible if within else divisible.without(quantity)
        cost = divisible.left_amount
    return JobUse(
        entry=use.number,
        member=body.member,
        item=body.item,
        job=body.job,
        effective_on=use.effective_on,
        quantity=body.quantity,
        left=left,
        cost=cost,
        price=body.price if left else None,
    )


def earned_by(uses: Iterable[JobUse], key: Callable[[JobUse], str]) -> dict[str, Earned]:
    """Give what uses of which something is left come to, by a key, in order of the keys."""
    sums: dict[str, list[int]] = {}
    for use in uses:
        if use.left:
            row = sums.setdefault(key(use), [0] * len(Earned.__slots__))
            row[:] = map(add, row, _figures(use))
    return {name: Earned(*sums[name]) for name in sorted(sums)}


def _figures(use: JobUse) -> tuple[int, ...]:
    """Give what one use adds to each figure of what is earned, in their order."""
    if use.price is None:
        return (1, use.left, use.cost, 0, 1, use.left, use.cost)
    return (1, use.left, use.cost, use.price, 0, 0, 0)


def sum_of(parts: Iterable[Earned]) -> Earned:
    """Give what several come to, together."""
    return Earned(*map(sum, zip(*map(astuple, parts), strict=True)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """What credits would cost at a unit price, and what would be earned at a price for the job, if one is stated."""

    unit_price: Fraction
    cost: int
    margin: int | None


def prospect(credits: int, unit_price: Fraction, price: int | None) -> Prospect:
    """Give what so many credits would cost at an exact unit price, half up, and leave of a price."""
    cost = half_up(credits * unit_price)
    return Prospect(unit_price=unit_price, cost=cost, margin=None if price is None else price - cost)
