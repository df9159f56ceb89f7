"""What the outcome of the comparison means: matches with keys, and differences by kind, with what would mend them.

A difference's key is a digest of its kind, its entries, and what the vendor's rows say; not of the rows' identities, so
that it stays the same when the other side's record of the movement is imported later. Equal ones are counted.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

import numpy as np

from pool_api.domain.entries import digest
from pool_api.domain.matching import wording
from pool_api.domain.matching.columns import Ints, looked_up
from pool_api.domain.matching.course import Course, Link
from pool_api.domain.matching.coverage import Covered
from pool_api.domain.matching.matched import Matches, key_of
from pool_api.domain.matching.mending import Mender
from pool_api.domain.matching.report import Difference, DifferenceKind, Match, Mend, Movement, Part
from pool_api.domain.matching.sides import KINDS, Accounts, Shown
from pool_api.domain.matching.twins import Twins
from pool_api.domain.record import MovementKind
from pool_api.domain.values import Month


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """Matches and differences. Each entry and each shown movement belongs to one finding: its number, by place."""

    matches: Matches
    differences: tuple[Difference, ...]
    uncovered: tuple[int, ...]
    of_entry: Ints
    of_shown: Ints
    others: Sequence[str]

    def key(self, number: int) -> str | None:
        """Give the key of a finding, None for entries that are cancelled or that no record could show."""
        pairs = self.matches.pairs
        if number < pairs:
            return self.matches.key(number)
        return self.others[number - pairs] if number - pairs < len(self.others) else None


def findings(course: Course, accounts: Accounts, covered: Covered, reopened: Collection[str] = ()) -> Findings:
    """Name everything that the course has linked or left over; no difference has a key that was reopened."""
    judge = _Judge(course, accounts, covered, reopened)
    for pair in judge.told_besides():
        judge.besides((int(course.pairs.left[pair]),), (int(course.pairs.right[pair]),))
    for link in course.links:
        judge.linked(link)
    for place in course.right:
        judge.only_shown(place)
    for place in course.left:
        judge.only_recorded(place)
    pairs, groups = len(course.pairs), judge.groups
    of_entry = np.full(len(course.journal), pairs + len(groups), dtype=np.int64)
    of_shown = np.zeros(len(course.shown), dtype=np.int64)
    of_entry[course.pairs.left] = of_shown[course.pairs.right] = np.arange(pairs)
    for number, (_, lefts, rights) in enumerate(groups, start=pairs):
        of_entry[list(lefts)], of_shown[list(rights)] = number, number
    return Findings(
        matches=Matches(course, judge.matches),
        differences=tuple(sorted(judge.differences, key=lambda found: (found.day, found.entries, found.key))),
        uncovered=tuple(sorted(judge.uncovered)),
        of_entry=of_entry,
        of_shown=of_shown,
        others=tuple(key for key, _, _ in groups),
    )


class _Judge:
    """Collects the findings; mending and wording are others' work. Groups are those that take rows, pairs apart: key,
    and the places of both sides."""

    def __init__(self, course: Course, accounts: Accounts, covered: Covered, reopened: Collection[str]) -> None:
        self._course, self._accounts, self._covered, self._reopened = course, accounts, covered, reopened
        self._mender = Mender(course, accounts)
        self._keys: Counter[str] = Counter()
        self._twins = Twins(course)
        self.matches: list[Match] = []
        self.differences: list[Difference] = []
        self.uncovered: list[int] = []
        self.groups: list[tuple[str, tuple[int, ...], tuple[int, ...]]] = []

    def told_besides(self) -> list[int]:
        """Give the pairs that `besides` could have something to say of."""
        course, pairs = self._course, self._course.pairs
        accounts, transfer = self._accounts, MovementKind.TRANSFER
        ours, theirs = course.ours.day[pairs.left], course.theirs.day[pairs.right]
        other_month = looked_up(ours, _month_number) != looked_up(theirs, _month_number)
        kind = course.theirs.kind[pairs.right]
        single = (course.shown.second[pairs.right] < 0) & (kind == KINDS.index(transfer))
        there = [accounts.code(each) for each in accounts.handles if self._covered.shows(each, transfer)]
        single &= np.isin(self._other(pairs.right), there)
        bought = kind == KINDS.index(MovementKind.PURCHASE)
        return np.flatnonzero(other_month | single | bought).tolist()

    def _other(self, places: Ints) -> Ints:
        """Give of shown movements the account whose record is not the one of their first row."""
        side, own = self._course.theirs, self._course.shown.own[self._course.shown.first]
        other: Ints = np.where(own == side.giver, side.receiver, side.giver)[places]
        return other

    def linked(self, link: Link) -> None:
        """Name a link: a match, or a difference where it deviates; and what is said of a match besides."""
        lefts, shown = self._movements(link.lefts), self._shown(link.rights)
        if link.deviation is not None:
            said = wording.deviation(link.deviation, lefts[0], shown[0], self._quantity(link))
            mend = self._mender.deviation(link.deviation, lefts[0], shown[0], self._quantity(link))
            key = self._add(link.deviation, lefts, shown, said, mend, link.parts)
        else:
            key = self._match(link, lefts, shown)
            self.besides(link.lefts, link.rights)
        self.groups.append((key, link.lefts, link.rights))

    def only_shown(self, place: int) -> None:
        """Name a movement that only the vendor shows."""
        shown = self._course.shown[place]
        lacking = self._lacking(shown)
        said = wording.movement(shown.kind, shown.giver, shown.receiver, shown.quantity)
        if lacking:
            kind, sentence = (
                DifferenceKind.ONE_RECORD_ONLY,
                wording.one_record(said, shown.day, lacking, in_journal=False),
            )
        elif place in self._twins.shown:
            kind, sentence = DifferenceKind.DUPLICATE, wording.shown_twice(said, shown.day)
        else:
            kind, sentence = DifferenceKind.MISSING_IN_JOURNAL, wording.only_shown(said, shown.day)
        key = self._add(kind, (), (shown,), sentence, self._mender.missing(shown))
        self.groups.append((key, (), (place,)))

    def only_recorded(self, place: int) -> None:
        """Name an entry that only the journal has, unless no record on file could show it."""
        movement, quantity = self._course.journal[place], self._course.left[place]
        reversals = self._course.absorbed(place)[1:]
        entries = (movement, *self._movements(reversals))
        covering = [
            account
            for account in (movement.giver, movement.receiver)
            if account is not None and self._shows(account, movement.day, movement.kind)
        ]
        if not covering:
            self.uncovered.extend(each.entry for each in entries)
            return
        said = wording.movement(movement.kind, movement.giver, movement.receiver, quantity)
        if place in self._twins.entries:
            kind, sentence = DifferenceKind.DUPLICATE, wording.recorded_twice(movement, said)
        else:
            kind, sentence = DifferenceKind.MISSING_AT_VENDOR, wording.only_recorded(movement, said, covering)
        mend = None if movement.reverses is not None else self._mender.reverse(movement, quantity)
        key = self._add(kind, entries, (), sentence, mend)
        self.groups.append((key, (place, *reversals), ()))

    def _match(self, link: Link, lefts: tuple[Movement, ...], shown: tuple[Shown, ...]) -> str:
        key = key_of("match", lefts, shown)
        self.matches.append(
            Match(
                key=key,
                status=link.status,
                entries=tuple(each.entry for each in lefts),
                rows=tuple(identity for each in shown for identity in each.identities),
                day=shown[0].day,
                giver=shown[0].giver,
                receiver=shown[0].receiver,
                quantity=sum(each.quantity for each in shown),
                days_apart=(shown[0].day - lefts[0].day).days,
                score=link.score,
                parts=link.parts,
            )
        )
        return key

    def besides(self, entries: tuple[int, ...], rows: tuple[int, ...]) -> None:
        """Name what a match's rows, given by place, disagree in although they are one movement."""
        lefts, shown = self._movements(entries), self._shown(rows)
        first = lefts[0]
        for each in shown:
            lacking = self._lacking(each)
            if lacking:
                said = wording.movement(each.kind, each.giver, each.receiver, each.quantity)
                sentence = wording.one_record(said, each.day, lacking, in_journal=True)
                self._add(DifferenceKind.ONE_RECORD_ONLY, lefts, (each,), sentence)
        one_to_one = len(rows) == 1 and not any(each.reverses for each in lefts)
        for each in shown:
            if each.day != first.day and Month.of(each.day) != Month.of(first.day):
                mend = self._mender.redate(first, each) if one_to_one else None
                self._add(DifferenceKind.OTHER_MONTH, lefts, (each,), wording.other_month(first, each), mend)
        if one_to_one and len(lefts) == 1 and _paid_less(first, shown[0]):
            sentence = wording.amount(first, shown[0])
            self._add(DifferenceKind.AMOUNT, lefts, shown, sentence, self._mender.reprice(first, shown[0]))

    def _lacking(self, shown: Shown) -> str | None:
        """Give the account of the pool whose record covers the day of a transfer but doesn't show it."""
        if shown.kind is not MovementKind.TRANSFER or len(shown.rows) > 1:
            return None
        giver, receiver = shown.giver, shown.receiver
        other = receiver if self._accounts.code(shown.rows[0].account) == self._accounts.code(giver) else giver
        return other if other and self._shows(other, shown.day, shown.kind) else None

    def _shows(self, account: str, day: date, kind: MovementKind) -> bool:
        return self._accounts.among(account) and self._covered.on(account, day, kind)

    def _quantity(self, link: Link) -> int:
        """Give what the entry of a one-to-one link moves after the reversals in it."""
        first, *reversals = self._movements(link.lefts)
        return first.quantity - sum(each.quantity for each in reversals)

    def _movements(self, places: Iterable[int]) -> tuple[Movement, ...]:
        return tuple(self._course.journal[place] for place in places)

    def _shown(self, places: Iterable[int]) -> tuple[Shown, ...]:
        return tuple(self._course.shown[place] for place in places)

    def _add(  # noqa: PLR0917 - all that a difference says, in its own order
        self,
        kind: DifferenceKind,
        lefts: tuple[Movement, ...],
        shown: tuple[Shown, ...],
        sentence: str,
        mend: Mend | None = None,
        parts: tuple[Part, ...] = (),
    ) -> str:
        about: Shown | Movement = shown[0] if shown else lefts[0]
        key = self._key(kind, lefts, shown)
        self.differences.append(
            Difference(
                key=key,
                kind=kind,
                entries=tuple(each.entry for each in lefts),
                rows=tuple(identity for each in shown for identity in each.identities),
                day=about.day,
                giver=about.giver,
                receiver=about.receiver,
                quantity=about.quantity,
                sentence=sentence,
                mend=mend,
                parts=parts,
            )
        )
        return key

    def _key(self, kind: str, lefts: tuple[Movement, ...], shown: tuple[Shown, ...]) -> str:
        key = key_of(kind, lefts, shown)
        self._keys[key] += 1
        told = key if self._keys[key] == 1 else digest([key, self._keys[key]])
        while told in self._reopened:
            told = digest([told, "again"])
        return told


def _month_number(day: int) -> int:
    at = date.fromordinal(day)
    return at.year * 12 + at.month


def _paid_less(movement: Movement, shown: Shown) -> bool:
    """Tell whether the vendor charged more than the journal has; more in the journal may be a fee of someone else's."""
    return (
        movement.amount is not None and shown.amount is not None and Fraction(movement.amount) < Fraction(shown.amount)
    )
