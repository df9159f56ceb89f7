"""The vendor's movements: rows of the sender's and of the receiver's record that show one transfer become one.

Both records are kept by one system, so rows that are equal in all they say belong together without asking; only what
is left of them is weighed. Where the two say different things, the sender's word counts.
"""

from collections.abc import Iterator, Sequence
from typing import overload

import numpy as np

from pool_api.domain.matching.columns import Bools, Ints, column, occurrences, ranked, shared_codes
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
    rows: Sequence[VendorRow], accounts: Accounts, books: tuple[Words, Words], limits: list[str]
) -> tuple[Seen, Side]:
    """Join sender's and receiver's rows of transfers within the pool; every other row stands alone.

    Gives:   the movements shown, as a sequence and as columns; what cut the search short is added to limits."""
    own = ranked([row.account for row in rows])[1]
    ordered, side = arranged(rows, own, _names, accounts, books)
    handles, own = ranked([row.account for row in ordered])
    own = column([accounts.code(handle) for handle in handles])[own]
    within = (side.kind == KINDS.index(MovementKind.TRANSFER)) & (side.giver > OUTSIDE) & (side.receiver > OUTSIDE)
    sent, received = np.flatnonzero(within & (own == side.giver)), np.flatnonzero(within & (own != side.giver))
    second_of = np.full(len(ordered), -1, dtype=np.int64)
    alike_sent, alike_received = _alike(side, sent, received)
    second_of[sent[alike_sent]] = received[alike_received]
    ours, theirs = _without(len(sent), alike_sent), _without(len(received), alike_received)
    pairing = Pairing(side.at(sent), side.at(received), books)
    pairs = pairing.equal(Readings.plain(ours, side.quantity[sent[ours]]), theirs, _BETWEEN_RECORDS, learn=True)
    second_of[sent[pairs.left]] = received[pairs.right]
    limits.extend(pairing.limits)
    movements = Seen(ordered, side, own, second_of, accounts)
    return movements, movements.columns()


def _alike(side: Side, sent: Ints, received: Ints) -> tuple[Ints, Ints]:
    """Pair off rows that say the same, the first with the first, the second with the second."""
    ours, theirs = shared_codes([side.same[sent]], [side.same[received]])
    left, right = shared_codes([ours, occurrences(ours)], [theirs, occurrences(theirs)])
    _, i, j = np.intersect1d(left, right, assume_unique=True, return_indices=True)
    return i, j


def _without(count: int, taken: Ints) -> Ints:
    left: Bools = np.ones(count, dtype=np.bool_)
    left[taken] = False
    return np.flatnonzero(left)


def _names(rows: Sequence[VendorRow]) -> tuple[Ints, Ints]:
    return ranked([row.content for row in rows])[1], column([row.occurrence for row in rows])
