"""The two lists that are compared, as columns of whole numbers in an order that depends on their content alone.

Accounts, notes and references become codes here; the canonical order is what makes every later tie the same for any
order of the input.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import TypeVar

import numpy as np

from pool_api.domain.matching.columns import Ints, codes_of, column, packed, ranked
from pool_api.domain.matching.report import Movement
from pool_api.domain.record import MovementKind, VendorRow

NOBODY, OUTSIDE = 0, 1
"""Codes of accounts: no account at all, and any account that is none of the pool's."""

KINDS = tuple(MovementKind)


class Accounts:
    """The accounts of the pool: their codes and their spelling. Handles are compared without regard to case."""

    def __init__(self, handles: Iterable[str]) -> None:
        ordered = sorted(handles, key=lambda handle: (handle.casefold(), handle))
        self._spelling = {handle.casefold(): handle for handle in ordered}
        self._codes = {folded: code for code, folded in enumerate(self._spelling, start=OUTSIDE + 1)}
        self._seen: dict[str, int] = {}
        self._spelled: dict[str, str] = {}

    @property
    def handles(self) -> tuple[str, ...]:
        """The handles as the pool spells them, in order without regard to case."""
        return tuple(self._spelling.values())

    def code(self, handle: str | None) -> int:
        """Give the code of a handle."""
        if handle is None:
            return NOBODY
        code = self._seen.get(handle)
        if code is None:
            code = self._seen[handle] = self._codes.get(handle.casefold(), OUTSIDE)
        return code

    def spelled(self, handle: str | None) -> str | None:
        """Give a handle as the pool spells it, any other as it stands."""
        if handle is None:
            return None
        spelled = self._spelled.get(handle)
        if spelled is None:
            spelled = self._spelled[handle] = self._spelling.get(handle.casefold(), handle)
        return spelled

    def among(self, handle: str | None) -> bool:
        """Tell whether a handle is an account of the pool."""
        return self.code(handle) > OUTSIDE


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One movement as the vendor shows it: in one account's record, or in both, the sender's row first; identities are
    the rows' names."""

    day: date
    kind: MovementKind
    giver: str | None
    receiver: str | None
    quantity: int
    note: str
    reference: str | None
    amount: str | None
    rows: tuple[VendorRow, ...]
    identities: tuple[str, ...]


AnyTold = TypeVar("AnyTold", Movement, VendorRow)
"""What lists are made of: both say day, kind, giver, receiver, quantity, note and reference."""


def shown_of(accounts: Accounts, *rows: VendorRow) -> Shown:
    """Make one movement of the row or the two rows that show it; where both say something, the sender's word counts."""
    first, last = rows[0], rows[-1]
    return Shown(
        day=first.day,
        kind=first.kind,
        giver=accounts.spelled(first.giver),
        receiver=accounts.spelled(first.receiver),
        quantity=first.quantity,
        note=first.note or last.note,
        reference=first.reference or last.reference,
        amount=first.amount or last.amount,
        rows=rows,
        identities=tuple([row.identity for row in rows]),
    )


@lru_cache(maxsize=100_000)
def normal(text: str) -> str:
    """Give a text in small letters with one blank between its words, so that typing habits don't count."""
    return re.sub(r"[\W_]+", " ", text.casefold()).strip()


class Words:
    """The texts of both lists by code; the empty text has the code 0."""

    def __init__(self) -> None:
        self.texts: list[str] = [""]
        self._codes: dict[str, int] = {"": 0}

    def code(self, text: str) -> int:
        """Give the code of a text, a new one if it is new."""
        code = self._codes.setdefault(text, len(self.texts))
        if code == len(self.texts):
            self.texts.append(text)
        return code


@dataclass(frozen=True, slots=True)
class Side:
    """One list as columns; same is a code of all that tells its members apart except their names."""

    giver: Ints
    receiver: Ints
    quantity: Ints
    day: Ints
    kind: Ints
    note: Ints
    reference: Ints
    same: Ints

    def __len__(self) -> int:
        return len(self.day)

    def at(self, places: Ints) -> "Side":
        """Give some of its rows."""
        return Side(*(getattr(self, name)[places] for name in self.__slots__))


def arranged(
    told: Sequence[AnyTold],
    owner: Ints,
    names: Callable[[Sequence[AnyTold]], Sequence[Ints]],
    accounts: Accounts,
    books: tuple[Words, Words],
) -> tuple[list[AnyTold], Side]:
    """Put a list into canonical order, and turn it into columns, adding its texts to the books of words.

    The order is by all that both lists say, absent texts first, then by owner, then by names.

    Takes:   owner — a column that tells most equal ones apart; names — gives columns that tell apart all of a few;
             books — those of notes and of references."""
    notes, references = books
    day = column([each.day.toordinal() for each in told])
    kind = column([KINDS.index(each.kind) for each in told])
    quantity = column([each.quantity for each in told])
    givers, giver = ranked([each.giver or "" for each in told])
    receivers, receiver = ranked([each.receiver or "" for each in told])
    written, note = ranked([each.note for each in told])
    cited, reference = ranked([each.reference or "" for each in told])
    normals = [normal(text) for text in written]
    plain = ranked(normals)[1][note]
    key = packed((day, kind, giver, receiver, quantity, plain, note, reference, owner))
    order = _told_apart(told, key, np.argsort(key, kind="stable"), names)
    columns = (
        column([accounts.code(text or None) for text in givers])[giver],
        column([accounts.code(text or None) for text in receivers])[receiver],
        quantity,
        day,
        kind,
        column([notes.code(text) for text in normals])[note],
        column([references.code(text.strip().casefold()) for text in cited])[reference],
    )
    side = Side(*columns, codes_of(*columns)).at(order)
    return [told[place] for place in order.tolist()], side


def _told_apart(
    told: Sequence[AnyTold], key: Ints, order: Ints, names: Callable[[Sequence[AnyTold]], Sequence[Ints]]
) -> Ints:
    """Order those of equal keys by their names; few need theirs read."""
    same = np.diff(key[order]) == 0
    tied = np.flatnonzero(np.append(same, False) | np.append(False, same))
    places = order[tied]
    named: Sequence[Ints] = names([told[place] for place in places.tolist()])
    found: Ints = order.copy()
    found[tied] = places[np.lexsort((*named[::-1], key[places]))]
    return found


def joined(first: Side, second: Side, places: Ints) -> Side:
    """Give first with what second says where first says nothing: second's rows go with those of first at places."""
    note, reference = first.note.copy(), first.reference.copy()
    for own, other in ((note, second.note), (reference, second.reference)):
        own[places] = np.where(own[places] == 0, other, own[places])
    columns = (first.giver, first.receiver, first.quantity, first.day, first.kind, note, reference)
    return Side(*columns, codes_of(*columns))
