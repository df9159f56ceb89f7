"""The vendor's price ladder: what a credit costs by the size of one order, and so what an order costs.

An order is priced as a whole: all its credits cost the unit price of the tier that its size falls in, so a larger order
can cost less in total. Quantities are whole credits; costs are exact fractions of minor units, rounded only where they
are shown. Which ladder counts when, and what orders are wanted for, is not known here.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Any

from pool_api.domain.errors import AmountOutOfRange, LadderUnlawful
from pool_api.domain.values import MOST_CREDITS, MOST_MINOR, Currency

MOST_TIERS = 20

UNIT_PRICE = re.compile(r"(0|[1-9][0-9]{0,8})(\.[0-9]{1,6})?")
"""A unit price as decimal text of major units per credit."""


@dataclass(frozen=True, slots=True)
class Tier:
    """Orders of so many credits or more cost the unit price for each, in exact decimal text of major units."""

    from_credits: int
    unit_price: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many credits in one order, the tier that prices them, and their cost in minor units, exactly."""

    quantity: int
    tier: Tier
    cost: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The tiers that count from a day on, with rising quantities; the first one begins at the smallest order.

    Refuses: LadderUnlawful."""

    valid_from: date
    currency: Currency
    tiers: tuple[Tier, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.tiers) <= MOST_TIERS:
            raise LadderUnlawful(reason=f"it has {len(self.tiers)} tiers, not 1 to {MOST_TIERS}")
        for lower, upper in pairwise(self.tiers):
            if upper.from_credits <= lower.from_credits:
                reason = f"the tier from {upper.from_credits} stands after the one from {lower.from_credits}"
                raise LadderUnlawful(reason=reason)
        for tier in self.tiers:
            if not 1 <= tier.from_credits <= MOST_CREDITS:
                raise LadderUnlawful(reason=f"a tier can't begin at {tier.from_credits} credits")
            if not UNIT_PRICE.fullmatch(tier.unit_price):
                raise LadderUnlawful(reason=f"{tier.unit_price} is not a unit price of 0 or more")
            if self.order(tier.from_credits) is None:
                raise LadderUnlawful(reason=f"an order of {tier.from_credits} would cost more than any amount")

    @property
    def least(self) -> int:
        """The smallest order."""
        return self.tiers[0].from_credits

    def steps(self) -> tuple[tuple[int, Fraction], ...]:
        """Give where each tier begins and its unit price in minor units."""
        return tuple((tier.from_credits, self.currency.unit_price(tier.unit_price)) for tier in self.tiers)

    def order(self, quantity: int) -> Order | None:
        """Give what one order of a quantity costs, None below the smallest order and above what an amount can be."""
        at = bisect_right(self.tiers, quantity, key=lambda tier: tier.from_credits)
        if at == 0:
            return None
        tier = self.tiers[at - 1]
        cost = quantity * self.currency.unit_price(tier.unit_price)
        return Order(quantity=quantity, tier=tier, cost=cost) if cost <= MOST_MINOR else None

    def cheaper(self, quantity: int) -> tuple[Order, ...]:
        """Give the larger orders that cost less in total than one of a quantity, each less than those before it.

        Within a tier more costs no less, so that only where tiers begin there can be such orders: the first one given
        is the smallest of all that cost less.
        Source: all-units discounts; Hadley & Whitin, Analysis of Inventory Systems, 1963 (from memory)."""
        asked, found = self.order(quantity), list[Order]()
        for order in self._from(quantity + 1):
            last = found[-1] if found else asked
            if last is not None and order.cost < last.cost:
                found.append(order)
        return tuple(found)

    def cheapest(self, least: int) -> Order:
        """Give the order of at least so many credits that costs the least; of several the smallest.

        Refuses: AmountOutOfRange when all cost more than an amount can be."""
        found = [*self._from(max(least, self.least))]
        if not found:
            raise AmountOutOfRange(amount=f"of {least} credits", least=0, most=MOST_MINOR)
        return min(found, key=lambda order: (order.cost, order.quantity))

    def _from(self, quantity: int) -> Iterator[Order]:
        """Give the order of a quantity and those of each tier that begins above it."""
        for size in (quantity, *(tier.from_credits for tier in self.tiers if tier.from_credits > quantity)):
            if order := self.order(size):
                yield order

    def doubts(self) -> tuple[str, ...]:
        """Say what is lawful but unusual: a price that doesn't fall, and a smallest order of several credits."""
        found = [
            f"from {upper.from_credits} a credit costs {upper.unit_price}, no less than {lower.unit_price} before"
            for lower, upper in pairwise(self.tiers)
            if Fraction(upper.unit_price) >= Fraction(lower.unit_price)
        ]
        if self.least > 1:
            found.append(f"orders of fewer than {self.least} credits have no price")
        return tuple(found)


def ladder_from(stored: Mapping[str, Any]) -> Ladder:
    """Read a ladder back from a JSON object with its fields."""
    return Ladder(
        valid_from=date.fromisoformat(stored["valid_from"]),
        currency=Currency(stored["currency"]["code"]),
        tiers=tuple(Tier(**each) for each in stored["tiers"]),
    )


def valid_on(ladders: Iterable[Ladder], day: date) -> Ladder | None:
    """Give the ladder that counts on a day: the last one that is valid by then, None before the first."""
    begun = [each for each in ladders if each.valid_from <= day]
    return max(begun, key=lambda each: each.valid_from, default=None)
