"""The matches of a report, put together when they are asked for: of a large record few are ever looked at."""

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import overload

import numpy as np

from pool_api.domain.entries import digest
from pool_api.domain.matching.columns import column
from pool_api.domain.matching.course import Course
from pool_api.domain.matching.report import Match, Movement, Status
from pool_api.domain.matching.sides import Shown
from pool_api.domain.matching.wording import reasons


class Matches(Sequence[Match]):
    """All matches in order of day, then entry: the course's pairs, and those made of its links. Equal to any sequence
    of equal matches."""

    def __init__(self, course: Course, linked: Sequence[Match]) -> None:
        self._course, self._linked = course, linked
        pairs = course.pairs
        self.pairs = len(pairs)
        entries = column([course.journal[place].entry for place in pairs.left.tolist()])
        days = np.append(course.theirs.day[pairs.right], column([match.day.toordinal() for match in linked]))
        first = np.append(entries, column([match.entries[0] for match in linked]))
        self._order: list[int] = np.lexsort((first, days)).tolist()

    def __len__(self) -> int:
        return len(self._order)

    @overload
    def __getitem__(self, at: int) -> Match: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Match, ...]: ...
    def __getitem__(self, at: int | slice) -> Match | tuple[Match, ...]:
        if isinstance(at, slice):
            return tuple(self._numbered(number) for number in self._order[at])
        return self._numbered(self._order[at])

    def __iter__(self) -> Iterator[Match]:
        return map(self._numbered, self._order)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence):
            return NotImplemented
        return len(self) == len(other) and all(mine == theirs for mine, theirs in zip(self, other, strict=True))

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))

    def key(self, pair: int) -> str:
        """Give the key of the match that a pair of the course is."""
        left, right = int(self._course.pairs.left[pair]), int(self._course.pairs.right[pair])
        return key_of("match", (self._course.journal[left],), (self._course.shown[right],))

    @cached_property
    def _pairs(self) -> list[tuple[int, int, bool, int, int, dict[str, int]]]:
        """Of each pair its places, whether it is sure, its score, how the notes compare, and the parts of the score."""
        pairs, sure = self._course.pairs, self._course.sure
        columns = (pairs.left, pairs.right, sure, pairs.total, pairs.weights.note_level)
        return list(zip(*(values.tolist() for values in columns), pairs.bits(), strict=True))

    def _numbered(self, number: int) -> Match:
        if number >= self.pairs:
            return self._linked[number - self.pairs]
        left, right, sure, score, note_level, bits = self._pairs[number]
        movement, shown = self._course.journal[left], self._course.shown[right]
        apart = self._course.days_apart(left, right)
        return Match(
            key=key_of("match", (movement,), (shown,)),
            status=Status.MATCHED if sure else Status.SUGGESTED,
            entries=(movement.entry,),
            rows=shown.identities,
            day=shown.day,
            giver=shown.giver,
            receiver=shown.receiver,
            quantity=shown.quantity,
            days_apart=apart,
            score=score,
            parts=reasons(bits, note_level, apart),
        )


def key_of(kind: str, lefts: Sequence[Movement], shown: Sequence[Shown]) -> str:
    """Give the digest of a finding's kind, its entries, and what the vendor's rows say; not of the rows' identities."""
    return digest([kind, sorted([each.entry for each in lefts]), sorted([_told(each) for each in shown])])


def _told(shown: Shown) -> list[str]:
    giver, receiver, reference = shown.giver or "", shown.receiver or "", shown.reference or ""
    return [shown.day.isoformat(), shown.kind, giver, receiver, str(shown.quantity), reference]
