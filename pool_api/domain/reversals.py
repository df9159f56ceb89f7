"""What reversals leave of an entry, and which part of its amounts each of them takes.

A reversal effective in the month of its entry shrinks it: the entry stands with what is left. A reversal effective in a
later month is a movement of its own month and takes its part of the original amount. Credits are whole credits, amounts
minor units. What an entry does to stock, costs and dues is not known here.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from operator import attrgetter
from typing import NamedTuple

from pool_api.domain.entries import Entry, Reversal, quantity_of
from pool_api.domain.values import half_up

IN_ORDER = attrgetter("effective_on", "number")
"""The order in which the entries of a month take effect."""


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


class Part(NamedTuple):
    """The reversed part of an entry's original amounts: its credits, what was owed for them, what they had cost where
    they left, and who had borne how much of a write-off of stock."""

    quantity: int
    value: int
    cost: int
    shares: Mapping[str, int]


class Standing(NamedTuple):
    """An entry with the credits (0 where it has no one quantity) and the amount (0 where it has none) that stand."""

    entry: Entry
    quantity: int
    amount: int


def split(entries: Iterable[Entry]) -> tuple[list[Standing], list[Entry]]:
    """Part the entries of one month into what stands and the reversals of entries of earlier months.

    Takes:   the entries effective in one month, in any order.
    Gives:   both lists in the order of (effective_on, number); entries reversed wholly within the month are in neither.
    Refuses: nothing."""
    ordered = sorted(entries, key=IN_ORDER)
    numbers = {entry.number for entry in ordered}
    taken: dict[int, list[int]] = {}
    later: list[Entry] = []
    others: list[Entry] = []
    for entry in ordered:
        if not isinstance(entry.body, Reversal):
            others.append(entry)
        elif entry.body.entry in numbers:
            taken.setdefault(entry.body.entry, []).append(entry.body.quantity or 1)
        else:
            later.append(entry)
    standing = (_standing(entry, taken.get(entry.number, ())) for entry in others)
    return [each for each in standing if each], later


def _standing(entry: Entry, taken: Iterable[int]) -> Standing | None:
    quantity, amount = quantity_of(entry.body) or 0, getattr(entry.body, "amount", 0)
    if not taken:
        return Standing(entry, quantity, amount)
    whole = Divisible(quantity=quantity or 1, amount=amount)
    for each in taken:
        whole = whole.without(each)
    return Standing(entry, whole.left, whole.left_amount) if whole.left else None
