"""Breaks in running balances beside a slow twin, which tries every order of every day's rows.

Own twin and own cases."""

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby, pairwise, permutations
from operator import attrgetter

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.matching import Break
from pool_api.domain.matching.trail import trail_of
from pool_api.domain.record import VendorRow
from tests.domain.exports import ALDER, on, shown
from tests.domain.test_proof import balanced

Gaps = tuple[tuple[date, int], ...]
"""The days behind gaps, and what would have moved in each."""

STEPS = st.sampled_from([-3, -2, -1, 1, 2, 3])
DAYS = st.lists(st.lists(STEPS, min_size=1, max_size=4), min_size=1, max_size=4)


def record(days: Sequence[Sequence[int]], opening: int = 100) -> list[VendorRow]:
    """Show what moved on each day, from the fifth on, in the order in which it happened."""
    return balanced(
        opening,
        *(
            shown(None, ALDER, size, on(day)) if size > 0 else shown(ALDER, None, -size, on(day))
            for day, sizes in enumerate(days, start=5)
            for size in sizes
        ),
    )


def shuffled(rows: Iterable[VendorRow], chance: random.Random) -> list[VendorRow]:
    """Give the rows other lines."""
    there = list(rows)
    lines = list(range(len(there)))
    chance.shuffle(lines)
    return [replace(row, line=line) for row, line in zip(there, lines, strict=True)]


def fewest(rows: Iterable[VendorRow]) -> set[Gaps]:
    """Give the gaps of all orders of the rows within their days that have as few gaps as any."""
    reached: set[tuple[int | None, Gaps]] = {(None, ())}
    for day, group in groupby(sorted(rows, key=attrgetter("day")), key=attrgetter("day")):
        steps = [((row.balance or 0) - row.signed, row.balance or 0) for row in group]
        ways = {
            (way[0][0], way[-1][1], tuple((day, y - x) for (_, x), (y, _) in pairwise(way) if x != y))
            for way in permutations(steps)
        }
        reached = {
            (closing, gaps + (() if at in {None, opening} else ((day, opening - (at or 0)),)) + within)
            for at, gaps in reached
            for opening, closing, within in ways
        }
    least = min(len(gaps) for _, gaps in reached)
    return {gaps for _, gaps in reached if len(gaps) == least}


class TestBesideTheTwin:
    @given(DAYS, st.integers(0, 15), st.randoms(use_true_random=False))
    def test_one_row_removed_is_one_break_with_its_amount_where_nothing_else_can_have_moved(
        self, days: list[list[int]], at: int, chance: random.Random
    ) -> None:
        rows = record(days)
        at %= len(rows)
        left = rows[:at] + rows[at + 1 :]
        ways = fewest(left)

        breaks = trail_of(shuffled(left, chance)).breaks

        if ways == {()}:
            assert () == breaks
            return
        assert ((rows[at + 1].day, rows[at].signed),) in ways
        (told,) = breaks
        if told.missing is None:
            assert len(ways) > 1
            assert told.day in {day for ((day, _),) in ways}
        else:
            assert ((told.day, told.missing),) in ways

    @given(DAYS, st.sets(st.integers(0, 15), max_size=5), st.randoms(use_true_random=False))
    def test_there_is_no_break_exactly_where_some_order_has_no_gap(
        self, days: list[list[int]], gone: set[int], chance: random.Random
    ) -> None:
        left = [row for place, row in enumerate(record(days)) if place not in gone]

        assert (fewest(left) == {()}) == (trail_of(shuffled(left, chance)).breaks == ())


class TestOneRemoved:
    """Lines are listed backwards, so that they say nothing of the order."""

    @staticmethod
    def without(at: int, *days: Sequence[int]) -> list[VendorRow]:
        rows = record(days)
        return [replace(row, line=-row.line) for place, row in enumerate(rows) if place != at]

    def test_the_day_after_says_with_what_a_day_closed(self) -> None:
        left = self.without(3, (5, 3), (-2, -4, 5, -1, 4), (6,))

        assert (Break(day=on(6), missing=-4),) == trail_of(left).breaks

    def test_a_day_that_ended_where_it_began_has_one_break(self) -> None:
        left = self.without(2, (5,), (-2, -4, 6), (7,))

        assert (Break(day=on(6), missing=-4),) == trail_of(left).breaks

    def test_rows_that_come_back_behind_the_gap_are_not_taken_for_connected(self) -> None:
        left = self.without(2, (5,), (-2, -40, 6, -6), (7,))

        assert (Break(day=on(6), missing=-40),) == trail_of(left).breaks

    def test_where_the_last_day_could_close_with_either_balance_no_amount_is_told(self) -> None:
        left = self.without(
            3,
            (5,),
            (1, 2, -9, 4, 3, 7),
        )

        assert (Break(day=on(6), missing=None),) == trail_of(left).breaks

    def test_an_amount_is_told_where_both_balances_make_it_the_same(self) -> None:
        left = self.without(1, (2, 1, -2, -2))

        assert (Break(day=on(5), missing=1),) == trail_of(left).breaks

    def test_the_files_lines_decide_where_they_are_a_way_themselves(self) -> None:
        left = [replace(row, line=-row.line) for row in self.without(3, (5,), (1, 2, -9, 4, 3, 7))]

        assert (Break(day=on(6), missing=-9),) == trail_of(left).breaks
