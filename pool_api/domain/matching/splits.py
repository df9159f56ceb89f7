"""One movement on one side that is two to four on the other: which sums are found, and which of them are kept.

Splits are looked for among rows that one-to-one matching has left over, so a pair is never given up for a split. Among
splits that want the same rows the set with the largest total score is kept; it is found exactly for groups of up to
twelve splits, in larger ones the best split is taken first. The scores are own estimates, in milli-bits.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from pool_api.domain.matching.notes import CONTRARY, DIFFERENT, EQUAL, NAMED, SIMILAR, Notes
from pool_api.domain.matching.report import Part
from pool_api.domain.matching.sides import Side
from pool_api.domain.matching.weighing import milli_log

MOST_PARTS = 4
MOST_CANDIDATES = 16
LEAST_SCORE = 5_000

_SUM_BITS = {2: 12_000, 3: 10_000, 4: 8_000}
_DAY_BITS = {0: 1_000, 1: 0, 2: -1_000, 3: -1_500}
_LATER = -2_500
_NOTE_BITS = {EQUAL: 4_000, NAMED: 4_000, SIMILAR: 3_000, DIFFERENT: -1_000, CONTRARY: -3_000}
_REFERENCE_BITS = 10_000
_EXACT_UP_TO = 12
_MOST_SUMS = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """One whole on one side and its parts on the other, by place in the sides."""

    whole: int
    parts: tuple[int, ...]
    score: int
    reasons: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class _Sought:
    """What is compared: one side's wholes against the other side's rows, and the notes of both."""

    wholes: Side
    rows: Side
    quantity: Mapping[int, int]
    row_quantity: Mapping[int, int]
    notes: Notes


def splits(
    wholes: tuple[Side, Mapping[int, int]],
    rows: tuple[Side, Mapping[int, int]],
    notes: Notes,
    window: int,
    forbidden: frozenset[tuple[int, int]],
) -> tuple[Split, ...]:
    """Find the splits to keep.

    Takes:   wholes and rows — a side, and the quantity of each of its rows that is left over, by place;
             window — days between the whole and any part; forbidden — pairs of whole and row never to be matched.
    Gives:   splits with nothing in common, in order of the whole; each scores at least LEAST_SCORE.
    Source:  own rule."""
    sought = _Sought(wholes[0], rows[0], wholes[1], rows[1], notes)
    by_accounts: dict[tuple[int, int], list[int]] = {}
    for place in rows[1]:
        by_accounts.setdefault(_accounts(rows[0], place), []).append(place)
    found: list[Split] = []
    for whole in wholes[1]:
        near = [
            place
            for place in by_accounts.get(_accounts(wholes[0], whole), ())
            if abs(_apart(sought, whole, place)) <= window
            and rows[1][place] < wholes[1][whole]
            and (whole, place) not in forbidden
        ]
        near.sort(key=lambda place: (abs(_apart(sought, whole, place)), place))
        found.extend(_best_of(sought, whole, sorted(near[:MOST_CANDIDATES])))
    return tuple(sorted(_packed(found), key=lambda split: split.whole))


def _accounts(side: Side, place: int) -> tuple[int, int]:
    return int(side.giver[place]), int(side.receiver[place])


def _apart(sought: _Sought, whole: int, place: int) -> int:
    return int(sought.rows.day[place] - sought.wholes.day[whole])


def _best_of(sought: _Sought, whole: int, near: list[int]) -> list[Split]:
    """Score every exact sum for one whole; the more sums there are, the less each one says."""
    quantities, wanted = [sought.row_quantity[place] for place in near], sought.quantity[whole]
    sums = [
        parts
        for count in range(2, MOST_PARTS + 1)
        for parts, summands in zip(combinations(near, count), combinations(quantities, count), strict=True)
        if sum(summands) == wanted
    ]
    if not 0 < len(sums) <= _MOST_SUMS:
        return []
    doubt = -milli_log(len(sums))
    told = sought.notes.levels(np.full(len(near), sought.wholes.note[whole], dtype=np.int64), sought.rows.note[near])
    levels = dict(zip(near, told.tolist(), strict=True))
    scored = [_scored(sought, whole, parts, levels, doubt) for parts in sums]
    return [split for split in scored if split.score >= LEAST_SCORE]


def _scored(sought: _Sought, whole: int, parts: tuple[int, ...], level_of: Mapping[int, int], doubt: int) -> Split:
    at, levels = np.array(parts, dtype=np.int64), [level_of[place] for place in parts]
    note = sum(_NOTE_BITS.get(level, 0) for level in levels)
    days = [abs(_apart(sought, whole, place)) for place in parts]
    day = sum(_DAY_BITS.get(each, _LATER) for each in days)
    same = sought.wholes.reference[whole] > 0 and bool(
        (sought.rows.reference[at] == sought.wholes.reference[whole]).all()
    )
    reasons = [
        Part(
            name="sum", millibits=_SUM_BITS[len(parts)], says=f"{len(parts)} parts add up to {sought.quantity[whole]}"
        ),
        Part(name="day", millibits=day, says=_said_of_days(max(days))),
        Part(name="note", millibits=note, says=_said_of_notes(levels)),
    ]
    if same:
        reasons.append(Part(name="reference", millibits=_REFERENCE_BITS, says="one reference for all"))
    if doubt:
        reasons.append(Part(name="alternatives", millibits=doubt, says="other rows add up to the same"))
    return Split(whole=whole, parts=parts, score=sum(reason.millibits for reason in reasons), reasons=tuple(reasons))


def _said_of_days(most: int) -> str:
    return f"at most {most} {'day' if most == 1 else 'days'} apart"


def _said_of_notes(levels: Sequence[int]) -> str:
    agreeing = sum(level in (EQUAL, NAMED, SIMILAR) for level in levels)
    return f"{agreeing} of {len(levels)} notes agree"


def _packed(found: list[Split]) -> list[Split]:
    """Keep splits that share no row, with the largest total score in each group that shared rows connect."""
    kept: list[Split] = []
    for group in _connected(found):
        ordered = sorted(group, key=lambda split: (-split.score, len(split.parts), split.whole, split.parts))
        kept.extend(_exact(ordered) if len(ordered) <= _EXACT_UP_TO else _greedy(ordered))
    return kept


def _members(split: Split) -> frozenset[tuple[str, int]]:
    return frozenset({("whole", split.whole)} | {("part", place) for place in split.parts})


def _connected(found: list[Split]) -> list[list[Split]]:
    """Give the splits in groups that have no row in common."""
    root: dict[tuple[str, int], tuple[str, int]] = {}

    def top(member: tuple[str, int]) -> tuple[str, int]:
        while root.setdefault(member, member) != member:
            root[member] = root[root[member]]
            member = root[member]
        return member

    for split in found:
        for place in split.parts:
            root[top(("part", place))] = top(("whole", split.whole))
    groups: dict[tuple[str, int], list[Split]] = {}
    for split in found:
        groups.setdefault(top(("whole", split.whole)), []).append(split)
    return list(groups.values())


def _greedy(ordered: Sequence[Split]) -> list[Split]:
    kept: list[Split] = []
    taken: set[tuple[str, int]] = set()
    for split in ordered:
        if not taken & _members(split):
            kept.append(split)
            taken |= _members(split)
    return kept


def _exact(ordered: Sequence[Split]) -> list[Split]:
    """Try every set; among equal totals the one whose splits come earlier in the order."""
    if not ordered:
        return []
    first, rest = ordered[0], ordered[1:]
    free = [split for split in rest if not _members(split) & _members(first)]
    if len(free) == len(rest):
        return [first, *_exact(rest)]
    with_it = [first, *_exact(free)]
    without = _exact(rest)
    return with_it if _score(with_it) >= _score(without) else without


def _score(kept: Sequence[Split]) -> int:
    return sum(split.score for split in kept)
