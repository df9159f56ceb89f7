"""What a record's running balances say by themselves: the balance it opens with, and where rows are missing.

Each row leads from the balance before it to the balance after it. The rows of a complete day form one trail from the
day's opening to its closing, in whatever order the file lists them: every balance but those two is entered as often as
it is left (Hierholzer's condition for an Eulerian trail, 1873, from memory). A missing row leaves one balance entered
too often and another left too often, and the step between the two is what it moved. Nothing is known here of matches.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter

from pool_api.domain.matching.report import Break
from pool_api.domain.record import VendorRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """What balances say of an account's rows; no opening where the rows of the first day have no balances, no closing
    where those of the last day have none."""

    opening: int | None
    closing: int | None
    breaks: tuple[Break, ...]


def trail_of(rows: Iterable[VendorRow]) -> Trail:
    """Follow the running balances of one account's rows, given in any order. Rows without a balance prove nothing."""
    ordered = sorted(rows, key=lambda row: (row.day, row.line, row.content, row.occurrence))
    days = [list(group) for _, group in groupby(ordered, key=attrgetter("day"))]
    opening: int | None = None
    at: int | None = None
    breaks: list[Break] = []
    for number, there in enumerate(days):
        if not _told_whole(there):
            at = None
            continue
        if at is None:
            at = _anchor(days[number:])
        begin, found, at = _follow(there[0].day, there, at)
        breaks += found
        if number == 0:
            opening = begin
    return Trail(opening=opening, closing=at, breaks=tuple(breaks))


def in_order(rows: Iterable[VendorRow]) -> list[VendorRow]:
    """Give one day's rows of an account in an order in which each begins with the balance that the one before left.

    Where rows are missing, the order goes on behind the gap; among several orders, the file's lines decide. Without
    balances it is the order of the lines.
    Source:  Hierholzer's construction of an Eulerian trail, 1873, from memory."""
    left = sorted(rows, key=lambda row: (row.line, row.content, row.occurrence))
    if not left or not _told_whole(left):
        return left
    starts, ends = _ends(left)
    begin = starts[0] if starts else _before(left[0])
    steps: defaultdict[int, list[tuple[int, VendorRow | None]]] = defaultdict(list)
    for row in reversed(left):
        steps[_before(row)].append((row.balance or 0, row))
    for end, start in zip(ends, starts[1:], strict=False):
        steps[end].insert(0, (start, None))
    ordered: list[VendorRow] = []
    for node in (begin, *map(_before, left)):
        ordered += _walk(steps, node)
    return ordered


def _walk(steps: dict[int, list[tuple[int, VendorRow | None]]], begin: int) -> list[VendorRow]:
    """Take all steps that can be reached from a balance out of the steps left, in the order of a trail."""
    found: list[VendorRow] = []
    path: list[tuple[int, VendorRow | None]] = [(begin, None)]
    while path:
        onward = steps.get(path[-1][0])
        if onward:
            path.append(onward.pop())
        else:
            row = path.pop()[1]
            if row is not None:
                found.append(row)
    return found[::-1]


def _before(row: VendorRow) -> int:
    return (row.balance or 0) - row.signed


def _told_whole(rows: list[VendorRow]) -> bool:
    return all(row.balance is not None for row in rows)


def _anchor(days: list[list[VendorRow]]) -> int | None:
    """Give the balance that the first day begins with where that day alone doesn't say it: it ends where it began.

    The days after it that do the same go through that balance too, and the first other day starts from it. Where more
    than one balance is left, the last line of the first day decides. None for a first day that says it by itself."""
    possible: set[int] | None = None
    for there in days:
        starts = set(_ends(there)[0]) if _told_whole(there) else set()
        here = starts or (set(map(_before, there)) if _told_whole(there) else set())
        if not here:
            break
        if possible is not None and possible & here:
            possible &= here
        elif possible is None and not starts:
            possible = here
        if starts or possible is None:
            break
    last = days[0][-1].balance
    if not possible:
        return None
    return last if last in possible else min(possible)


def _follow(day: date, rows: list[VendorRow], at: int | None) -> tuple[int, list[Break], int]:
    """Follow one day from the balance before it, None when that isn't known. Gives the balance that the day begins
    with, its breaks, and the balance that it ends with."""
    starts, ends = _ends(rows)
    last = rows[-1].balance or 0
    if not starts:
        ring = {row.balance for row in rows}
        closed = last if at is None or at not in ring else at
        broken = at is not None and at not in ring
        return closed, [Break(day=day, missing=None)] if broken else [], closed
    start = at if at in starts else starts[0]
    breaks = [] if at in (None, start) else [Break(day=day, missing=start - (at or 0))]
    closing = last if last in ends else ends[-1]
    starts.remove(start)
    ends.remove(closing)
    if starts:
        breaks.append(Break(day=day, missing=starts[0] - ends[0] if len(starts) == 1 else None))
    return start, breaks, closing


def _ends(rows: Sequence[VendorRow]) -> tuple[list[int], list[int]]:
    """Give the balances that are left more often than entered, and those entered more often than left, ascending."""
    before, after = [_before(row) for row in rows], [row.balance or 0 for row in rows]
    if before[1:] == after[:-1] and before[0] != after[-1]:
        return before[:1], after[-1:]
    left, entered = Counter(before), Counter(after)
    return sorted((left - entered).elements()), sorted((entered - left).elements())
