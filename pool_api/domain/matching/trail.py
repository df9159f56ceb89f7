"""What a record's running balances say by themselves: the balance it opens with, and where rows are missing.

Each row leads from the balance before it to the balance after it. The rows of a complete day form one trail from the
day's opening to its closing, in whatever order the file lists them: every balance but those two is entered as often as
it is left (Hierholzer's condition for an Eulerian trail, 1873, from memory). A missing row leaves one balance entered
too often and another left too often, or takes the day apart into pieces that share no balance; it moved what the day's
rows lack from its opening to its closing. Which balances these are, the days beside it say as much as the day itself.
Nothing is known here of matches.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter, ne

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
    """Follow the running balances of one account's rows, given in any order. Rows without a balance prove nothing.

    Of all ways through the days, one with the fewest gaps is taken; where several have as few, the file's lines decide.
    Laws:    no break exactly where some order of each day's rows leaves no gap."""
    ordered = sorted(rows, key=lambda row: (row.day, row.line, row.content, row.occurrence))
    days = [list(group) for _, group in groupby(ordered, key=attrgetter("day"))]
    breaks: list[Break] = []
    way: list[_Passed] = []
    for whole, stretch in groupby(days, key=_told_whole):
        passed = _backward(_forward(map(_Day.of, stretch))) if whole else []
        breaks += _breaks(passed)
        way += [passed[0], passed[-1]] if passed else []
    return Trail(
        opening=way[0].opening if way and _told_whole(days[0]) else None,
        closing=way[-1].closing if way and _told_whole(days[-1]) else None,
        breaks=tuple(breaks),
    )


def in_order(rows: Iterable[VendorRow]) -> list[VendorRow]:
    """Give one day's rows of an account in an order in which each begins with the balance that the one before left.

    Where rows are missing, the order goes on behind the gap; among several orders, the file's lines decide. Without
    balances it is the order of the lines.
    Source:  Hierholzer's construction of an Eulerian trail, 1873, from memory."""
    left = sorted(rows, key=lambda row: (row.line, row.content, row.occurrence))
    if not left or not _told_whole(left):
        return left
    starts, ends = _ends(*_balances(left))
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


def _balances(rows: Sequence[VendorRow]) -> tuple[list[int], list[int]]:
    """Give the balances before the rows, and those after them."""
    after = [row.balance or 0 for row in rows]
    return [there - row.signed for row, there in zip(rows, after, strict=True)], after


def _told_whole(rows: list[VendorRow]) -> bool:
    return all(row.balance is not None for row in rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Day:
    """One day's balances before and after each row, by the file's lines, and how its rows can be passed with the fewest
    gaps between them: the balances to begin and to end with, the least number of gaps, the piece that each balance is
    in, and the pieces passed at one go.

    A piece is made of rows that share balances. One that is entered as often as left, everywhere, is a ring: it can be
    begun with any balance, and ends there."""

    day: date
    before: list[int]
    after: list[int]
    begins: set[int]
    ends: set[int]
    gaps: int
    piece: dict[int, int]
    at_one_go: set[int]

    @classmethod
    def of(cls, rows: list[VendorRow]) -> "_Day":
        """Take a day's rows apart, given in the order of the file's lines."""
        before, after = _balances(rows)
        starts, ends = _ends(before, after)
        piece = _pieces(before, after)
        goes = Counter(piece[balance] for balance in starts)
        names = set(piece.values())
        rings = {balance for balance, name in piece.items() if name not in goes} if len(names) > len(goes) else set()
        return cls(
            day=rows[0].day,
            before=before,
            after=after,
            begins={*starts, *rings},
            ends={*ends, *rings},
            gaps=len(starts) + len(names) - len(goes) - 1,
            piece=piece,
            at_one_go={name for name in names if goes[name] <= 1},
        )

    def facing(self, balances: set[int], others: set[int]) -> set[int]:
        """Give those of the balances that the day can have at its one end with one of the others at its other end.

        A piece passed at one go is not both the first and the last where there are more. Rows that pass a piece at
        several goes cross, and can change over there."""
        if not self.gaps:
            return balances & others if self.begins == self.ends else balances
        names = {self.piece[balance] for balance in others}
        if len(names) > 1 or not names <= self.at_one_go:
            return balances
        return {balance for balance in balances if self.piece[balance] not in names}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reached:
    """A day, and what it can begin and end with after the days before. Loops are balances that the day before can end
    with and that this one, with one more gap, can both begin and end with: a day that ended where it began, before a
    row got lost."""

    day: _Day
    begins: set[int]
    ends: set[int]
    loops: set[int]

    def openings(self, closing: int) -> set[int]:
        """Give what the day can have begun with where it ends with a balance."""
        return self.day.facing(self.begins, {closing}) if closing in self.ends else {closing}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Passed:
    """A day as it is passed: the balances that it begins and ends with, the gaps within, and what moved in them; sure
    where nothing else can have moved."""

    day: date
    opening: int
    closing: int
    gaps: int
    moved: int
    sure: bool


def _forward(days: Iterable[_Day]) -> list[_Reached]:
    """Reach each day from the one before with the fewest gaps.

    A gap before a day costs as much as any other, so nothing is gained by a balance that costs one more now."""
    found: list[_Reached] = []
    for day in days:
        before = found[-1].ends | found[-1].loops if found else day.begins
        begins = day.begins & before
        loops = set() if begins else before & day.piece.keys()
        begins = begins or day.begins
        found.append(_Reached(day=day, begins=begins, ends=day.facing(day.ends, begins), loops=loops))
    return found


def _backward(reached: list[_Reached]) -> list[_Passed]:
    """Choose each day's balances from the last day on, so that each ends as the next begins wherever it can."""
    found: list[_Passed] = []
    for each in reversed(reached):
        closings = each.ends | each.loops
        if found and found[-1].opening in closings:
            closings = {found[-1].opening}
        found.append(_passed(each, closings))
    return found[::-1]


def _passed(each: _Reached, closings: set[int]) -> _Passed:
    """Pass a day so that it ends with one of these balances, by the file's lines where they are such a way."""
    day = each.day
    closing = _chosen(closings, day.after[-1])
    openings = each.openings(closing)
    opening = _chosen(openings, day.before[0])
    gaps = day.gaps + (closing not in each.ends)
    sure = len(closings) == len(openings) == 1
    if not sure and not day.begins & day.ends:
        in_line = (opening, closing, gaps) == (day.before[0], day.after[-1], sum(map(ne, day.after, day.before[1:])))
        sure = in_line or len({end - begin for end in closings for begin in each.openings(end)}) == 1
    moved = closing - opening - sum(day.after) + sum(day.before)
    return _Passed(day=day.day, opening=opening, closing=closing, gaps=gaps, moved=moved, sure=sure)


def _chosen(possible: set[int], in_line: int) -> int:
    return in_line if in_line in possible else min(possible)


def _breaks(days: Sequence[_Passed]) -> Iterator[Break]:
    """Tell the gaps before days and within them; several within a day are one break, of which no amount is told."""
    for number, each in enumerate(days):
        before = days[number - 1] if number else None
        if before and before.closing != each.opening:
            sure = before.sure and each.sure
            yield Break(day=each.day, missing=each.opening - before.closing if sure else None)
        if each.gaps:
            sure = each.sure and each.gaps == 1
            yield Break(day=each.day, missing=each.moved if sure else None)


def _pieces(before: list[int], after: list[int]) -> dict[int, int]:
    """Give the piece of each balance, named by one of its balances: rows that share balances are in one."""
    if before[1:] == after[:-1]:
        return dict.fromkeys(before + after, before[0])
    beside: defaultdict[int, list[int]] = defaultdict(list)
    for here, there in zip(before, after, strict=True):
        beside[here].append(there)
        beside[there].append(here)
    piece: dict[int, int] = {}
    for first in beside:
        left = [first]
        while left:
            balance = left.pop()
            if balance not in piece:
                piece[balance] = first
                left += beside[balance]
    return piece


def _ends(before: list[int], after: list[int]) -> tuple[list[int], list[int]]:
    """Give the balances that are left more often than entered, and those entered more often than left, ascending."""
    if before[1:] == after[:-1] and before[0] != after[-1]:
        return before[:1], after[-1:]
    left, entered = Counter(before), Counter(after)
    return sorted((left - entered).elements()), sorted((entered - left).elements())
