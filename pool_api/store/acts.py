"""What people did about reconciliations in the database, and what the comparison of a month rests on.

Acts are only ever added, by whoever holds the pool's head row locked: so their numbers have no gaps.
"""

import json
from collections.abc import Collection, Iterable
from typing import Any, NamedTuple

from sqlalchemy import Connection, Row, func, insert, select

from pool_api.domain.acts import Act, ActKind
from pool_api.domain.entries import canonical
from pool_api.store.record_tables import vendor_import
from pool_api.store.tables import decision, head, reconciliation_act


class Stamp(NamedTuple):
    """What a comparison rests on: while it stays the same, so does what is compared. Last entry, directory's version,
    imported files, decisions, acts."""

    number: int
    hash: str
    directory_version: int
    imports: int
    decisions: int
    acts: int


def read_stamp(connection: Connection, pool: str) -> Stamp | None:
    """Give what comparisons of a pool rest on now; None when there is no such pool."""

    def counted(table: Any) -> Any:
        return select(func.count()).select_from(table).where(table.c.pool_id == pool).scalar_subquery()

    query = select(
        head.c.number,
        head.c.hash,
        head.c.directory_version,
        counted(vendor_import),
        counted(decision),
        _last(pool).scalar_subquery(),
    ).where(head.c.pool_id == pool)
    row = connection.execute(query).one_or_none()
    return None if row is None else Stamp(*row)


def read_acts(
    connection: Connection, pool: str, kinds: Iterable[ActKind], months: Collection[str] | None = None
) -> list[Act]:
    """Give the acts of some kinds, of some months or (None) of all, in order."""
    act = reconciliation_act.c
    query = select(reconciliation_act).where(act.pool_id == pool, act.kind.in_([kind.value for kind in kinds]))
    if months is not None:
        query = query.where(act.month.in_(sorted(months)))
    return [_act(row) for row in connection.execute(query.order_by(act.number))]


def read_numbered(connection: Connection, pool: str, numbers: Collection[int]) -> list[Act]:
    """Give the acts that exist among some numbers, in order."""
    act = reconciliation_act.c
    query = select(reconciliation_act).where(act.pool_id == pool, act.number.in_(sorted(numbers)))
    return [_act(row) for row in connection.execute(query.order_by(act.number))]


def last_number(connection: Connection, pool: str) -> int:
    """Give the number of the last act, 0 before the first."""
    found: int = connection.execute(_last(pool)).scalar_one()
    return found


def write_acts(connection: Connection, pool: str, acts: Collection[Act]) -> None:
    """Write acts. StoreConflict where a number is taken."""
    if acts:
        connection.execute(insert(reconciliation_act), [_values(pool, act) for act in acts])


def _last(pool: str) -> Any:
    act = reconciliation_act.c
    return select(func.coalesce(func.max(act.number), 0)).where(act.pool_id == pool)


def _values(pool: str, act: Act) -> dict[str, Any]:
    return {
        "pool_id": pool,
        "number": act.number,
        "month": act.month,
        "kind": act.kind.value,
        "subject": act.subject,
        "content": canonical(act.content).decode(),
        "word": act.word,
        "made_by": act.made_by,
        "made_at": act.made_at,
    }


def _act(row: Row[Any]) -> Act:
    return Act(
        number=row.number,
        month=row.month,
        kind=ActKind(row.kind),
        subject=row.subject,
        content=json.loads(row.content),
        word=row.word,
        made_by=row.made_by,
        made_at=row.made_at,
    )
