"""Which rows of two sides are candidates for each other, and which of them become pairs: keys, weights, assignment.

Two kinds of search: rows that agree in accounts and quantity, and rows that differ in one of them. Where equal rows are
too many to be weighed against each other (a crowded key), days alone decide, and the report's limits say so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from pool_api.domain.matching.assignment import assign, candidates, crowded_keys, in_step
from pool_api.domain.matching.sides import NOBODY, Bools, Ints, Side, Words, shared_codes
from pool_api.domain.matching.weighing import Weigher, Weights, swaps

MOST_DEVIATING = 2_000_000
"""How many deviating candidates of one key are weighed; with more, the window is narrowed."""

CERTAIN = 2**40
"""The margin of a pair that no other choice could better."""

_NARROWER = (3, 1, 0)


class Reading(NamedTuple):
    """One way to read a left row: with which quantity, and how many milli-bits that reading costs."""

    place: int
    quantity: int
    cost: int = 0


class Pair(NamedTuple):
    """A chosen pair: its places, the quantity the left row was read with, milli-bits by part, and how sure it is."""

    left: int
    right: int
    quantity: int
    bits: dict[str, int]
    note_level: int
    total: int
    margin: int
    whole: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidates:
    """Candidate pairs as columns: places, quantity and cost of the left reading."""

    i: Ints
    j: Ints
    quantity: Ints
    cost: Ints


class Pairing:
    """Pairs two sides; forbidden pairs are never made."""

    def __init__(
        self,
        left: Side,
        right: Side,
        words: tuple[Words, Words],
        *,
        left_same: Ints | None = None,
        forbidden: frozenset[tuple[int, int]] = frozenset(),
    ) -> None:
        self.left, self.right = left, right
        self.limits: list[str] = []
        self._weigher = Weigher(left, right, *words)
        self._left_same = left.same if left_same is None else left_same
        self._forbidden = forbidden

    def equal(
        self, readings: Sequence[Reading], rights: Sequence[int], window: int, *, learn: bool = False
    ) -> list[Pair]:
        """Pair rows of equal accounts and quantity, days at most window apart.

        Takes:   readings — those of left rows to be paired, the plain one of a row first; rights — places, ascending;
                 learn — whether pairs without rivals tell how days usually differ."""
        if not readings or not rights:
            return []
        i, quantity, cost, j = self._columns(readings, rights)
        left_key, right_key = shared_codes(
            (self.left.giver[i], self.left.receiver[i], quantity),
            (self.right.giver[j], self.right.receiver[j], self.right.quantity[j]),
        )
        left_day, right_day = self.left.day[i], self.right.day[j]
        crowded = crowded_keys((left_key, left_day), (right_key, right_day), window)
        in_crowd, out_crowd = np.isin(left_key, crowded), np.isin(right_key, crowded)
        stepped = self._stepped(crowded, (left_key, i, quantity, cost), (right_key, j), window)
        free, open_ = np.flatnonzero(~in_crowd), np.flatnonzero(~out_crowd)
        found = candidates((left_key[free], left_day[free]), (right_key[open_], right_day[open_]), window)
        if found is None:
            raise AssertionError("crowded keys leave few enough candidates")
        at = free[found[0]]
        pairs = self._allowed(_Candidates(i=i[at], j=j[open_[found[1]]], quantity=quantity[at], cost=cost[at]))
        if learn:
            self._learn(pairs)
        return sorted(stepped + self._chosen(pairs), key=lambda pair: pair.left)

    def deviating(self, readings: Sequence[Reading], rights: Sequence[int], window: int) -> list[Pair]:
        """Pair rows that differ in quantity, in one account or in direction, or that share a reference.

        Takes:   one reading per left row; rights — places, ascending."""
        if not readings or not rights:
            return []
        i, quantity, cost, j = self._columns(readings, rights)
        left, right = self.left, self.right
        searches = {
            "another quantity": ((left.giver, left.receiver), (right.giver, right.receiver), False),
            "another receiver": ((left.giver,), (right.giver,), True),
            "another giver": ((left.receiver,), (right.receiver,), True),
            "the other direction": ((left.giver, left.receiver), (right.receiver, right.giver), True),
            "one reference": ((_said(left.reference, -1),), (_said(right.reference, -2),), False),
        }
        found: list[Ints] = []
        for name, (lefts, rights_, with_quantity) in searches.items():
            ours = [column[i] for column in lefts] + [quantity] * with_quantity
            theirs = [column[j] for column in rights_] + [right.quantity[j]] * with_quantity
            left_key, right_key = shared_codes(ours, theirs)
            found.append(self._searched(name, (i, left_key), (j, right_key), window))
        at, across = np.unique(np.concatenate(found, axis=1), axis=1)
        pairs = _Candidates(i=i[at], j=j[across], quantity=quantity[at], cost=cost[at])
        return self._chosen(self._allowed(self._comparable(pairs)))

    def _columns(self, readings: Sequence[Reading], rights: Sequence[int]) -> tuple[Ints, Ints, Ints, Ints]:
        i, quantity, cost = np.array(readings, dtype=np.int64).reshape(len(readings), 3).T
        return i, quantity, cost, np.array(rights, dtype=np.int64)

    def _searched(self, name: str, left: tuple[Ints, Ints], right: tuple[Ints, Ints], window: int) -> Ints:
        """Give candidates of one search, as two rows of places among the readings and the rights."""
        (i, left_key), (j, right_key) = left, right
        for days in (window, *(each for each in _NARROWER if each < window)):
            found = candidates((left_key, self.left.day[i]), (right_key, self.right.day[j]), days, most=MOST_DEVIATING)
            if found is not None:
                if days < window:
                    self.limits.append(f"Rows with {name} were compared up to {days} days apart only: they are many.")
                return np.stack(found)
        self.limits.append(f"Rows with {name} were not compared: they are too many.")
        return np.zeros((2, 0), dtype=np.int64)

    def _comparable(self, pairs: _Candidates) -> _Candidates:
        """Keep pairs of one shape, both with or both without a giver and a receiver, that aren't equal in all."""
        left, right, i, j = self.left, self.right, pairs.i, pairs.j
        shape = ((left.giver[i] == NOBODY) == (right.giver[j] == NOBODY)) & (
            (left.receiver[i] == NOBODY) == (right.receiver[j] == NOBODY)
        )
        told = (left.reference[i] == 0) | (left.reference[i] != right.reference[j])
        alike = (left.giver[i] == right.giver[j]).astype(np.int64) + (left.receiver[i] == right.receiver[j])
        alike += pairs.quantity == right.quantity[j]
        deviates = ((alike == 2) | swaps(left, right, i, j) | ~told) & (alike < 3)
        return _kept(pairs, np.flatnonzero(shape & deviates))

    def _allowed(self, pairs: _Candidates) -> _Candidates:
        if not self._forbidden:
            return pairs
        allowed = [pair not in self._forbidden for pair in zip(pairs.i.tolist(), pairs.j.tolist(), strict=True)]
        return _kept(pairs, np.flatnonzero(np.array(allowed, dtype=np.bool_)))

    def _learn(self, pairs: _Candidates) -> None:
        lone_left = np.bincount(pairs.i, minlength=len(self.left)) == 1
        lone_right = np.bincount(pairs.j, minlength=len(self.right)) == 1
        lone = lone_left[pairs.i] & lone_right[pairs.j]
        self._weigher.learn_days(self.right.day[pairs.j[lone]] - self.left.day[pairs.i[lone]])

    def _chosen(self, pairs: _Candidates) -> list[Pair]:
        weights = self._weigher.weigh(pairs.i, pairs.j, pairs.quantity)
        worth = np.where(weights.total > 0, np.maximum(weights.total - pairs.cost, 1), 0)
        chosen = assign(pairs.i, pairs.j, worth, self._left_same, self.right.same)
        return _pairs(_kept(pairs, chosen.place), weights.at(chosen.place), chosen.margin, chosen.whole)

    def _stepped(
        self, crowded: Ints, left: tuple[Ints, Ints, Ints, Ints], right: tuple[Ints, Ints], window: int
    ) -> list[Pair]:
        """Pair the rows of crowded keys by their days; only readings without a cost count, of which a row has one."""
        (left_key, i, quantity, cost), (right_key, j) = left, right
        found: list[Pair] = []
        for key in crowded:
            read, theirs = np.flatnonzero((left_key == key) & (cost == 0)), j[right_key == key]
            read = read[np.lexsort((i[read], self.left.note[i[read]], self.left.day[i[read]]))]
            ours = i[read]
            theirs = theirs[np.lexsort((theirs, self.right.note[theirs], self.right.day[theirs]))]
            a, b = in_step(self.left.day[ours], self.right.day[theirs], window)
            pairs = _Candidates(i=ours[a], j=theirs[b], quantity=quantity[read[a]], cost=cost[read[a]])
            weights = self._weigher.weigh(pairs.i, pairs.j, pairs.quantity)
            same_day = self.left.day[pairs.i] == self.right.day[pairs.j]
            found += _pairs(pairs, weights, np.where(same_day, CERTAIN, 0), np.zeros(len(a), dtype=np.bool_))
            self.limits.append(
                f"{len(ours)} equal entries and {len(theirs)} equal rows were paired by their days alone."
            )
        return found


def _said(reference: Ints, otherwise: int) -> Ints:
    """Give references, and another code where there is none, so that two absent ones aren't equal."""
    return np.where(reference > 0, reference, otherwise)


def _kept(pairs: _Candidates, at: Ints) -> _Candidates:
    return _Candidates(i=pairs.i[at], j=pairs.j[at], quantity=pairs.quantity[at], cost=pairs.cost[at])


def _pairs(pairs: _Candidates, weights: Weights, margin: Ints, whole: Bools) -> list[Pair]:
    prior = weights.prior
    columns = (
        *(weights.day, weights.accounts, weights.quantity, weights.note, weights.reference, weights.kind, -pairs.cost),
        *(pairs.i, pairs.j, pairs.quantity, weights.note_level, weights.total - pairs.cost, margin, whole),
    )
    return [
        Pair(
            left=i,
            right=j,
            quantity=read,
            bits={
                "day": day,
                "accounts": accounts,
                "quantity": quantity,
                "note": note,
                "reference": reference,
                "kind": kind,
                "prior": prior,
                "reversed": minus_cost,
            },
            note_level=level,
            total=total,
            margin=lead,
            whole=complete,
        )
        for day, accounts, quantity, note, reference, kind, minus_cost, i, j, read, level, total, lead, complete in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]
