"""Curves: costs over whole numbers of credits that are linear in pieces, and the few operations that planning needs.

A curve is a tuple of pieces (start, end, value, slope): from start to end, both included, it is value + slope × (x −
start). Pieces are in order and don't overlap; where there is none, the cost is impossible. All numbers are whole, so
nothing is rounded. Where they come from is not known here.

The point of pieces is that they are few: however many credits a plan is about, a curve has some hundred of them, where
a table over every level of stock would have as many rows as there are credits.
"""

from bisect import bisect_right
from collections import deque
from collections.abc import Iterator
from itertools import pairwise

Piece = tuple[int, int, int, int]
Curve = tuple[Piece, ...]


def value_at(curve: Curve, x: int) -> int | None:
    """Give a curve's value at a point, None where it is impossible."""
    at = bisect_right(curve, x, key=lambda piece: piece[0]) - 1
    if at < 0 or x > curve[at][1]:
        return None
    start, _, value, slope = curve[at]
    return value + slope * (x - start)


def ends(curve: Curve) -> Iterator[int]:
    """Give where pieces start and end, in order: every least value of a curve is taken at one of these points."""
    for start, end, _, _ in curve:
        yield start
        if end > start:
            yield end


def moved(curve: Curve, by: int) -> Curve:
    """Give a curve shifted to the right."""
    return tuple((start + by, end + by, value, slope) for start, end, value, slope in curve)


def raised(curve: Curve, by: int) -> Curve:
    """Give a curve with a constant added."""
    return tuple((start, end, value + by, slope) for start, end, value, slope in curve)


def tilted(curve: Curve, by: int) -> Curve:
    """Give a curve with by × x added."""
    return tuple((start, end, value + by * start, slope + by) for start, end, value, slope in curve)


def within(curve: Curve, first: int, last: int) -> Curve:
    """Give the part of a curve from first to last."""
    return tuple(
        (max(start, first), min(end, last), value + slope * (max(start, first) - start), slope)
        for start, end, value, slope in curve
        if end >= first and start <= last
    )


def falling(curve: Curve, last: int) -> Curve:
    """Give the least value that a curve has at a point or before it, up to last."""
    found: list[Piece] = []
    least: int | None = None
    for start, end, value, slope in curve:
        if least is None or value + min(0, slope * (end - start)) < least:
            if least is not None:
                _fill(found, start - 1, least)
            first = start
            if least is not None and value >= least:
                first = start + (value - least) // -slope + 1
                _fill(found, first - 1, least)
            at = value + slope * (first - start)
            _append(found, (first, end, at, slope) if slope < 0 else (first, end, at, 0))
            least = at + min(0, slope * (end - first))
    if least is not None:
        _fill(found, last, least)
    return tuple(found)


def least_in_window(curve: Curve, nearest: int, farthest: int, last: int) -> Curve:
    """Give, for each x from 0 to last, the least value that a curve has from x + nearest to x + farthest.

    It is taken at one end of the window or where a piece starts or ends inside it."""
    at_ends = lower(
        within(moved(curve, -nearest), 0, last),
        within(moved(curve, -farthest), 0, last),
    )
    return lower(at_ends, within(_least_end(within(curve, nearest, last + farthest), nearest, farthest), 0, last))


def lower(first: Curve, second: Curve) -> Curve:
    """Give the lower of two curves at each point."""
    found: list[Piece] = []
    mine, theirs = iter((*first, _NOWHERE)), iter((*second, _NOWHERE))
    one, other = next(mine), next(theirs)
    while one is not _NOWHERE or other is not _NOWHERE:
        if other[0] < one[0]:
            one, other, mine, theirs = other, one, theirs, mine
        start = one[0]
        if start < other[0]:
            end = min(one[1], other[0] - 1)
            _append(found, (start, end, one[2], one[3]))
        else:
            end = min(one[1], other[1])
            _append_lower(found, start, end, *sorted((one[2:], other[2:])))
            other = _after(other, end) or next(theirs)
        one = _after(one, end) or next(mine)
    return tuple(found)


_NOWHERE: Piece = (2**80, 2**80, 0, 0)
"""Stands behind the last piece of a curve."""


def _after(piece: Piece, end: int) -> Piece | None:
    """Give what is left of a piece after a point of it."""
    start, last, value, slope = piece
    return None if last == end else (end + 1, last, value + slope * (end + 1 - start), slope)


def _append_lower(found: list[Piece], start: int, end: int, low: tuple[int, int], high: tuple[int, int]) -> None:
    """Append the lower of two lines from start to end, the one first that begins lower."""
    if low[1] <= high[1]:
        _append(found, (start, end, *low))
        return
    stays = start + (high[0] - low[0]) // (low[1] - high[1])
    _append(found, (start, min(stays, end), *low))
    if stays < end:
        _append(found, (stays + 1, end, high[0] + high[1] * (stays + 1 - start), high[1]))


def _least_end(curve: Curve, nearest: int, farthest: int) -> Curve:
    """Give, for each x, the least value of the ends of pieces from x + nearest to x + farthest."""
    waiting = deque((x, value_at_end) for x, value_at_end in _ends_with_values(curve))
    changes = sorted({x for end, _ in waiting for x in (end - farthest, end - nearest + 1)})
    found: list[Piece] = []
    best: deque[tuple[int, int]] = deque()
    for x, after in pairwise(changes):
        while waiting and waiting[0][0] <= x + farthest:
            end, value = waiting.popleft()
            while best and best[-1][1] >= value:
                best.pop()
            best.append((end, value))
        while best and best[0][0] < x + nearest:
            best.popleft()
        if best:
            _append(found, (x, after - 1, best[0][1], 0))
    return tuple(found)


def _ends_with_values(curve: Curve) -> Iterator[tuple[int, int]]:
    for start, end, value, slope in curve:
        yield start, value
        if end > start:
            yield end, value + slope * (end - start)


def _fill(found: list[Piece], last: int, value: int) -> None:
    """Go on at a level up to a point."""
    after = found[-1][1] + 1
    if after <= last:
        _append(found, (after, last, value, 0))


def _append(found: list[Piece], piece: Piece) -> None:
    """Append a piece, as one with the last where both lie on a line."""
    start, end, value, slope = piece
    if found and found[-1][1] + 1 == start:
        begins, ended, level, rise = found[-1]
        if begins == ended:
            rise = value - level
        if level + rise * (start - begins) == value and (start == end or slope == rise):
            found[-1] = (begins, end, level, rise)
            return
    found.append(piece)
