"""The two lists that are compared, as columns of whole numbers in an order that depends on their content alone.

Accounts, notes and references become codes here; the canonical order is what makes every later tie the same for any
order of the input.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pool_api.domain.matching.report import Movement
from pool_api.domain.record import MovementKind, VendorRow

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

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
        return None if handle is None else self._spelling.get(handle.casefold(), handle)

    def among(self, handle: str | None) -> bool:
        """Tell whether a handle is an account of the pool."""
        return self.code(handle) > OUTSIDE


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One movement as the vendor shows it: in one account's record, or in both, the sender's row first."""

    day: date
    kind: MovementKind
    giver: str | None
    receiver: str | None
    quantity: int
    note: str
    reference: str | None
    amount: str | None
    rows: tuple[VendorRow, ...]

    @property
    def identities(self) -> tuple[str, ...]:
        """The rows' names."""
        return tuple(row.identity for row in self.rows)


Told = Movement | VendorRow | Shown
"""What lists are made of: all three say day, kind, giver, receiver, quantity, note and reference."""


def shown_of(accounts: Accounts, *rows: VendorRow) -> Shown:
    """Make one movement of the rows that show it; where both say something, the sender's word counts."""
    first = rows[0]
    return Shown(
        day=first.day,
        kind=first.kind,
        giver=accounts.spelled(first.giver),
        receiver=accounts.spelled(first.receiver),
        quantity=first.quantity,
        note=next((row.note for row in rows if row.note), ""),
        reference=next((row.reference for row in rows if row.reference), None),
        amount=next((row.amount for row in rows if row.amount), None),
        rows=rows,
    )


def content_key(told: Told) -> tuple[object, ...]:
    """Give what the canonical order is by: all that both lists say, absent texts first."""
    return (
        told.day,
        told.kind,
        told.giver or "",
        told.receiver or "",
        told.quantity,
        normal(told.note),
        told.note,
        told.reference or "",
    )


def in_order(movements: Iterable[Movement]) -> list[Movement]:
    """Sort movements by content, then by entry number."""
    return sorted(movements, key=lambda movement: (content_key(movement), movement.entry))


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


def side_of(told: Sequence[Told], accounts: Accounts, notes: Words, references: Words) -> Side:
    """Turn a list into columns, adding its texts to the books of words."""
    rows = [
        (
            accounts.code(each.giver),
            accounts.code(each.receiver),
            each.quantity,
            each.day.toordinal(),
            KINDS.index(each.kind),
            notes.code(normal(each.note)),
            references.code((each.reference or "").strip().casefold()),
        )
        for each in told
    ]
    columns = np.array(rows, dtype=np.int64).reshape(len(rows), 7).T
    giver, receiver, quantity, day, kind, note, reference = columns
    return Side(giver, receiver, quantity, day, kind, note, reference, same=codes_of(*columns))


def codes_of(*columns: Ints) -> Ints:
    """Give one code per row, equal where all columns are."""
    return shared_codes(columns, tuple(column[:0] for column in columns))[0]


def shared_codes(left: Sequence[Ints], right: Sequence[Ints]) -> tuple[Ints, Ints]:
    """Give one code per row of two sets of columns, equal where all columns are, within a set and across."""
    joined = [np.concatenate(pair) for pair in zip(left, right, strict=True)]
    code = np.zeros(len(joined[0]), dtype=np.int64)
    for column in joined:
        _, place = np.unique(column, return_inverse=True)
        _, code = np.unique(code * (len(joined[0]) + 1) + place, return_inverse=True)
    return code[: len(left[0])], code[len(left[0]) :]
