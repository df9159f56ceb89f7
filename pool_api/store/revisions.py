"""What later files say of rows of the vendor's record, in the database: only ever added, by whoever holds the pool's
head row locked."""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, Select, and_, func, insert, select, tuple_

from pool_api.domain.record import VendorRow
from pool_api.domain.revisions import Change, Says, Standing, Word, standing
from pool_api.store import vendor
from pool_api.store.record_tables import vendor_revision, vendor_row
from pool_api.store.vendor import of_days, row_of


def write_changes(connection: Connection, pool: str, import_id: str, changes: Collection[Change]) -> None:
    """Write what an import says of rows on file."""
    values = [
        {
            "pool_id": pool,
            "import_id": import_id,
            "account": change.earlier.account,
            "content": change.earlier.content,
            "occurrence": change.earlier.occurrence,
            "day": change.earlier.day.isoformat(),
            "became": change.later and change.later.identity,
            "shown": int(change.says is Says.BACK),
        }
        for change in changes
    ]
    if values:
        connection.execute(insert(vendor_revision), values)


def read_words(
    connection: Connection,
    pool: str,
    *,
    account: str | None = None,
    first_day: date | None = None,
    last_day: date | None = None,
) -> list[Word]:
    """Give what imports said of rows on file of an account (None: of all) on days from first to last, by import."""
    query = select(vendor_revision).where(*of_days(vendor_revision, pool, account, first_day, last_day))
    return [
        Word(import_id=row.import_id, row=f"{row.content}:{row.occurrence}", says=_says(row), became=row.became)
        for row in connection.execute(query.order_by(vendor_revision.c.import_id))
    ]


def read_counting(
    connection: Connection, pool: str, *, first_day: date, last_day: date
) -> tuple[list[VendorRow], Standing]:
    """Give the rows that count on days from first to last, by day, account and content, and how all rows stand."""
    rows = list(vendor.read_rows(connection, pool, first_day=first_day, last_day=last_day))
    words = read_words(connection, pool, first_day=first_day, last_day=last_day)
    if not words:
        return rows, Standing()
    known = {row.identity: row for row in rows}
    stands = standing(words, known, vendor.read_withdrawals(connection, pool))
    return [row for row in rows if row.identity not in stands.left_out], stands


def read_left_out(connection: Connection, pool: str, *, first_day: date, last_day: date) -> list[VendorRow]:
    """Give the rows on file that don't count on days from first to last."""
    words = read_words(connection, pool, first_day=first_day, last_day=last_day)
    if not words:
        return []
    rows = vendor.read_rows(connection, pool, first_day=first_day, last_day=last_day)
    known = {row.identity: row for row in rows}
    stands = standing(words, known, vendor.read_withdrawals(connection, pool))
    return [known[name] for name in sorted(stands.left_out)]


def read_changes(
    connection: Connection, pool: str, import_id: str, *, after: str | None = None, limit: int | None = None
) -> list[Change]:
    """Give what an import says of rows on file, by day and name.

    Takes:   after — the place of the last one before, see Change.place."""
    query = _changes(pool, import_id).limit(limit)
    if after is not None:
        day, content, occurrence = after.split(":")
        query = query.where(tuple_(*_ORDER) > tuple_(day, content, int(occurrence)))
    found = list(connection.execute(query))
    later = _named(connection, pool, {row.account for row in found}, [row.became for row in found if row.became])
    return [Change(earlier=row_of(row), says=_says(row), later=later.get(row.became)) for row in found]


def count_changes(connection: Connection, pool: str, imports: Collection[str]) -> dict[str, dict[Says, int]]:
    """Give, by import, of how many rows it says what."""
    became = vendor_revision.c.became.is_not(None)
    query = (
        select(vendor_revision.c.import_id, vendor_revision.c.shown, became.label("became"), func.count().label("rows"))
        .where(vendor_revision.c.pool_id == pool, vendor_revision.c.import_id.in_(sorted(imports)))
        .group_by(vendor_revision.c.import_id, vendor_revision.c.shown, became)
    )
    found: dict[str, dict[Says, int]] = {import_id: dict.fromkeys(Says, 0) for import_id in imports}
    for row in connection.execute(query):
        found[row.import_id][_says(row)] += row.rows
    return found


_ORDER = (vendor_revision.c.day, vendor_revision.c.content, vendor_revision.c.occurrence)


def _changes(pool: str, import_id: str) -> Select[Any]:
    keys = ("pool_id", "account", "content", "occurrence")
    same = and_(*(vendor_revision.c[key] == vendor_row.c[key] for key in keys))
    said = (vendor_revision.c.became, vendor_revision.c.shown)
    return (
        select(*said, vendor_row)
        .join(vendor_row, same)
        .where(vendor_revision.c.pool_id == pool, vendor_revision.c.import_id == import_id)
        .order_by(*_ORDER)
    )


def _named(connection: Connection, pool: str, accounts: Collection[str], names: Sequence[str]) -> dict[str, VendorRow]:
    found: dict[str, VendorRow] = {}
    key = tuple_(vendor_row.c.content, vendor_row.c.occurrence)
    for begin in range(0, len(names), _NAMES_AT_ONCE):
        parts = [name.partition(":") for name in names[begin : begin + _NAMES_AT_ONCE]]
        query = select(vendor_row).where(
            vendor_row.c.pool_id == pool,
            vendor_row.c.account.in_(accounts),
            key.in_([(content, int(occurrence)) for content, _, occurrence in parts]),
        )
        found |= {row.identity: row for row in map(row_of, connection.execute(query))}
    return found


_NAMES_AT_ONCE = 500


def _says(row: Row[Any]) -> Says:
    return Says.BACK if row.shown else Says.CHANGED if row.became else Says.GONE
