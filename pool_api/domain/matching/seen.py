"""The vendor's movements: rows of the sender's and of the receiver's record that show one transfer become one.

Earlier decisions come first. Both records are kept by one system, so rows that are equal in all they say belong
together without asking; what is left is weighed. Where the two say different things, the sender's word counts.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import overload

import numpy as np

from pool_api.domain.matching.columns import Ints, column, occurrences, ranked, shared_codes
from pool_api.domain.matching.pairing import Pairing, Readings
from pool_api.domain.matching.sides import KINDS, OUTSIDE, Accounts, Shown, Side, Words, arranged, joined, shown_of
from pool_api.domain.record import MovementKind, VendorRow

_BETWEEN_RECORDS = 1
"""Days that the vendor's two records of one transfer may lie apart."""


class Seen(Sequence[Shown]):
    """What the vendor shows, in the order of the first rows; each is put together when it is asked for.

    Rows are all of the record in canonical order, side their columns, own the accounts whose rows they are. First and
    second give each movement's rows, second -1 where there is one only; owner gives each row's movement."""

    def __init__(self, rows: Sequence[VendorRow], side: Side, own: Ints, second_of: Ints, accounts: Accounts) -> None:
        self.rows, self.side, self.own = rows, side, own
        self._accounts = accounts
        taken = np.zeros(len(rows), dtype=np.bool_)
        taken[second_of[second_of >= 0]] = True
        self.first = np.flatnonzero(~taken)
        self.second = second_of[self.first]
        self.owner = np.zeros(len(rows), dtype=np.int64)
        self.owner[self.first] = np.arange(len(self.first))
        double = np.flatnonzero(self.second >= 0)
        self.owner[self.second[double]] = double

    def __len__(self) -> int:
        return len(self.first)

    @overload
    def __getitem__(self, at: int) -> Shown: ...
    @overload
    def __getitem__(self, at: slice) -> list[Shown]: ...
    def __getitem__(self, at: int | slice) -> Shown | list[Shown]:
        if isinstance(at, slice):
            return [self[each] for each in range(*at.indices(len(self)))]
        first, second = self.rows[self.first[at]], int(self.second[at])
        return shown_of(self._accounts, first, *([self.rows[second]] if second >= 0 else []))

    def __iter__(self) -> Iterator[Shown]:
        return (self[at] for at in range(len(self)))

    def columns(self) -> Side:
        """Give the movements as columns."""
        double = np.flatnonzero(self.second >= 0)
        return joined(self.side.at(self.first), self.side.at(self.second[double]), double)


def seen(
    rows: Sequence[VendorRow],
    accounts: Accounts,
    books: tuple[Words, Words],
    pinned: Iterable[Sequence[str]],
    limits: list[str],
) -> tuple[Seen, Side]:
    """Join sender's and receiver's rows of transfers within the pool; every other row stands alone.

    Takes:   pinned — rows by identity that were decided to belong together, a sender's before its receiver's.
    Gives:   the movements shown, as a sequence and as columns; what cut the search short is added to limits."""
    own = ranked([row.account for row in rows])[1]
    ordered, side = arranged(rows, own, _names, accounts, books)
    handles, own = ranked([row.account for row in ordered])
    own = column([accounts.code(handle) for handle in handles])[own]
    within = (side.kind == KINDS.index(MovementKind.TRANSFER)) & (side.giver > OUTSIDE) & (side.receiver > OUTSIDE)
    sent, received = np.flatnonzero(within & (own == side.giver)), np.flatnonzero(within & (own != side.giver))
    joins = _Joins(side, sent, received)
    joins.decide(ordered, pinned)
    joins.alike()
    limits.extend(joins.weigh(books))
    movements = Seen(ordered, side, own, joins.second_of, accounts)
    return movements, movements.columns()


class _Joins:
    """Finds to each sender's row the receiver's: what was decided, then what says the same, then what weighs most."""

    def __init__(self, side: Side, sent: Ints, received: Ints) -> None:
        self._side, self._sent, self._received = side, sent, received
        self.second_of = np.full(len(side), -1, dtype=np.int64)
        self._free = np.ones(len(side), dtype=np.bool_)

    def _join(self, sent: Ints, received: Ints) -> None:
        self.second_of[sent] = received
        self._free[sent] = self._free[received] = False

    def _open(self) -> tuple[Ints, Ints]:
        return self._sent[self._free[self._sent]], self._received[self._free[self._received]]

    def decide(self, rows: Sequence[VendorRow], pinned: Iterable[Sequence[str]]) -> None:
        """Join rows that follow each other in a decision, as far as they can show one transfer."""
        decided = sorted(tuple(identities) for identities in pinned if len(identities) > 1)
        if not decided:
            return
        at = {row.identity: place for place, row in enumerate(rows)}
        sent, received = frozenset(self._sent.tolist()), frozenset(self._received.tolist())
        moves = np.stack((self._side.giver, self._side.receiver, self._side.quantity), axis=1)
        for identities in decided:
            for one, other in pairwise(at.get(identity, -1) for identity in identities):
                fit = one in sent and other in received and bool((moves[one] == moves[other]).all())
                if fit and self._free[one] and self._free[other]:
                    self._join(column([one]), column([other]))

    def alike(self) -> None:
        """Join rows that say the same, the first with the first, the second with the second."""
        sent, received = self._open()
        ours, theirs = shared_codes([self._side.same[sent]], [self._side.same[received]])
        left, right = shared_codes([ours, occurrences(ours)], [theirs, occurrences(theirs)])
        _, i, j = np.intersect1d(left, right, assume_unique=True, return_indices=True)
        self._join(sent[i], received[j])

    def weigh(self, books: tuple[Words, Words]) -> list[str]:
        """Join what is left by weight. Gives what cut the search short."""
        ours, theirs = (np.flatnonzero(self._free[rows]) for rows in (self._sent, self._received))
        pairing = Pairing(self._side.at(self._sent), self._side.at(self._received), books)
        readings = Readings.plain(ours, self._side.quantity[self._sent[ours]])
        pairing.learn(readings, theirs, _BETWEEN_RECORDS)
        pairs = pairing.equal(readings, theirs, _BETWEEN_RECORDS)
        self._join(self._sent[pairs.left], self._received[pairs.right])
        return pairing.limits


def _names(rows: Sequence[VendorRow]) -> tuple[Ints, Ints]:
    return ranked([row.content for row in rows])[1], column([row.occurrence for row in rows])
