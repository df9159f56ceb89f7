"""What each entry of a month contributes to which figure: the effects of one entry alone, found by effects.py itself.

What a reversal of an earlier month's entry takes back is parted into what was owed (`value`) and what it had cost
(`cost`), because the effects add up: each is applied with the other left out. Credits are whole credits, amounts minor
units.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import NamedTuple

from pool_api.domain.effects import OpenChange, Original, Part, Tallies
from pool_api.domain.entries import Json, Opening, Reversal, parties
from pool_api.domain.explaining.figures import Figures, Operand, Origin, Role, Unit, Value, signed
from pool_api.domain.layers import Costed, Movement, Way
from pool_api.domain.pool import Member
from pool_api.domain.reversals import Fact, Standing, split
from pool_api.domain.sheets import Sheet
from pool_api.domain.stock import movement, undone

_NOTHING: Mapping[str, int] = MappingProxyType({})
_COSTED = ("purchases", "outside_in", "reversals_in", "reversals_out")


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthFacts:
    """What a month's figures are explained from.

    settlement is as a close freezes it, close the number of that entry, None in an open month; entries are the
    month's, in any order; originals are as of the month's beginning, of the entries that its reversals reverse; members
    are all of the pool's."""

    sheet: Sheet
    settlement: Json
    close: int | None
    entries: Sequence[Fact]
    originals: Mapping[int, Original]
    members: Sequence[Member]


class Contribution(NamedTuple):
    """What an entry contributes, signed. source names which of its figures it is: quantity, amount, value, cost or
    shares.CODE."""

    entry: int
    source: str
    value: int


class Move(NamedTuple):
    """By how much an entry changes what a member holds, on its day."""

    on: date
    entry: int
    change: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Undoing:
    """A reversal of an earlier month's entry, with that entry's amounts as they stood before it."""

    reversal: Fact
    of: int
    quantity: int
    original: Original
    part: Part
    still_open: bool


@dataclass(slots=True)
class Contributions:
    """The month's entries, parted: what stands, what is undone, what moves the stock, whom each concerns; and what each
    contributes, by figure, to what a member holds, to what one member passed to another, and to what is open from
    earlier months.
    spent and write_offs are (entry, credits) of each member, in order; outside_out are what went outside."""

    standing: list[Standing]
    reversals: list[Fact]
    undoings: list[Undoing] = field(default_factory=list)
    movements: list[Movement] = field(default_factory=list)
    sides: dict[int, tuple[str, ...]] = field(default_factory=dict)
    by_figure: dict[str, list[Contribution]] = field(default_factory=dict)
    passed: dict[tuple[str, str], list[Contribution]] = field(default_factory=dict)
    open_changes: list[tuple[OpenChange, int]] = field(default_factory=list)
    moves: dict[str, list[Move]] = field(default_factory=dict)
    spent: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    outside_out: set[int] = field(default_factory=set)
    write_offs: dict[str, list[tuple[int, int]]] = field(default_factory=dict)

    @property
    def opening(self) -> tuple[int, Opening] | None:
        """The month's opening entry, if it has one."""
        return next(
            ((each.entry.number, each.entry.body) for each in self.standing if isinstance(each.entry.body, Opening)),
            None,
        )

    def operands(self, figure: str, figures: Figures, unit: Unit) -> Iterator[Operand]:
        """Give what entries contribute to a figure, in order of what stands and then of what is undone."""
        for each in self.by_figure.get(figure, ()):
            yield from_entry(figures, each.entry, each.source, each.value, unit)


def from_entry(figures: Figures, entry: int, source: str, value: int, unit: Unit) -> Operand:
    """Give what an entry says as an operand: its figure of that name, or what stands in it where it has none, or where
    only a part of it counts."""
    name = f"entries.{entry}.{source}"
    if name in figures:
        found = figures.operand(Role.PLUS, name, entry)
        if found.value in (value, -value):
            return found if found.value == value else found.opposite()
    return signed(said_by(value, unit, entry))


def said_by(value: Value, unit: Unit, *entries: int, name: str | None = None) -> Operand:
    """Give what entries say as an operand."""
    return Operand(role=Role.PLUS, value=value, unit=unit, origin=Origin.ENTRIES, name=name, entries=entries)


def before(value: Value, unit: Unit, figure: str | None, name: str | None = None) -> Operand:
    """Give what the month before left as an operand: a figure of that month, or something that has only a name."""
    return Operand(role=Role.PLUS, value=value, unit=unit, origin=Origin.MONTH_BEFORE, figure=figure, name=name)


def handed_on(sheet: Sheet, found: Contributions, member: str, what: str, figure: str) -> list[Operand]:
    """Give what a member has of held, cost or due from the month before, where it is a figure, and from an opening
    entry."""
    unit = Unit.CREDITS if what == "held" else Unit.MONEY
    position = sum(getattr(each, what) for each in sheet.opening.members if each.member == member)
    if not found.opening:
        return [before(position, unit, figure)]
    number, body = found.opening
    said = sum(getattr(each, what) for each in body.members if each.member == member)
    return [before(position - said, unit, figure), said_by(said, unit, number)]


def cost_of(figures: Figures, moved: Movement) -> Operand:
    """Give the fixed cost of what came into the stock or was taken back out of it."""
    source = "amount" if moved.way is Way.IN else "cost"
    return from_entry(figures, moved.entry, source, moved.cost, Unit.MONEY)


def contributions(facts: MonthFacts) -> Contributions:
    """Find what each entry contributes."""
    standing, reversals = split(facts.entries)
    found = Contributions(standing=standing, reversals=reversals)
    for one in standing:
        tallies = Tallies()
        tallies.add(one)
        found.sides[one.entry.number] = parties(one.entry.body)
        for code, tally in tallies.members.items():
            found.outside_out |= tally.outside_out
            found.spent.setdefault(code, []).extend(tally.spent)
            found.write_offs.setdefault(code, []).extend(tally.written_off)
        _note_credits(found, one.entry, tallies)
        _note_money(found, one.entry, "amount", _money(tallies))
        if moved := movement(one):
            found.movements.append(moved)
    left = dict(facts.originals)
    for reversal in reversals:
        if isinstance(reversal.body, Reversal):
            of, quantity = reversal.body.entry, reversal.body.quantity or 1
            undoing = Undoing(
                reversal=reversal,
                of=of,
                quantity=quantity,
                original=left[of],
                part=left[of].part(quantity),
                still_open=reversal.body.still_open,
            )
            left[of] = left[of].without(quantity)
            _note_undoing(found, undoing)
    return found


def _note_undoing(found: Contributions, undoing: Undoing) -> None:
    """Note what a reversal does by what was owed, and what it does beyond that by what it had cost and who bore it."""
    found.undoings.append(undoing)
    reversal, (quantity, value, cost, shares) = undoing.reversal, undoing.part

    def tallied(cost: int, shares: Mapping[str, int]) -> Tallies:
        tallies, part = Tallies(), Part(quantity, value, cost, shares)
        tallies.undo(reversal.effective_on, undoing.original.body, part, still_open=undoing.still_open)
        return tallies

    by_value = tallied(0, {})
    found.open_changes += [(change, reversal.number) for change in by_value.carried]
    _note_credits(found, reversal, by_value)
    _note_money(found, reversal, "value", _money(by_value))
    _note_money(found, reversal, "cost", _money(tallied(cost, {})), _money(by_value))
    for member, share in shares.items():
        _note_money(found, reversal, f"shares.{member}", _money(tallied(0, {member: share})), _money(by_value))
    if moved := undone(reversal, undoing.of, undoing.original.body, Costed(quantity, cost)):
        found.movements.append(moved)


def _note_credits(found: Contributions, entry: Fact, tallies: Tallies) -> None:
    """Note which credits one entry moved in tallies that were empty before."""
    for pair, quantity in tallies.open.items():
        found.passed.setdefault(pair, []).append(Contribution(entry.number, "quantity", quantity))
    for code, tally in tallies.members.items():
        for on, change in tally.days.items():
            found.moves.setdefault(code, []).append(Move(on, entry.number, change))
        for part in _COSTED:
            if quantity := getattr(tally, part).quantity:
                contribution = Contribution(entry.number, "quantity", quantity)
                found.by_figure.setdefault(f"members.{code}.{part}.quantity", []).append(contribution)


def _money(tallies: Tallies) -> dict[str, int]:
    """Give the money in tallies by the figures that it counts in."""
    found: dict[str, int] = {}
    for code, tally in tallies.members.items():
        found |= {f"members.{code}.{part}.cost": getattr(tally, part).cost for part in _COSTED}
        found |= {f"members.{code}.due.{line}": amount for line, amount in tally.due.items()}
        found[f"members.{code}.gain_undone"] = tally.gain_undone
    return found


def _note_money(
    found: Contributions, entry: Fact, source: str, money: Mapping[str, int], less: Mapping[str, int] = _NOTHING
) -> None:
    """Note an entry's money, less what is noted already."""
    for figure, amount in money.items():
        if change := amount - less.get(figure, 0):
            found.by_figure.setdefault(figure, []).append(Contribution(entry.number, source, change))
