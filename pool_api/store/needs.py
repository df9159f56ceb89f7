"""Needs of coming months that were stated by hand, with all their versions.

Rows are only ever added: a need that is stated otherwise gets one more version, one that is withdrawn a version without
a quantity. Whoever adds holds the pool's head row locked.
"""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, and_, func, insert, select

from pool_api.domain.values import Month
from pool_api.store.need_tables import stated_need


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedVersion:
    """What was said of a member's need in a whole month, why, by whom and when; quantity None where it was
    withdrawn."""

    member: str
    month: Month
    version: int
    quantity: int | None
    reason: str
    written_at: str
    written_by: str


def read_need(connection: Connection, pool: str, member: str, month: Month) -> NeedVersion | None:
    """Give the newest version of a member's need in a month, None when none was ever stated."""
    found = read_versions(connection, pool, member, month, before=None, limit=1)
    return found[0] if found else None


def read_versions(
    connection: Connection, pool: str, member: str, month: Month, *, before: int | None, limit: int
) -> list[NeedVersion]:
    """Give versions of a member's need in a month, newest first, those below a version only."""
    the = stated_need.c
    query = select(stated_need).where(the.pool_id == pool, the.member == member, the.month == str(month))
    if before is not None:
        query = query.where(the.version < before)
    return [_version(row) for row in connection.execute(query.order_by(the.version.desc()).limit(limit))]


def read_standing(connection: Connection, pool: str, from_month: Month) -> dict[tuple[str, Month], NeedVersion]:
    """Give the needs that stand, of a month and those after it, by member and month."""
    the = stated_need.c
    newest = (
        select(the.member, the.month, func.max(the.version).label("version"))
        .where(the.pool_id == pool, the.month >= str(from_month))
        .group_by(the.member, the.month)
        .subquery()
    )
    same = and_(the.member == newest.c.member, the.month == newest.c.month, the.version == newest.c.version)
    query = select(stated_need).join(newest, same).where(the.pool_id == pool, the.quantity.is_not(None))
    found = [_version(row) for row in connection.execute(query.order_by(the.member, the.month))]
    return {(each.member, each.month): each for each in found}


def write_need(connection: Connection, pool: str, written: NeedVersion) -> None:
    """Add a version of a need; StoreConflict when there is one of that number."""
    connection.execute(
        insert(stated_need).values(
            pool_id=pool,
            member=written.member,
            month=str(written.month),
            version=written.version,
            quantity=written.quantity,
            reason=written.reason,
            written_at=written.written_at,
            written_by=written.written_by,
        )
    )


def _version(row: Row[Any]) -> NeedVersion:
    return NeedVersion(
        member=row.member,
        month=Month.parse(row.month),
        version=row.version,
        quantity=row.quantity,
        reason=row.reason,
        written_at=row.written_at,
        written_by=row.written_by,
    )
