"""Splits against trying everything: all sets of exact sums that share no row. Own cases; the oracle is brute force."""

from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.matching.notes import Notes
from pool_api.domain.matching.sides import OUTSIDE, Side
from pool_api.domain.matching.splits import LEAST_SCORE, MOST_PARTS, Split, splits
from pool_api.domain.matching.weighing import milli_log

BITS = {2: 12_000, 3: 10_000, 4: 8_000}
"""What a sum of so many parts is worth; each part of the same day adds a thousand, a day apart nothing."""

Rows = list[tuple[int, int]]
Whole = tuple[int, frozenset[int], int]


def side_of(rows: Rows) -> Side:
    """Make rows, given by quantity and day, of one pair of accounts, without notes or references."""
    quantity, day = np.array(rows, dtype=np.int64).reshape(len(rows), 2).T
    zeros = np.zeros(len(rows), dtype=np.int64)
    return Side(zeros + OUTSIDE + 1, zeros + OUTSIDE + 2, quantity, day, zeros, zeros, zeros, zeros)


def found(wholes: Rows, rows: Rows, window: int) -> tuple[Split, ...]:
    """Search splits."""
    ours, theirs = ({at: quantity for at, (quantity, _) in enumerate(each)} for each in (wholes, rows))
    return splits((side_of(wholes), ours), (side_of(rows), theirs), Notes([""]), window, frozenset())


def every_sum(wholes: Rows, rows: Rows, window: int) -> list[Whole]:
    """Give every exact sum, as whole, parts and score."""
    sums: list[Whole] = []
    for at, (wanted, day) in enumerate(wholes):
        near = [place for place, (quantity, on) in enumerate(rows) if abs(on - day) <= window and quantity < wanted]
        exact = [
            parts
            for count in range(2, MOST_PARTS + 1)
            for parts in combinations(near, count)
            if sum(rows[place][0] for place in parts) == wanted
        ]
        for parts in exact:
            same_day = sum(rows[place][1] == day for place in parts)
            score = BITS[len(parts)] + 1_000 * same_day - milli_log(len(exact))
            if score >= LEAST_SCORE:
                sums.append((at, frozenset(parts), score))
    return sums


def best_total(sums: list[Whole]) -> int:
    """Try every choice of sums that share nothing."""
    if not sums:
        return 0
    (whole, parts, score), *others = sums
    free = [each for each in others if each[0] != whole and not each[1] & parts]
    return max(best_total(others), score + best_total(free))


ROWS = st.lists(st.tuples(st.integers(1, 9), st.integers(739_000, 739_001)), max_size=6)
WHOLES = st.lists(st.tuples(st.integers(2, 20), st.integers(739_000, 739_001)), max_size=3)


@given(WHOLES, ROWS, st.integers(0, 1))
@settings(max_examples=200)
def test_what_is_kept_is_exact_shares_nothing_and_is_worth_most(wholes: Rows, rows: Rows, window: int) -> None:
    sums = every_sum(wholes, rows, window)

    kept = found(wholes, rows, window)

    assert {(each.whole, frozenset(each.parts), each.score) for each in kept} <= set(sums)
    used = [place for each in kept for place in each.parts]
    assert len(used) == len(set(used))
    assert len(kept) == len({each.whole for each in kept})
    if len(sums) <= 12:
        assert best_total(sums) == sum(each.score for each in kept)
