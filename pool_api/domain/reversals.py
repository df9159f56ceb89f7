"""What reversals leave of an entry, and which part of its amounts each of them takes.

A reversal effective in the month of its entry shrinks it: the entry stands with what is left. A reversal effective in a
later month is a movement of its own month and takes its part of the original amount. Credits are whole credits, amounts
minor units. What an entry does to stock, costs and dues is not known here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from operator import attrgetter
from typing import NamedTuple, Protocol

from pool_api.domain.entries import Body, Reversal, quantity_of
from pool_api.domain.values import half_up

IN_ORDER = attrgetter("effective_on", "number")
"""The order in which the entries of a month take effect."""


class Fact(Protocol):
    """What costing reads of an entry: an Entry is one, and so is a row with these columns alone."""

    @property
    def number(self) -> int:
        """The entry's number."""

    @property
    def effective_on(self) -> date:
        """The day on which it takes effect."""

    @property
    def body(self) -> Body:
        """What it says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Divisible:
    """An amount that goes with a number of credits, and what was taken of both so far. What can only go as a whole
    has quantity 1."""

    quantity: int
    amount: int
    gone: int = 0
    gone_amount: int = 0

    @property
    def left(self) -> int:
        """Credits not taken yet."""
        return self.quantity - self.gone

    @property
    def left_amount(self) -> int:
        """The part of the amount not taken yet."""
        return self.amount - self.gone_amount

    def part(self, quantity: int) -> int:
        """Give the part of the amount that goes with quantity credits, quantity <= left.

        Source: own rule: pro rata of the whole, half up, never more than is left; the last part takes the rest."""
        if quantity == self.left:
            return self.left_amount
        share = half_up(Fraction(self.amount * quantity, self.quantity))
        return min(share, self.left_amount) if self.amount >= 0 else max(share, self.left_amount)

    def without(self, quantity: int) -> "Divisible":
        """Give what remains once quantity credits and their part of the amount are taken."""
        return Divisible(
            quantity=self.quantity,
            amount=self.amount,
            gone=self.gone + quantity,
            gone_amount=self.gone_amount + self.part(quantity),
        )


class Standing(NamedTuple):
    """An entry with the credits (0 where it has no one quantity) and the amount (0 where it has none) that stand."""

    entry: Fact
    quantity: int
    amount: int


def split(entries: Iterable[Fact]) -> tuple[list[Standing], list[Fact]]:
    """Part the entries of one month into what stands and the reversals of entries of earlier months.

    Takes:   the entries effective in one month, in any order.
    Gives:   both lists in the order of (effective_on, number); entries reversed wholly within the month are in neither.
    Refuses: nothing."""
    ordered = sorted(entries, key=IN_ORDER)
    numbers = {entry.number for entry in ordered}
    taken: dict[int, list[Fact]] = {}
    later: list[Fact] = []
    others: list[Fact] = []
    for entry in ordered:
        if not isinstance(entry.body, Reversal):
            others.append(entry)
        elif entry.body.entry in numbers:
            taken.setdefault(entry.body.entry, []).append(entry)
        else:
            later.append(entry)
    found = (standing(entry, taken.get(entry.number, ())) for entry in others)
    return [each for each in found if each], later


def standing(entry: Fact, reversals: Iterable[Fact]) -> Standing | None:
    """Give what the reversals of its own month, in order, leave of an entry; None when nothing is left."""
    body = entry.body
    quantity, amount = quantity_of(body) or 0, getattr(body, "amount", 0)
    if not reversals:
        return Standing(entry, quantity, amount)
    whole = Divisible(quantity=quantity or 1, amount=amount)
    for each in reversals:
        whole = whole.without(quantity_of(each.body) or 1)
    return Standing(entry, whole.left, whole.left_amount) if whole.left else None
