"""Which rows of two sides are candidates for each other, and which of them become pairs: keys, weights, assignment.

Two kinds of search: rows that agree in accounts and quantity, and rows that differ in one of them. Where equal rows are
too many to be weighed against each other (a crowded key), days alone decide, and the report's limits say so.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import reduce

import numpy as np

from pool_api.domain.matching.assignment import assign, candidates, crowded_keys, in_step
from pool_api.domain.matching.columns import Bools, Ints, shared_codes
from pool_api.domain.matching.sides import NOBODY, Side, Words
from pool_api.domain.matching.weighing import Weigher, Weights, swaps

MOST_DEVIATING = 2_000_000
"""How many deviating candidates of one key are weighed; with more, the window is narrowed."""

CERTAIN = 2**40
"""The margin of a pair that no other choice could better."""

_NARROWER = (3, 1, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Ways to read left rows, as columns: the row's place, with which quantity, how many milli-bits that reading costs.

    A row has one reading without a cost."""

    place: Ints
    quantity: Ints
    cost: Ints

    @classmethod
    def plain(cls, place: Ints, quantity: Ints) -> "Readings":
        """Read each row as it stands."""
        return cls(place=place, quantity=quantity, cost=np.zeros(len(place), dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidates:
    """Candidate pairs as columns: places, quantity and cost of the left reading."""

    i: Ints
    j: Ints
    quantity: Ints
    cost: Ints

    def at(self, places: Ints) -> "_Candidates":
        return _Candidates(i=self.i[places], j=self.j[places], quantity=self.quantity[places], cost=self.cost[places])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Chosen pairs as columns: places, the quantity the left row was read with and what that costs, what speaks for
    them, how much the best other choice would lose, and whether the whole group of a pair found partners."""

    left: Ints
    right: Ints
    quantity: Ints
    cost: Ints
    weights: Weights
    margin: Ints
    whole: Bools

    def __len__(self) -> int:
        return len(self.left)

    @property
    def total(self) -> Ints:
        """The milli-bits that speak for each pair, all told."""
        return self.weights.total - self.cost

    def at(self, places: Ints) -> "Pairs":
        """Give some of the pairs."""
        return Pairs(
            **{name: getattr(self, name)[places] for name in ("left", "right", "quantity", "cost", "margin", "whole")},
            weights=self.weights.at(places),
        )

    def bits(self) -> list[dict[str, int]]:
        """Give the parts of each pair's score by name."""
        costs = self.cost.tolist()
        return [{**bits, "reversed": -cost} for bits, cost in zip(self.weights.bits(), costs, strict=True)]


def together(first: Pairs, second: Pairs) -> Pairs:
    """Give both, those of first first."""
    names = ("left", "right", "quantity", "cost", "margin", "whole")
    return Pairs(
        **{name: np.concatenate((getattr(first, name), getattr(second, name))) for name in names},
        weights=first.weights.and_then(second.weights),
    )


class Pairing:
    """Pairs two sides; forbidden pairs are never made."""

    def __init__(
        self,
        left: Side,
        right: Side,
        words: tuple[Words, Words],
        *,
        left_same: Ints | None = None,
    ) -> None:
        self.left, self.right = left, right
        self.limits: list[str] = []
        self._weigher = Weigher(left, right, *words)
        self.notes = self._weigher.notes
        self._left_same = left.same if left_same is None else left_same
        self.forbidden: frozenset[tuple[int, int]] = frozenset()

    def none(self) -> Pairs:
        """Give no pairs."""
        nothing = np.zeros(0, dtype=np.int64)
        return self._chosen(_read(Readings.plain(nothing, nothing), nothing, nothing))

    def learn(self, readings: Readings, rights: Ints, window: int) -> None:
        """Learn how the vendor dates and how notes are typed from rows that agree in the rest and have no rival."""
        self._weigher.learn(*_lone(self._agreeing(readings, rights, window)[0]))

    def equal(self, readings: Readings, rights: Ints, window: int) -> Pairs:
        """Pair rows of equal accounts and quantity, days at most window apart.

        Takes:   readings — those of left rows to be paired; rights — places, ascending.
        Gives:   pairs in order of left."""
        pairs, crowded = self._agreeing(readings, rights, window)
        chosen = reduce(together, self._stepped(crowded, readings, window), self._chosen(self._allowed(pairs)))
        return chosen.at(np.argsort(chosen.left, kind="stable"))

    def _agreeing(self, readings: Readings, rights: Ints, window: int) -> tuple[_Candidates, list[tuple[Ints, Ints]]]:
        """Give the candidates of equal accounts and quantity; and of each crowded key its readings and its rights."""
        i, j = readings.place, rights
        left_key, right_key = shared_codes(
            (self.left.giver[i], self.left.receiver[i], readings.quantity),
            (self.right.giver[j], self.right.receiver[j], self.right.quantity[j]),
        )
        left_day, right_day = self.left.day[i], self.right.day[j]
        keys = crowded_keys((left_key, left_day), (right_key, right_day), window)
        free, open_ = np.flatnonzero(~np.isin(left_key, keys)), np.flatnonzero(~np.isin(right_key, keys))
        found = candidates((left_key[free], left_day[free]), (right_key[open_], right_day[open_]), window)
        if found is None:
            raise AssertionError("crowded keys leave few enough candidates")
        crowded = [(np.flatnonzero(left_key == key), j[right_key == key]) for key in keys]
        return _read(readings, free[found[0]], j[open_[found[1]]]), crowded

    def deviating(self, readings: Readings, rights: Ints, window: int) -> Pairs:
        """Pair rows that differ in quantity, in one account or in direction, or that share a reference.

        Takes:   one reading per left row; rights — places, ascending."""
        i, j, left, right = readings.place, rights, self.left, self.right
        searches = {
            "another quantity": ((left.giver, left.receiver), (right.giver, right.receiver), False),
            "another receiver": ((left.giver,), (right.giver,), True),
            "another giver": ((left.receiver,), (right.receiver,), True),
            "the other direction": ((left.giver, left.receiver), (right.receiver, right.giver), True),
            "one reference": ((_said(left.reference, -1),), (_said(right.reference, -2),), False),
        }
        found: list[Ints] = []
        for name, (lefts, rights_, with_quantity) in searches.items():
            ours = [column[i] for column in lefts] + [readings.quantity] * with_quantity
            theirs = [column[j] for column in rights_] + [right.quantity[j]] * with_quantity
            left_key, right_key = shared_codes(ours, theirs)
            found.append(self._searched(name, (i, left_key), (j, right_key), window))
        at, across = np.unique(np.concatenate(found, axis=1), axis=1)
        return self._chosen(self._allowed(self._comparable(_read(readings, at, j[across]))))

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
        return pairs.at(np.flatnonzero(shape & deviates))

    def _allowed(self, pairs: _Candidates) -> _Candidates:
        if not self.forbidden:
            return pairs
        allowed = [pair not in self.forbidden for pair in zip(pairs.i.tolist(), pairs.j.tolist(), strict=True)]
        return pairs.at(np.flatnonzero(np.array(allowed, dtype=np.bool_)))

    def _chosen(self, pairs: _Candidates) -> Pairs:
        weights = self._weigher.weigh(pairs.i, pairs.j, pairs.quantity)
        worth = np.where(weights.total > 0, np.maximum(weights.total - pairs.cost, 1), 0)
        chosen = assign(pairs.i, pairs.j, worth, self._left_same, self.right.same)
        return _weighed(pairs.at(chosen.place), weights.at(chosen.place), chosen.margin, chosen.whole)

    def _stepped(self, crowded: Iterable[tuple[Ints, Ints]], readings: Readings, window: int) -> Iterator[Pairs]:
        """Pair the rows of crowded keys by their days; only readings without a cost count, of which a row has one."""
        left, right = self.left, self.right
        for read_in_all, rights in crowded:
            read = read_in_all[readings.cost[read_in_all] == 0]
            places = readings.place[read]
            order = np.lexsort((places, left.note[places], left.day[places]))
            ours, theirs = places[order], rights[np.lexsort((rights, right.note[rights], right.day[rights]))]
            a, b = in_step(left.day[ours], right.day[theirs], window)
            pairs = _read(readings, read[order][a], theirs[b])
            weights = self._weigher.weigh(pairs.i, pairs.j, pairs.quantity)
            same_day = self.left.day[pairs.i] == self.right.day[pairs.j]
            self.limits.append(
                f"{len(ours)} equal entries and {len(theirs)} equal rows were paired by their days alone."
            )
            yield _weighed(pairs, weights, np.where(same_day, CERTAIN, 0), np.zeros(len(a), dtype=np.bool_))


def _lone(pairs: _Candidates) -> tuple[Ints, Ints]:
    """Give the candidates of which both rows have no other."""
    lone = (np.bincount(pairs.i)[pairs.i] == 1) & (np.bincount(pairs.j)[pairs.j] == 1)
    return pairs.i[lone], pairs.j[lone]


def _read(readings: Readings, at: Ints, rights: Ints) -> _Candidates:
    return _Candidates(i=readings.place[at], j=rights, quantity=readings.quantity[at], cost=readings.cost[at])


def _weighed(pairs: _Candidates, weights: Weights, margin: Ints, whole: Bools) -> Pairs:
    return Pairs(
        left=pairs.i,
        right=pairs.j,
        quantity=pairs.quantity,
        cost=pairs.cost,
        weights=weights,
        margin=margin,
        whole=whole,
    )


def _said(reference: Ints, otherwise: int) -> Ints:
    """Give references, and another code where there is none, so that two absent ones aren't equal."""
    return np.where(reference > 0, reference, otherwise)
