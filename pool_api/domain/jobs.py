"""What jobs cost and earned, and what a job would: credits used, their cost, the price charged, and the margin.

A use counts in the month that it is effective in, with what reversals, whenever they came, have left of it. Its cost is
its part of the month sheet; its price counts for as long as any of it is left, as a price is of the job and not of a
credit. Where no price is recorded nobody knows what was earned: such uses are told apart and aren't in the margin.
Amounts are minor units.
"""

from collections.abc import Callable, Iterable
from dataclasses import astuple, dataclass, replace
from datetime import date
from fractions import Fraction

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


@dataclass(frozen=True, slots=True, kw_only=True)
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

    def and_(self, use: JobUse) -> "Earned":
        """Give what comes of one use more."""
        unpriced = use.price is None
        return replace(
            self,
            uses=self.uses + 1,
            credits=self.credits + use.left,
            cost=self.cost + use.cost,
            price=self.price + (use.price or 0),
            unpriced_uses=self.unpriced_uses + unpriced,
            unpriced_credits=self.unpriced_credits + (use.left if unpriced else 0),
            unpriced_cost=self.unpriced_cost + (use.cost if unpriced else 0),
        )


def job_use(use: Fact, body: Use, cost: int, reversals: Iterable[Fact]) -> JobUse:
    """Give a use as reversals leave it.

    Takes:   cost — what its month's sheet says of it; reversals — those of it, in order of number."""
    month = Month.of(use.effective_on)
    undone = [(Month.of(each.effective_on) == month, quantity_of(each.body) or 0) for each in reversals]
    same = sum(quantity for within, quantity in undone if within)
    left = body.quantity - sum(quantity for _, quantity in undone)
    divisible = Divisible(quantity=max(body.quantity - same, 1), amount=cost)
    for within, quantity in undone:
        if not within:
            divisible = divisible.without(quantity)
    return JobUse(
        entry=use.number,
        member=body.member,
        item=body.item,
        job=body.job,
        effective_on=use.effective_on,
        quantity=body.quantity,
        left=left,
        cost=divisible.left_amount,
        price=body.price if left else None,
    )


def earned_by(uses: Iterable[JobUse], key: Callable[[JobUse], str]) -> dict[str, Earned]:
    """Give what uses of which something is left come to, by a key, in order of the keys."""
    found: dict[str, Earned] = {}
    for use in uses:
        if use.left:
            name = key(use)
            found[name] = found.get(name, _NOTHING).and_(use)
    return dict(sorted(found.items()))


def sum_of(parts: Iterable[Earned]) -> Earned:
    """Give what several come to, together."""
    columns = [astuple(each) for each in parts] or [astuple(_NOTHING)]
    return Earned(**dict(zip(Earned.__slots__, map(sum, zip(*columns, strict=True)), strict=True)))


_NOTHING = Earned()


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
