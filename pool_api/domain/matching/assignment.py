"""How weighed candidate pairs become the best one-to-one choice, and how sure each chosen pair is.

The choice has the largest total weight of all, found separately in each group of rows that candidates connect (Jaro,
Journal of the American Statistical Association 84, 1989, from memory, uses the linear assignment problem so; the solver
is that of scipy). Weights are whole numbers above 0; leaving rows apart is worth 0. This file knows no field of a row.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pool_api.domain.matching.sides import Bools, Ints

MOST_PAIRS = 10_000_000
MOST_PAIRS_OF_A_KEY = 250_000
"""How many candidate pairs are weighed at once, and how many of one key before the key counts as crowded."""

_FAR = np.int64(2**62)
_DAY_BITS = 21


@dataclass(frozen=True, slots=True)
class Chosen:
    """The chosen candidates, by place in the list of candidates; what the best other choice would lose, weight 0 aside;
    and whether each one's whole group found partners."""

    place: Ints
    margin: Ints
    whole: Bools


def candidates(
    left: tuple[Ints, Ints], right: tuple[Ints, Ints], window: int, *, most: int = MOST_PAIRS
) -> tuple[Ints, Ints] | None:
    """Give all pairs of equal key whose days are at most window apart, in order of left, then day.

    Takes:   left and right — keys and days, one each per row.
    Gives:   places of left and of right rows; None when there are more than most pairs."""
    (left_key, left_day), (right_key, right_day) = left, right
    place = (right_key << _DAY_BITS) + right_day
    order = np.argsort(place, kind="stable")
    low = np.searchsorted(place[order], (left_key << _DAY_BITS) + left_day - window, side="left")
    high = np.searchsorted(place[order], (left_key << _DAY_BITS) + left_day + window, side="right")
    count = high - low
    if int(count.sum()) > most:
        return None
    i = np.repeat(np.arange(len(left_key), dtype=np.int64), count)
    within = np.arange(len(i), dtype=np.int64) - np.repeat(np.cumsum(count) - count, count)
    return i, order[np.repeat(low, count) + within]


def crowded_keys(left: tuple[Ints, Ints], right: tuple[Ints, Ints], window: int) -> Ints:
    """Give the keys with too many pairs to weigh: each of those beyond its own limit, then the largest ones until the
    rest is within the limit of all."""
    (left_key, left_day), (right_key, right_day) = left, right
    place = np.sort((right_key << _DAY_BITS) + right_day)
    low = np.searchsorted(place, (left_key << _DAY_BITS) + left_day - window, side="left")
    high = np.searchsorted(place, (left_key << _DAY_BITS) + left_day + window, side="right")
    keys, of_key = np.unique(left_key, return_inverse=True)
    pairs = np.zeros(len(keys), dtype=np.int64)
    np.add.at(pairs, of_key, high - low)
    order = np.lexsort((keys, -pairs))
    remaining = int(pairs.sum()) - np.cumsum(pairs[order]) + pairs[order]
    return keys[order][(pairs[order] > MOST_PAIRS_OF_A_KEY) | (remaining > MOST_PAIRS)]


def in_step(left_day: Ints, right_day: Ints, window: int) -> tuple[Ints, Ints]:
    """Pair off two sorted lists of days: equal days first, one by one in order, then what is left, in order.

    Gives:   places in left and right, days at most window apart.
    Source:  own rule, for crowded keys, where equal rows are too many to be told apart by weighing."""
    pairs = _walked(left_day, right_day, 0)
    left_over = np.setdiff1d(np.arange(len(left_day)), pairs[0])
    right_over = np.setdiff1d(np.arange(len(right_day)), pairs[1])
    more = _walked(left_day[left_over], right_day[right_over], window)
    return np.concatenate((pairs[0], left_over[more[0]])), np.concatenate((pairs[1], right_over[more[1]]))


def _walked(left_day: Ints, right_day: Ints, window: int) -> tuple[Ints, Ints]:
    i, j, pairs = 0, 0, []
    left, right = left_day.tolist(), right_day.tolist()
    while i < len(left) and j < len(right):
        if abs(left[i] - right[j]) <= window:
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif left[i] < right[j]:
            i += 1
        else:
            j += 1
    found = np.array(pairs, dtype=np.int64).reshape(len(pairs), 2)
    return found[:, 0], found[:, 1]


def assign(i: Ints, j: Ints, weight: Ints, left_same: Ints, right_same: Ints) -> Chosen:
    """Choose the pairs of the largest total weight, each row in at most one.

    Takes:   i, j — the candidates, no pair twice; weight — one per candidate, those of 0 and below never chosen;
             left_same, right_same — one code per row, equal for rows that nothing but their names tells apart.
    Gives:   the choice in order of the candidates. Rows told apart by name only keep their order; an exchange between
             them doesn't count against a margin."""
    usable = np.flatnonzero(weight > 0)
    lone, groups = _groups(i, j, usable)
    place, margin, whole = lone.tolist(), weight[lone].tolist(), [True] * len(lone)
    for group in groups:
        chosen, margins, complete = _within(i[group], j[group], weight[group], left_same, right_same)
        place.extend(group[chosen].tolist())
        margin.extend(margins)
        whole.extend([complete] * len(chosen))
    order = np.argsort(np.array(place, dtype=np.int64))
    return Chosen(
        np.array(place, dtype=np.int64)[order],
        np.array(margin, dtype=np.int64)[order],
        np.array(whole, dtype=np.bool_)[order],
    )


def _groups(i: Ints, j: Ints, usable: Ints) -> tuple[Ints, list[Ints]]:
    """Part the usable candidates into those without rivals and connected groups of several."""
    if not len(usable):
        return usable, []
    left, left_at = np.unique(i[usable], return_inverse=True)
    right, right_at = np.unique(j[usable], return_inverse=True)
    size = len(left) + len(right)
    ones = np.ones(len(usable), dtype=np.int8)
    graph = coo_array((ones, (left_at, len(left) + right_at)), shape=(size, size))
    _, label = connected_components(graph, directed=False)
    label = label[left_at]
    several = np.bincount(label)[label] > 1
    rivals, label = usable[several], label[several]
    order = np.argsort(label, kind="stable")
    starts = np.flatnonzero(np.diff(label[order])) + 1
    return usable[~several], np.split(rivals[order], starts) if len(rivals) else []


def _within(i: Ints, j: Ints, weight: Ints, left_same: Ints, right_same: Ints) -> tuple[list[int], list[int], bool]:
    """Solve one group: places among its candidates, margins, and whether all its rows were chosen."""
    left, row = _distinct(i)
    right, column = _distinct(j)
    matrix = np.zeros((len(left), len(right)), dtype=np.int64)
    matrix[row, column] = weight
    place = np.full(matrix.shape, -1, dtype=np.int64)
    place[row, column] = np.arange(len(row))
    partner = [-1] * len(left)
    for at, to in zip(*(found.tolist() for found in linear_sum_assignment(matrix, maximize=True)), strict=True):
        if matrix[at, to] > 0:
            partner[at] = to
    twins_left, twins_right = left_same[left], right_same[right]
    kept = _kept_in_order(partner, twins_left.tolist(), twins_right.tolist(), matrix)
    rows = np.array([at for at, to in enumerate(kept) if to >= 0], dtype=np.int64)
    columns = np.array([to for to in kept if to >= 0], dtype=np.int64)
    margins = _margins(matrix, rows, columns, twins_left, twins_right)
    complete = len(rows) == len(left) == len(right)
    return place[rows, columns].tolist(), margins.tolist(), complete


def _distinct(rows: Ints) -> tuple[list[int], list[int]]:
    """Give the different rows in order, and each one's place among them; groups are small."""
    given = rows.tolist()
    distinct = sorted(set(given))
    place = {row: at for at, row in enumerate(distinct)}
    return distinct, [place[row] for row in given]


def _kept_in_order(partner: list[int], twins_left: list[int], twins_right: list[int], matrix: Ints) -> list[int]:
    """Exchange partners among rows that only their names tell apart, so that first goes with first; the total stays."""
    kept = partner.copy()
    for rows in _twins(twins_left):
        mates = sorted(kept[row] for row in rows if kept[row] >= 0)
        for row, mate in zip(rows, mates + [-1] * (len(rows) - len(mates)), strict=True):
            kept[row] = mate
    for columns in _twins(twins_right):
        among = frozenset(columns)
        mates = [row for row, column in enumerate(kept) if column in among]
        for row, column in zip(mates, columns, strict=False):
            kept[row] = column
    return kept if kept == partner or _total(matrix, kept) == _total(matrix, partner) else partner


def _twins(same: list[int]) -> Iterator[list[int]]:
    """Give the places of codes that occur more than once, ascending, code by code."""
    places: dict[int, list[int]] = {}
    for at, code in enumerate(same):
        places.setdefault(code, []).append(at)
    for code in sorted(places):
        if len(places[code]) > 1:
            yield places[code]


def _total(matrix: Ints, partner: list[int]) -> int:
    return sum(int(matrix[row, column]) for row, column in enumerate(partner) if column >= 0)


def _margins(matrix: Ints, rows: Ints, columns: Ints, twins_left: Ints, twins_right: Ints) -> Ints:
    """Give for each chosen pair the weight that the best choice without it loses, as far as one exchange goes."""
    own = matrix[rows, columns]
    ours, theirs = twins_left[rows][:, None], twins_right[columns][:, None]
    crossed = matrix[rows[:, None], columns]
    loss = own[:, None] + own - crossed - crossed.T
    same = (ours == ours.T) | (theirs == theirs.T)
    margin: Ints = np.minimum(own, np.where(same, _FAR, loss).min(axis=1, initial=_FAR))
    free = _others(matrix.shape[1], columns)
    if len(free):
        loss = np.where(theirs == twins_right[free], _FAR, own[:, None] - matrix[rows[:, None], free])
        margin = np.minimum(margin, loss.min(axis=1))
    free = _others(matrix.shape[0], rows)
    if len(free):
        loss = np.where(ours == twins_left[free], _FAR, own[:, None] - matrix[free[:, None], columns].T)
        margin = np.minimum(margin, loss.min(axis=1))
    return margin


def _others(count: int, taken: Ints) -> Ints:
    free = np.ones(count, dtype=np.bool_)
    free[taken] = False
    return np.flatnonzero(free)
