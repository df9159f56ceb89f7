"""What the entries of each month add up to, day by day, before anything is costed.

Promises: adding entries one after the other, as they come, gives the same sums as adding them all at once. What an
entry does is said in effects.py and stock.py; this file only knows to which sums it goes, so that one more entry is one
more addition. Only a reversal of an entry of the same month changes what was added before: the day of that entry is
forgotten then, and its entries have to be added again.
"""

from bisect import insort
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import chain

from pool_api.domain.effects import Tallies
from pool_api.domain.entries import (
    BODIES,
    Acknowledgement,
    Close,
    Opening,
    Relocation,
    Reopening,
    Reversal,
    SignOff,
    Use,
    quantity_of,
)
from pool_api.domain.layers import Movement
from pool_api.domain.reversals import IN_ORDER, Fact, Standing, standing
from pool_api.domain.stock import MOVING_KINDS, movement
from pool_api.domain.values import Month

_NOTHING = frozenset({Acknowledgement, Close, Relocation, Reopening, Reversal, SignOff})
"""Kinds that add nothing to a month's sums."""

_OF_STOCK = frozenset(BODIES[kind] for kind in MOVING_KINDS)
"""Kinds that move the stock, or may."""


@dataclass(slots=True)
class _Day:
    tallies: Tallies = field(default_factory=Tallies)
    movements: list[Movement] = field(default_factory=list)
    openings: list[Standing] = field(default_factory=list)


@dataclass(slots=True)
class Activity:
    """One month. later are the reversals of entries of earlier months, in the order of (effective_on, number); first
    and last are the lowest and the highest number of its entries, 0 while there is none.

    changes counts what changed its sums, references what was reversed of its entries, in it or later: while a count
    stays, so does what it counts."""

    later: list[Fact] = field(default_factory=list)
    first: int = 0
    last: int = 0
    changes: int = 0
    references: int = 0
    _days: dict[date, _Day] = field(default_factory=dict)
    _shrinking: dict[int, list[Fact]] = field(default_factory=dict)
    _reversed: dict[int, Fact] = field(default_factory=dict)

    def openings(self) -> list[Standing]:
        """Give the opening entry, when it stands in this month."""
        return [each for day in self._in_order() for each in day.openings]

    def movements(self) -> list[Movement]:
        """Give what moves the stock, reversals of earlier months' entries apart, in order."""
        return [each for day in self._in_order() for each in day.movements]

    def add_to(self, tallies: Tallies) -> None:
        """Add the days, in order, to a month's tallies."""
        for day in self._in_order():
            tallies.absorb(day.tallies)

    def reversed(self) -> Iterable[Fact]:
        """Give the entries of the month that are reversed, in it or later."""
        return self._reversed.values()

    def concerned(self) -> Iterator[Fact]:
        """Give the entries of the month that are reversed, in it or later, and the reversals effective in it."""
        return chain(self._reversed.values(), chain.from_iterable(self._shrinking.values()), self.later)

    def add(self, entry: Fact) -> None:
        """Add an entry after those of its day with lower numbers; reversals are taken note of apart."""
        number, on, form = entry.number, entry.effective_on, type(entry.body)
        self.first = self.first or number
        self.last = max(self.last, number)
        if form in _NOTHING:
            return
        self.changes += 1
        found = standing(entry, self._shrinking.get(number, ()))
        if found is None:
            return
        day = self._days.get(on)
        if day is None:
            day = self._days[on] = _Day()
        day.tallies.add(found)
        if form in _OF_STOCK and (moved := movement(found)):
            day.movements.append(moved)
        if form is Opening:
            day.openings.append(found)

    def shrink(self, target: Fact, reversal: Fact, *, added: bool) -> date | None:
        """Take note of a reversal of an entry of the month, effective in it. Gives the day that was forgotten, if the
        entry had been added."""
        self.changes += 1
        insort(self._shrinking.setdefault(target.number, []), reversal, key=IN_ORDER)
        if not added:
            return None
        self._days.pop(target.effective_on, None)
        return target.effective_on

    def undo(self, reversal: Fact) -> None:
        """Take note of a reversal, effective in the month, of an entry of an earlier one."""
        self.changes += 1
        insort(self.later, reversal, key=IN_ORDER)

    def refer(self, target: Fact) -> None:
        """Take note of an entry of the month that is reversed, in it or later."""
        self.references += 1
        self._reversed[target.number] = target

    def used(self) -> dict[str, int]:
        """Give the credits that each member used, less what reversals of the month itself took back."""
        found: dict[str, int] = defaultdict(int)
        for day in self._days.values():
            for member, tally in day.tallies.members.items():
                found[member] += sum(credits for entry, credits in tally.spent if entry not in tally.outside_out)
        return found

    def _in_order(self) -> Iterator[_Day]:
        return (self._days[on] for on in sorted(self._days))


@dataclass(slots=True)
class Activities:
    """The months of a journal, up to the entry with the number through."""

    through: int = 0
    months: dict[Month, Activity] = field(default_factory=lambda: defaultdict(Activity))

    def numbers(self, month: Month) -> tuple[int, int]:
        """Give the lowest and the highest number of a month's entries, (0, 0) where it has none."""
        return (self.months[month].first, self.months[month].last) if month in self.months else (0, 0)

    def used(self) -> dict[Month, dict[str, int]]:
        """Give the credits that each member used, by month: a use counts in its own month with what all reversals,
        whenever they take effect, have left of it."""
        found = {month: activity.used() for month, activity in self.months.items()}
        targets = {each.number: each for activity in self.months.values() for each in activity.reversed()}
        for activity in self.months.values():
            for reversal in activity.later:
                target = targets[reversal.body.entry] if isinstance(reversal.body, Reversal) else reversal
                if isinstance(target.body, Use):
                    found[Month.of(target.effective_on)][target.body.member] -= quantity_of(reversal.body) or 0
        return found

    def reverse(self, reversals: Iterable[tuple[Fact, Fact]]) -> set[date]:
        """Take note of reversals that came after through, each with what it reverses, before any entry is added.

        Gives: the days that were forgotten: their entries have to be added with those that came after through."""
        forgotten = set()
        for reversal, target in reversals:
            month = Month.of(target.effective_on)
            self.months[month].refer(target)
            if month != Month.of(reversal.effective_on):
                self.months[Month.of(reversal.effective_on)].undo(reversal)
            elif day := self.months[month].shrink(target, reversal, added=target.number <= self.through):
                forgotten.add(day)
        return forgotten

    def add(self, entries: Iterable[Fact]) -> None:
        """Add entries in order of number."""
        by_day: dict[date, Activity] = {}
        for entry in entries:
            activity = by_day.get(entry.effective_on)
            if activity is None:
                activity = by_day[entry.effective_on] = self.months[Month.of(entry.effective_on)]
            activity.add(entry)
            self.through = entry.number


def gathered(entries: Iterable[Fact]) -> dict[Month, Activity]:
    """Add up a journal, or what of it was effective on some day or before, from its entries in any order."""
    in_order = sorted(entries, key=lambda each: each.number)
    return _added(in_order, {each.number: each for each in in_order})


def gathered_month(entries: Iterable[Fact], targets: Mapping[int, Fact], month: Month) -> Activity:
    """Add up a month, or what of it was effective on some day or before, from its entries in order of number. targets
    are what its reversals reverse, by number."""
    return _added([*entries], targets).get(month, Activity())


def _added(in_order: Sequence[Fact], targets: Mapping[int, Fact]) -> dict[Month, Activity]:
    found = Activities()
    found.reverse((each, targets[each.body.entry]) for each in in_order if isinstance(each.body, Reversal))
    found.add(in_order)
    return found.months
