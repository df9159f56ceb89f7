"""The vendor's record in the database: imported files, their rows, and decisions on differences.

Rows and decisions are only ever added. Whoever adds holds the pool's head row locked, so that two imports of one file
can't both find its rows new.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Row, Table, func, insert, select

from pool_api.domain.entries import Json, canonical
from pool_api.domain.record import MovementKind, RecordType, SetAside, VendorRow
from pool_api.domain.revisions import Says
from pool_api.store.record_tables import vendor_import, vendor_row, vendor_withdrawal
from pool_api.store.tables import decision


@dataclass(frozen=True, slots=True, kw_only=True)
class Import:
    """One file that was read: whose record it is, which days it shows, how many rows were new, what was set aside, and
    how many rows on file it says something of (see revisions), where that was looked up."""

    import_id: str
    account: str
    profile: str
    record: RecordType
    file_digest: str
    imported_at: str
    imported_by: str
    first_day: date | None
    last_day: date | None
    rows_new: int
    rows_known: int
    set_aside: tuple[SetAside, ...]
    said: Mapping[Says, int] = field(default_factory=dict)

    @property
    def content(self) -> tuple[object, ...]:
        """What two imports have in common when the later one says nothing that the earlier one didn't."""
        return self.account, self.profile, self.file_digest, self.first_day, self.last_day


class Shows(NamedTuple):
    """The days, both included, that an import shows of an account, and of what type of record."""

    import_id: str
    account: str
    record: RecordType
    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What a keeper decided on a difference; entries are the numbers recorded to mend it, withdrawn are the rows taken
    out of the record to mend it, each with the import whose word was taken (told when it is written only)."""

    difference: str
    verdict: str
    reason: str
    decided_by: str
    decided_at: str
    entries: tuple[int, ...] = ()
    withdrawn: tuple[tuple[str, str], ...] = ()


# --- imports and rows ------------------------------------------------------------------------------------------------


def write_import(connection: Connection, pool: str, made: Import, new: Collection[VendorRow]) -> None:
    """Write an import and the rows that it brought."""
    connection.execute(
        insert(vendor_import).values(
            pool_id=pool,
            import_id=made.import_id,
            account=made.account,
            profile=made.profile,
            record=made.record,
            file_digest=made.file_digest,
            imported_at=made.imported_at,
            imported_by=made.imported_by,
            first_day=_day_text(made.first_day),
            last_day=_day_text(made.last_day),
            rows_new=made.rows_new,
            rows_known=made.rows_known,
            set_aside=canonical([_set_aside_json(each) for each in made.set_aside]).decode(),
        )
    )
    if new:
        connection.execute(insert(vendor_row), [_row_values(pool, made.import_id, row) for row in new])


def read_imports(connection: Connection, pool: str, *, after: str, limit: int) -> list[Import]:
    """Give imports whose id comes after a text, by id (ids rise with time)."""
    query = (
        select(vendor_import)
        .where(vendor_import.c.pool_id == pool, vendor_import.c.import_id > after)
        .order_by(vendor_import.c.import_id)
        .limit(limit)
    )
    return [_import(row) for row in connection.execute(query)]


def count_imports(connection: Connection, pool: str) -> int:
    """Give how many files were imported."""
    query = select(func.count()).select_from(vendor_import).where(vendor_import.c.pool_id == pool)
    return connection.execute(query).scalar_one()


def read_import(connection: Connection, pool: str, import_id: str) -> Import | None:
    """Give one import, None when there is none of that id."""
    query = select(vendor_import).where(vendor_import.c.pool_id == pool, vendor_import.c.import_id == import_id)
    row = connection.execute(query).one_or_none()
    return None if row is None else _import(row)


def read_earlier(connection: Connection, pool: str, made: Import) -> str | None:
    """Give the id of the first import on file that said the same, None when there is none."""
    same = (vendor_import.c.pool_id == pool, vendor_import.c.file_digest == made.file_digest)
    query = select(vendor_import).where(*same).order_by(vendor_import.c.import_id)
    found = (_import(row) for row in connection.execute(query))
    return next((each.import_id for each in found if each.content == made.content), None)


def read_shows(connection: Connection, pool: str) -> Iterator[Shows]:
    """Give which days imports show, by import; those of files without days, none."""
    the = vendor_import.c
    columns = (the.import_id, the.account, the.record, the.first_day, the.last_day)
    query = select(*columns).where(the.pool_id == pool, the.first_day.is_not(None), the.last_day.is_not(None))
    for import_id, account, record, first, last in connection.execute(query.order_by(the.import_id)):
        yield Shows(import_id, account, RecordType(record), date.fromisoformat(first), date.fromisoformat(last))


def count_rows(
    connection: Connection, pool: str, *, first_day: date, last_day: date
) -> Iterator[tuple[str, date, int]]:
    """Give how many rows are on file, by account and day."""
    by = (vendor_row.c.account, vendor_row.c.day)
    query = select(*by, func.count()).where(*of_days(vendor_row, pool, None, first_day, last_day)).group_by(*by)
    for account, day, rows in connection.execute(query.order_by(*by)):
        yield account, date.fromisoformat(day), rows


def read_rows(
    connection: Connection,
    pool: str,
    *,
    account: str | None = None,
    first_day: date | None = None,
    last_day: date | None = None,
) -> Iterator[VendorRow]:
    """Give rows on file of an account (None: of all) on days from first to last, by day, account and content."""
    query = select(vendor_row).where(*of_days(vendor_row, pool, account, first_day, last_day))
    order = (vendor_row.c.day, vendor_row.c.account, vendor_row.c.content, vendor_row.c.occurrence)
    for row in connection.execute(query.order_by(*order)):
        yield row_of(row)


def of_days(
    table: Table, pool: str, account: str | None, first_day: date | None, last_day: date | None
) -> Iterator[ColumnElement[bool]]:
    """Give the conditions on a table with accounts and days."""
    yield table.c.pool_id == pool
    if account is not None:
        yield table.c.account == account
    if first_day is not None:
        yield table.c.day >= first_day.isoformat()
    if last_day is not None:
        yield table.c.day <= last_day.isoformat()


def _row_values(pool: str, import_id: str, row: VendorRow) -> dict[str, Any]:
    return {
        "pool_id": pool,
        "account": row.account,
        "content": row.content,
        "occurrence": row.occurrence,
        "import_id": import_id,
        "line": row.line,
        "day": row.day.isoformat(),
        "kind": row.kind.value,
        "giver": row.giver,
        "receiver": row.receiver,
        "quantity": row.quantity,
        "note": row.note,
        "reference": row.reference,
        "balance": row.balance,
        "amount": row.amount,
    }


def row_of(row: Row[Any]) -> VendorRow:
    """Give what a row of the table says."""
    return VendorRow(
        account=row.account,
        day=date.fromisoformat(row.day),
        kind=MovementKind(row.kind),
        giver=row.giver,
        receiver=row.receiver,
        quantity=row.quantity,
        note=row.note,
        reference=row.reference,
        balance=row.balance,
        amount=row.amount,
        content=row.content,
        occurrence=row.occurrence,
        line=row.line,
    )


def _import(row: Row[Any]) -> Import:
    return Import(
        import_id=row.import_id,
        account=row.account,
        profile=row.profile,
        record=RecordType(row.record),
        file_digest=row.file_digest,
        imported_at=row.imported_at,
        imported_by=row.imported_by,
        first_day=None if row.first_day is None else date.fromisoformat(row.first_day),
        last_day=None if row.last_day is None else date.fromisoformat(row.last_day),
        rows_new=row.rows_new,
        rows_known=row.rows_known,
        set_aside=tuple(
            SetAside(line=each["line"], column=each["column"], reason=each["reason"], cells=tuple(each["cells"]))
            for each in json.loads(row.set_aside)
        ),
    )


def _set_aside_json(each: SetAside) -> Json:
    return {"line": each.line, "column": each.column, "reason": each.reason, "cells": list(each.cells)}


def _day_text(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


# --- decisions -------------------------------------------------------------------------------------------------------


def read_decisions(connection: Connection, pool: str, differences: Iterable[str] | None = None) -> dict[str, Decision]:
    """Give decisions by difference: all of a pool, or those on some differences."""
    query = select(decision).where(decision.c.pool_id == pool)
    if differences is not None:
        query = query.where(decision.c.difference.in_(sorted(set(differences))))
    return {
        row.difference: Decision(
            difference=row.difference,
            verdict=row.verdict,
            reason=row.reason,
            decided_by=row.decided_by,
            decided_at=row.decided_at,
            entries=tuple(json.loads(row.entries)),
        )
        for row in connection.execute(query)
    }


def write_decision(connection: Connection, pool: str, made: Decision) -> None:
    """Write a decision and what it withdraws; StoreConflict when the difference is decided already."""
    connection.execute(
        insert(decision).values(
            pool_id=pool,
            difference=made.difference,
            verdict=made.verdict,
            reason=made.reason,
            decided_by=made.decided_by,
            decided_at=made.decided_at,
            entries=canonical(list(made.entries)).decode(),
        )
    )
    withdrawn = [
        {"pool_id": pool, "row": row, "import_id": import_id, "difference": made.difference}
        for row, import_id in made.withdrawn
    ]
    if withdrawn:
        connection.execute(insert(vendor_withdrawal), withdrawn)


def read_withdrawals(connection: Connection, pool: str) -> set[tuple[str, str]]:
    """Give the names of all rows that were withdrawn, each with the import whose word was taken."""
    query = select(vendor_withdrawal.c.row, vendor_withdrawal.c.import_id).where(vendor_withdrawal.c.pool_id == pool)
    return {(row.row, row.import_id) for row in connection.execute(query)}
