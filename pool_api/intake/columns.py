"""How the rows of a table become rows of an account's record, by a column profile; what can't be read is set aside.

A row is read whole or not at all. Set aside: a cell that its column's style doesn't fit, a word for the kind that the
profile doesn't know, a row that is about other accounts only, one that contradicts itself. Skipped, and listed apart:
totals and ignored kinds. Which column is what, is the profile's to say, and how a cell is written, cells.py's.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from pool_api.domain.errors import ColumnMissing
from pool_api.domain.record import MovementKind, Reading, RowFacts, SetAside, numbered
from pool_api.intake.cells import Unfit, amount_of, cleaned, credits_of, is_total, shown
from pool_api.intake.days import day_of
from pool_api.intake.profile import Meaning, Profile
from pool_api.intake.rows import Row
from pool_api.intake.table import Table

_INWARD = frozenset({Meaning.PURCHASE, Meaning.REFUND, Meaning.RECEIVED})
_OUTWARD = frozenset({Meaning.USE, Meaning.SENT})
_KINDS = {
    Meaning.PURCHASE: MovementKind.PURCHASE,
    Meaning.USE: MovementKind.USE,
    Meaning.REFUND: MovementKind.REFUND,
    Meaning.TRANSFER: MovementKind.TRANSFER,
    Meaning.SENT: MovementKind.TRANSFER,
    Meaning.RECEIVED: MovementKind.TRANSFER,
}


def read(table: Table, profile: Profile, account: str) -> Reading:
    """Read a table as the record of one vendor account.

    Takes:   account — the handle as the pool writes it; the file may differ from it in case.
    Gives:   rows in file order with their identities; every record of the table is in rows, set_aside or skipped.
    Refuses: ColumnMissing when the table lacks a column that the profile names."""
    words = {word.casefold(): meaning for word, meaning in profile.kind_words.items()}
    reader = _Reader(profile=profile, account=account, at=_places(table, profile), words=words)
    found: list[tuple[int, RowFacts]] = []
    aside, skipped = list(table.ragged), list(table.skipped)
    for row in table.rows:
        try:
            found.append((row.line, reader.facts(row)))
        except _Skipped as reason:
            skipped.append(SetAside(line=row.line, column=None, reason=str(reason), cells=row.cells))
        except _Aside as finding:
            aside.append(SetAside(line=row.line, column=finding.column, reason=finding.reason, cells=row.cells))
    days = [facts.day for _, facts in found]
    return Reading(
        account=account,
        rows=numbered(found),
        set_aside=tuple(sorted(aside, key=lambda each: each.line)),
        skipped=tuple(sorted(skipped, key=lambda each: each.line)),
        first_day=min(days, default=None),
        last_day=max(days, default=None),
    )


def _places(table: Table, profile: Profile) -> dict[str, int]:
    """Give the place of each named column; header words are compared without regard to case."""
    words = {word.casefold(): at for at, word in reversed(list(enumerate(table.header)))}
    missing = [f"{column} ({role})" for role, column in profile.columns.items() if column.casefold() not in words]
    if missing:
        present = ", ".join(table.header) if table.headed else "without names"
        raise ColumnMissing(missing=", ".join(missing), present=present)
    return {role: words[column.casefold()] for role, column in profile.columns.items()}


_T = TypeVar("_T")
_Sides = tuple[MovementKind, str | None, str | None, int]


class _Aside(Exception):
    def __init__(self, column: str | None, reason: str) -> None:
        super().__init__(reason)
        self.column, self.reason = column, reason


class _Skipped(Exception):
    pass


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads rows of one table by one profile; at says where in a row each role's cell stands."""

    profile: Profile
    account: str
    at: dict[str, int]
    words: dict[str, Meaning]

    def facts(self, row: Row) -> RowFacts:
        """Give what a row says, or raise _Aside or _Skipped."""
        self._refuse_totals(row)
        day = self._read(row, "day", lambda text: day_of(text, self.profile.day_style, self.profile.zone))
        meaning = self._meaning(row)
        if self.profile.giver is not None:
            kind, giver, receiver, quantity = self._between(row, meaning)
        else:
            kind, giver, receiver, quantity = self._beside(row, meaning)
        if quantity == 0:
            raise _Aside(self.profile.quantity, "it moves no credits")
        return RowFacts(
            account=self.account,
            day=day,
            kind=kind,
            giver=giver,
            receiver=receiver,
            quantity=abs(quantity),
            note=self._text(row, "note"),
            reference=self._text(row, "reference") or None,
            balance=self._optional(row, "balance", self._credits),
            amount=self._optional(row, "amount", self._amount),
        )

    def _between(self, row: Row, meaning: Meaning | None) -> _Sides:
        """Give kind, giver, receiver and quantity of a row that names both accounts."""
        giver, receiver = self._handle(row, "giver"), self._handle(row, "receiver")
        quantity = self._read(row, "quantity", self._credits)
        kind = _KINDS[meaning] if meaning else _kind_by_sides(giver, receiver)
        if kind is MovementKind.USE:
            giver, receiver = giver or self.account, None
        elif kind is not MovementKind.TRANSFER:
            giver, receiver = None, receiver or self.account
        elif not (giver and receiver):
            raise _Aside(self.profile.receiver if giver else self.profile.giver, "a transfer needs two accounts")
        if giver == receiver:
            raise _Aside(self.profile.receiver, "giver and receiver are the same account")
        if self.account not in (giver, receiver):
            raise _Aside(None, f"it is not about the account {self.account}")
        if quantity < 0 and giver != self.account:
            raise _Aside(self.profile.quantity, "the quantity is negative, but the account is the one that receives")
        return kind, giver, receiver, quantity

    def _beside(self, row: Row, meaning: Meaning | None) -> _Sides:
        """Give kind, giver, receiver and quantity of a row that names the other account only, or none."""
        signed = self._signed(row, meaning)
        inward = signed > 0
        other = self._handle(row, "counterparty")
        if meaning is Meaning.USE and inward:
            meaning = Meaning.REFUND
        if (meaning in _INWARD and not inward) or (meaning in _OUTWARD and inward):
            raise _Aside(self.profile.kind, f"the word means {meaning}, but the quantity goes the other way")
        kind = _KINDS[meaning] if meaning else _kind_beside(other, inward=inward)
        if kind is not MovementKind.TRANSFER:
            other = None
        elif other is None:
            raise _Aside(self.profile.counterparty, "a transfer needs another account")
        elif other == self.account:
            raise _Aside(self.profile.counterparty, "the other account is the account itself")
        return (kind, other, self.account, signed) if inward else (kind, self.account, other, signed)

    def _signed(self, row: Row, meaning: Meaning | None) -> int:
        """Give the credits that a row adds to the account, below 0 where it takes some."""
        if self.profile.incoming is not None:
            incoming, outgoing = (self._optional(row, role, self._credits) or 0 for role in ("incoming", "outgoing"))
            if incoming and outgoing:
                raise _Aside(self.profile.incoming, "it has credits both coming in and going out")
            return incoming or -abs(outgoing)
        quantity = self._read(row, "quantity", self._credits)
        if self.profile.signed:
            return quantity
        if quantity < 0 and not self.profile.record.one_way:
            raise _Aside(self.profile.quantity, "it is negative, but the profile says that quantities have no sign")
        if meaning in _INWARD:
            return quantity
        if meaning in _OUTWARD:
            return -quantity
        raise _Aside(self.profile.kind, "neither a sign nor the word says which way the credits went")

    def _meaning(self, row: Row) -> Meaning | None:
        if self.profile.kind is None:
            return self.profile.record.meaning
        word = self._text(row, "kind")
        meaning = self.words.get(word.casefold())
        if meaning is None:
            raise _Aside(self.profile.kind, f"the profile doesn't say what {shown(word)} means")
        if meaning is Meaning.IGNORED:
            raise _Skipped(f"the profile leaves out rows of the kind {shown(word)}")
        return meaning

    def _refuse_totals(self, row: Row) -> None:
        """Raise _Skipped for a row that has no day but a word for a total."""
        if any(sign.isdigit() for sign in row.cells[self.at["day"]]) and not is_total(
            cleaned(row.cells[self.at["day"]])
        ):
            return
        for cell in row.cells:
            if is_total(cleaned(cell)):
                raise _Skipped(f"a total: {shown(cell)}")

    def _handle(self, row: Row, role: str) -> str | None:
        """Give the account in a cell, in the pool's spelling if it is the account itself; None for an empty cell."""
        text = self._text(row, role)
        return self.account if text.casefold() == self.account.casefold() else text or None

    def _text(self, row: Row, role: str) -> str:
        return cleaned(row.cells[self.at[role]]) if role in self.at else ""

    def _optional(self, row: Row, role: str, reader: Callable[[str], _T]) -> _T | None:
        return self._read(row, role, reader) if self._text(row, role) else None

    def _read(self, row: Row, role: str, reader: Callable[[str], _T]) -> _T:
        text = self._text(row, role)
        if not text:
            raise _Aside(getattr(self.profile, role), "the cell is empty")
        try:
            return reader(text)
        except Unfit as finding:
            raise _Aside(getattr(self.profile, role), str(finding)) from None

    def _credits(self, text: str) -> int:
        return credits_of(text, self.profile.decimal, self.profile.thousands)

    def _amount(self, text: str) -> str:
        return amount_of(text, self.profile.decimal, self.profile.thousands)


def _kind_by_sides(giver: str | None, receiver: str | None) -> MovementKind:
    if giver and receiver:
        return MovementKind.TRANSFER
    if not giver and not receiver:
        raise _Aside(None, "it names no account")
    return MovementKind.USE if giver else MovementKind.PURCHASE


def _kind_beside(other: str | None, *, inward: bool) -> MovementKind:
    if other:
        return MovementKind.TRANSFER
    return MovementKind.PURCHASE if inward else MovementKind.USE
