"""How weighed candidate pairs become the best one-to-one choice, and how sure each chosen pair is.

The choice has the largest total weight of all, found separately in each group of rows that candidates connect (Jaro,
Journal of the American Statistical Association 84, 1989, from memory, uses the linear assignment problem so; the solver
is that of scipy). Weights are whole numbers above 0; leaving rows apart is worth 0. This file knows no field of a row.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pool_api.domain.matching.columns import Bools, Ints, within_runs

MOST_PAIRS = 10_000_000
MOST_PAIRS_OF_A_KEY = 250_000
"""How many candidate pairs are weighed at once, and how many of one key before the key counts as crowded."""

_MOST_TRIED = 5
"""Up to how many rows on a side all ways to pair a group are tried, many groups at once."""

_FAR = np.int64(2**62)
_DAY_BITS = 21


@dataclass(frozen=True, slots=True, kw_only=True)
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
    lone, groups = _groups(i, j, usable, (len(left_same), len(right_same)))
    same, small = (left_same, right_same), groups.size <= _MOST_TRIED
    sizes = np.unique(groups.size[small]).tolist()
    found = [
        Chosen(place=lone, margin=weight[lone], whole=np.ones(len(lone), dtype=np.bool_)),
        *(_tried(groups.of(groups.size == size), size, weight, same) for size in sizes),
        *(_solved(group, weight, same) for group in groups.one_by_one(~small)),
    ]
    place, margin, whole = (
        np.concatenate([getattr(each, name) for each in found]) for name in ("place", "margin", "whole")
    )
    order = np.argsort(place)
    return Chosen(place=place[order], margin=margin[order], whole=whole[order])


@dataclass(frozen=True, slots=True)
class _Groups:
    """Candidates that have rivals, in order of their group, as columns: which candidate, its group, and the larger
    number of rows on either side of that; the row's place among those of the group on the left, and on the right; and
    which rows these are."""

    candidate: Ints
    group: Ints
    size: Ints
    row: Ints
    column: Ints
    left: Ints
    right: Ints

    def of(self, which: Bools) -> "_Groups":
        """Give some of the groups, numbered anew from 0."""
        found = self.at(which)
        return replace(found, group=np.cumsum(np.diff(found.group, prepend=-1) != 0) - 1)

    def one_by_one(self, which: Bools) -> list["_Groups"]:
        """Give some of the groups, each by itself."""
        ends = np.flatnonzero(np.diff(self.group[which], append=-1)) + 1
        places, starts = np.flatnonzero(which), np.append(0, ends)[:-1]
        return [self.at(places[start:end]) for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]

    def at(self, places: Ints | Bools) -> "_Groups":
        """Give some of the candidates."""
        return _Groups(*(getattr(self, name)[places] for name in self.__slots__))


def _groups(i: Ints, j: Ints, usable: Ints, rows: tuple[int, int]) -> tuple[Ints, _Groups]:
    """Part the usable candidates into those without rivals and connected groups of several."""
    lefts, rights = rows
    ones = np.ones(len(usable), dtype=np.int8)
    graph = coo_array((ones, (i[usable], lefts + j[usable])), shape=(lefts + rights, lefts + rights))
    _, label = connected_components(graph, directed=False)
    label = label.astype(np.int64)
    group = label[i[usable]]
    several = np.bincount(group, minlength=1)[group] > 1
    rivals, group = usable[several], group[several]
    order = np.argsort(group, kind="stable")
    rivals, group = rivals[order], group[order]
    row, left_count = _numbered(label[:lefts], i[rivals])
    column, right_count = _numbered(label[lefts:], j[rivals])
    larger = np.zeros(int(label.max(initial=0)) + 1, dtype=np.int64)
    np.maximum.at(larger, group, np.maximum(left_count, right_count))
    return usable[~several], _Groups(rivals, group, larger[group], row, column, i[rivals], j[rivals])


def _numbered(label: Ints, rows: Ints) -> tuple[Ints, Ints]:
    """Give for rows their places among those of their label, and how many these are."""
    order = np.argsort(label, kind="stable")
    place = np.empty(len(label), dtype=np.int64)
    place[order] = within_runs(label[order])
    return place[rows], np.bincount(label, minlength=1)[label[rows]]


@dataclass(frozen=True, slots=True)
class _Squares:
    """Groups of one size as square matrices, filled up with rows on either side that are worth 0 to all: being paired
    with one of these is being left apart. Weights; the candidates they are of, -1 for none; codes of equal rows."""

    weight: Ints
    candidate: Ints
    lefts: Ints
    rights: Ints

    def chosen(self, column: Ints) -> Chosen:
        """Give the pairs of each row with its column, where they weigh anything, and what an exchange of two loses."""
        number, row = np.arange(len(column))[:, None], np.arange(column.shape[1])[None, :]
        own = self.weight[number, row, column]
        crossed = np.take_along_axis(self.weight, np.broadcast_to(column[:, None, :], self.weight.shape), axis=2)
        loss = own[:, :, None] + own[:, None, :] - crossed - crossed.transpose(0, 2, 1)
        rights = np.take_along_axis(self.rights, column, axis=1)
        alike = (self.lefts[:, :, None] == self.lefts[:, None, :]) | (rights[:, :, None] == rights[:, None, :])
        margin = np.minimum(own, np.where(alike, _FAR, loss).min(axis=2))
        paired: Bools = np.greater(own, 0)
        whole = np.broadcast_to(paired.all(axis=1, keepdims=True), paired.shape)
        return Chosen(place=self.candidate[number, row, column][paired], margin=margin[paired], whole=whole[paired])


def _squares(groups: _Groups, size: int, weight: Ints, same: tuple[Ints, Ints]) -> _Squares:
    count = int(groups.group[-1]) + 1
    matrix, candidate = np.zeros((count, size, size), dtype=np.int64), np.full((count, size, size), -1, dtype=np.int64)
    at = (groups.group, groups.row, groups.column)
    matrix[at], candidate[at] = weight[groups.candidate], groups.candidate
    lefts, rights = np.tile(-1 - np.arange(size, dtype=np.int64), (2, count, 1))
    lefts[groups.group, groups.row] = same[0][groups.left]
    rights[groups.group, groups.column] = same[1][groups.right]
    return _Squares(matrix, candidate, lefts, rights)


def _tried(groups: _Groups, size: int, weight: Ints, same: tuple[Ints, Ints]) -> Chosen:
    """Solve groups of one size by trying all ways; of equal totals the one whose first rows have earlier partners."""
    squares = _squares(groups, size, weight, same)
    ways = np.array(list(permutations(range(size))), dtype=np.int64)
    totals = np.stack([squares.weight[:, np.arange(size), way].sum(axis=1) for way in ways], axis=1)
    return squares.chosen(ways[totals.argmax(axis=1)])


def _solved(groups: _Groups, weight: Ints, same: tuple[Ints, Ints]) -> Chosen:
    """Solve one group that is too large for trying."""
    squares = _squares(replace(groups, group=np.zeros_like(groups.group)), int(groups.size[0]), weight, same)
    matrix, lefts, rights = squares.weight[0], squares.lefts[0].tolist(), squares.rights[0].tolist()
    _, partner = linear_sum_assignment(matrix, maximize=True)
    return squares.chosen(np.array([_kept_in_order(partner.tolist(), lefts, rights, matrix)], dtype=np.int64))


def _kept_in_order(partner: list[int], lefts: list[int], rights: list[int], matrix: Ints) -> list[int]:
    """Exchange partners among rows that only their names tell apart, so that first goes with first; the total stays."""
    kept = partner.copy()
    for rows in _twins(lefts):
        for row, mate in zip(rows, sorted(kept[row] for row in rows), strict=True):
            kept[row] = mate
    for columns in _twins(rights):
        among = frozenset(columns)
        mates = [row for row, column in enumerate(kept) if column in among]
        for row, column in zip(mates, columns, strict=True):
            kept[row] = column
    places = np.arange(len(kept))
    return kept if matrix[places, kept].sum() == matrix[places, partner].sum() else partner


def _twins(same: list[int]) -> Iterator[list[int]]:
    """Give the places of codes that occur more than once, ascending, code by code."""
    places: dict[int, list[int]] = {}
    for at, code in enumerate(same):
        places.setdefault(code, []).append(at)
    for code in sorted(places):
        if len(places[code]) > 1:
            yield places[code]
