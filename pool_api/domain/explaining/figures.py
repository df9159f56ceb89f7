"""What an explanation is: a figure, the formula that gives it, and the operands with where each comes from.

Promises: a figure's value is the sheet's or the settlement's, and its formula gives exactly that value when it is
applied to the operands that are stated. Which figures there are stands in the files beside this one.

Names of figures are made of parts with points between them and sort by subject: `price`, `stock.closing.cost`,
`loans.BIRCH.DOGWOOD.amount`, `members.BIRCH.due.draws`, `entries.4.cost`, `settlement.nets.BIRCH`, `warnings.1.size`.
Credits are whole credits, money is minor units, unit prices are exact fractions of minor units per credit.
"""

from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from enum import StrEnum
from fractions import Fraction
from functools import cached_property, partial
from itertools import islice
from typing import NamedTuple

from pool_api.domain.errors import FigureNotFound

Value = int | Fraction

MOST_TERMS = 100
"""How many operands of an explanation in a chain are stated; a sum over a month's entries has as many as those."""


class Unit(StrEnum):
    """What a value counts."""

    CREDITS = "credits"
    MONEY = "money"
    UNIT_PRICE = "unit_price"
    COUNT = "count"


class Formula(StrEnum):
    """How the operands give the value. Roles are those of Role."""

    SUM = "sum"
    """the plus operands less the minus operands; nothing at all is 0"""
    RATIO = "ratio"
    """the product of the factors over the product of the divisors, exactly"""
    ROUNDED = "rounded"
    """the same, rounded half up to a whole number"""
    APPORTIONED = "apportioned"
    """total · weight / weights without the remainder, towards 0, and one more unit of it where place <= left_over"""
    ABOVE_ZERO = "above_zero"
    """the sum, or 0 where it is below 0"""
    UNLESS_SMALL = "unless_small"
    """the sum, or 0 where it is below the least, counted to the side on which the first operand is"""


class Role(StrEnum):
    """What an operand is in its formula. left_over are the units that rounding down leaves of a total, place is where
    the part's remainder stands among the remainders of all parts, the largest first."""

    PLUS = "plus"
    MINUS = "minus"
    FACTOR = "factor"
    DIVISOR = "divisor"
    TOTAL = "total"
    WEIGHT = "weight"
    WEIGHTS = "weights"
    LEFT_OVER = "left_over"
    PLACE = "place"
    LEAST = "least"


class Origin(StrEnum):
    """Where an operand comes from."""

    FIGURE = "figure"
    ENTRIES = "entries"
    MONTH_BEFORE = "month_before"
    POLICY = "policy"
    MEMBERS = "members"
    LADDER = "ladder"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Operand:
    """One operand. figure is the name of the figure that it is, in this month or (month_before) in the one before;
    name says what it is where it isn't one; entries are the numbers of those that say it."""

    role: Role
    value: Value
    unit: Unit
    origin: Origin
    figure: str | None = None
    name: str | None = None
    entries: tuple[int, ...] = ()

    def opposite(self) -> "Operand":
        """Give a plus operand as a minus one, and the other way round."""
        return replace(self, role=Role.MINUS if self.role is Role.PLUS else Role.PLUS)


Derivation = tuple[Formula, tuple[Operand, ...]]


class Listed(NamedTuple):
    """A figure by its name."""

    figure: str
    value: Value
    unit: Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """A figure and how it comes about. more is how many further terms its sum has that operands leaves out."""

    figure: str
    value: Value
    unit: Unit
    formula: Formula
    operands: tuple[Operand, ...]
    more: int = 0

    def shortened(self) -> "Explanation":
        """Give it with MOST_TERMS operands; of those beyond only what isn't a term of a sum."""
        terms = (Role.PLUS, Role.MINUS)
        beyond = (each for each in self.operands[MOST_TERMS:] if each.role not in terms)
        stated = (*self.operands[:MOST_TERMS], *beyond)
        return replace(self, operands=stated, more=len(self.operands) - len(stated))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figure:
    value: Value
    unit: Unit
    sides: Collection[str]
    derive: Callable[[], Derivation]


def signed(operand: Operand) -> Operand:
    """Give a plus operand below 0 as a minus operand above 0."""
    if operand.value >= 0:
        return operand
    return replace(operand, role=Role.MINUS, value=-operand.value)


def summed(operands: Iterable[Operand]) -> Derivation:
    """Give the sum of operands; those that are 0 are left out."""
    return Formula.SUM, tuple(each for each in operands if each.value)


class Part(NamedTuple):
    """A part of an apportioned total: its figure, None where it is none, its value and weight, and what gives the
    weight as an operand."""

    name: str | None
    value: int
    weight: int
    source: Callable[[], Operand]
    sides: Collection[str] = ()


class Figures:
    """The figures of one month by name, in order of name; each is explained when it is asked for."""

    def __init__(self) -> None:
        self._found: dict[str, _Figure] = {}

    def add(
        self, name: str, value: Value, unit: Unit, derive: Callable[[], Derivation], sides: Collection[str] = ()
    ) -> None:
        """Add a figure. sides are the members whose statement it belongs to."""
        self._found[name] = _Figure(value=value, unit=unit, sides=sides, derive=derive)

    def add_costed(
        self,
        name: str,
        value: tuple[int, int],
        derive_quantity: Callable[[], Derivation],
        derive_cost: Callable[[], Derivation],
        sides: Collection[str] = (),
    ) -> None:
        """Add the quantity and the cost of costed credits, as two figures."""
        self.add(f"{name}.quantity", value[0], Unit.CREDITS, derive_quantity, sides)
        self.add(f"{name}.cost", value[1], Unit.MONEY, derive_cost, sides)

    def __contains__(self, name: str) -> bool:
        return name in self._found

    def add_parts(self, total: str, weights: str, parts: Sequence["Part"]) -> None:
        """Add the parts of a figure that is apportioned over weights, which add up to another figure; all of them, in
        the order that settles ties. Where there is nothing to weigh they are 0."""
        apportionment = Apportionment(self._found[total].value, [each.weight for each in parts])

        def derive(at: int) -> Derivation:
            if self._found[weights].value <= 0:
                return summed(())
            weight = replace(parts[at].source(), role=Role.WEIGHT)
            return apportionment.part(at, self.operand(Role.TOTAL, total), weight, self.operand(Role.WEIGHTS, weights))

        for at, part in enumerate(parts):
            if part.name is not None:
                self.add(part.name, part.value, Unit.MONEY, partial(derive, at), part.sides)

    def operand(self, role: Role, name: str, *entries: int) -> Operand:
        """Give a figure as an operand. entries are the numbers of those that say it, where it is theirs."""
        found = self._found[name]
        return Operand(
            role=role, value=found.value, unit=found.unit, origin=Origin.FIGURE, figure=name, entries=entries
        )

    def names(self, member: str | None) -> list[str]:
        """Give the names in order; those of a member's statement only where there is one."""
        return [name for name in self._sorted if member is None or member in self._found[name].sides]

    @cached_property
    def _sorted(self) -> list[str]:
        return sorted(self._found)

    def listed(self, name: str) -> Listed:
        """Give a figure that is there, unexplained."""
        return Listed(name, self._found[name].value, self._found[name].unit)

    def explain(self, name: str, *, member: str | None = None) -> Explanation:
        """Explain one figure; of a member's statement only where there is one.

        Refuses: FigureNotFound, with names that are near, when it isn't there."""
        found = self._found.get(name)
        if found is None or (member is not None and member not in found.sides):
            raise FigureNotFound(figure=name, near=self._near(name, member))
        formula, operands = found.derive()
        return Explanation(figure=name, value=found.value, unit=found.unit, formula=formula, operands=operands)

    def chain(self, name: str, depth: int, *, member: str | None = None) -> Iterator[Explanation]:
        """Explain a figure and, so many steps deep, the figures that it comes from: each once, the nearest first, and
        shortened; figures among operands that are left out are not gone into.

        Takes:   depth, at least 0: the figure alone.
        Refuses: as explain, at once; figures of a chain that aren't the member's are left out."""
        return self._chain(self.explain(name, member=member).shortened(), depth, member)

    def _chain(self, first: Explanation, depth: int, member: str | None) -> Iterator[Explanation]:
        yield first
        found, nearest = {first.figure}, [first]
        for _ in range(depth):
            wanted = dict.fromkeys(
                each.figure
                for explanation in nearest
                for each in explanation.operands
                if each.origin is Origin.FIGURE and each.figure is not None and each.figure not in found
            )
            found.update(wanted)
            nearest = []
            for each in wanted:
                if member is None or member in self._found[each].sides:
                    nearest.append(self.explain(each).shortened())
                    yield nearest[-1]

    def _near(self, name: str, member: str | None) -> list[str]:
        """Give names like one that isn't there: those that go on from it, or else those that are written alike."""
        names = self.names(member)
        at = bisect_right(names, name)
        below = [each for each in islice(names, at, at + 5) if each.startswith(f"{name}.")]
        return below or get_close_matches(name, names, n=5)


class Apportionment:
    """A total that was shared out by largest remainders: tells what each part is made of.

    Takes:   weights >= 0 of all parts, in the order that settles ties, their sum above 0."""

    def __init__(self, total: Value, weights: Sequence[int]) -> None:
        self._total, self._weights = abs(int(total)), weights

    @cached_property
    def _whole(self) -> int:
        return sum(self._weights)

    @cached_property
    def _places(self) -> dict[int, int]:
        order = sorted(range(len(self._weights)), key=lambda at: (-self._remainder(at), at))
        return {at: place for place, at in enumerate(order, start=1)}

    @cached_property
    def _left_over(self) -> int:
        return sum(self._remainder(at) for at in range(len(self._weights))) // self._whole

    def _remainder(self, at: int) -> int:
        return self._total * self._weights[at] % self._whole

    def part(self, at: int, total: Operand, weight: Operand, weights: Operand) -> Derivation:
        """Give how the part at a position comes about."""
        counted = [(Role.LEFT_OVER, self._left_over), (Role.PLACE, self._places[at])]
        stated = (Operand(role=role, value=value, unit=Unit.COUNT, origin=Origin.COUNTED) for role, value in counted)
        return Formula.APPORTIONED, (total, weight, weights, *stated)
