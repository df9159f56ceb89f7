"""What a record's running balances say by themselves: the balance it opens with, and where rows are missing.

Each row leads from the balance before it to the balance after it. The rows of a complete day form one trail from the
day's opening to its closing, in whatever order the file lists them: every balance but those two is entered as often as
it is left (Hierholzer's condition for an Eulerian trail, 1873, from memory). A missing row leaves one balance entered
too often and another left too often, and the step between the two is what it moved. Nothing is known here of matches.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter

from pool_api.domain.matching.report import Break
from pool_api.domain.record import VendorRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Trail:
    """What balances say of an account's rows; no opening where the rows of the first day have no balances."""

    opening: int | None
    breaks: tuple[Break, ...]


def trail_of(rows: Iterable[VendorRow]) -> Trail:
    """Follow the running balances of one account's rows, given in any order. Rows without a balance prove nothing."""
    ordered = sorted(rows, key=lambda row: (row.day, row.line, row.content, row.occurrence))
    opening: int | None = None
    at: int | None = None
    breaks: list[Break] = []
    for day, group in groupby(ordered, key=attrgetter("day")):
        there = list(group)
        if any(row.balance is None for row in there):
            at = None
            continue
        first_seen = not breaks and opening is None and day == ordered[0].day
        found, at = _follow(day, there, at)
        breaks += found.breaks
        if first_seen:
            opening = found.opening
    return Trail(opening=opening, breaks=tuple(breaks))


def _follow(day: date, rows: list[VendorRow], at: int | None) -> tuple[Trail, int]:
    """Follow one day from the balance before it, None when that isn't known. Gives the balance after it, too."""
    left, entered = _ends(rows)
    starts, ends = sorted((left - entered).elements()), sorted((entered - left).elements())
    last = rows[-1].balance or 0
    if not starts:
        ring = {row.balance for row in rows}
        closed = last if at is None or at not in ring else at
        broken = at is not None and at not in ring
        return _told(closed, [Break(day=day, missing=None)] if broken else []), closed
    start = at if at in starts else starts[0]
    breaks = [] if at in (None, start) else [Break(day=day, missing=start - (at or 0))]
    closing = last if last in ends else ends[-1]
    starts.remove(start)
    ends.remove(closing)
    if starts:
        breaks.append(Break(day=day, missing=starts[0] - ends[0] if len(starts) == 1 else None))
    return _told(start, breaks), closing


def _told(opening: int, breaks: list[Break]) -> Trail:
    return Trail(opening=opening, breaks=tuple(breaks))


def _ends(rows: Iterable[VendorRow]) -> tuple[Counter[int], Counter[int]]:
    """Count how often each balance is left and entered."""
    left: Counter[int] = Counter()
    entered: Counter[int] = Counter()
    for row in rows:
        after = row.balance or 0
        left[after - row.signed] += 1
        entered[after] += 1
    return left, entered
