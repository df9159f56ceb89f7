"""Price ladders with all their versions, and the order plans that were made.

Rows are only ever added: a ladder that is changed gets one more version, one that is withdrawn a version without tiers.
Of a plan its setting is kept; the plan is what that gives. Whoever adds holds the pool's head row locked.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from pool_api.domain.entries import canonical
from pool_api.domain.ladder import Ladder, Tier
from pool_api.domain.planning import Setting
from pool_api.domain.values import Currency
from pool_api.store.dated import Dated
from pool_api.store.tables import order_plan, price_ladder


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderVersion:
    """What was said of the ladder that is valid from a day, by whom and when; tiers None where it was withdrawn."""

    valid_from: date
    version: int
    tiers: tuple[Tier, ...] | None
    written_at: str
    written_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan that was made: its setting, by whom and when."""

    plan_id: str
    setting: Setting
    made_at: str
    made_by: str


# --- price ladders ---------------------------------------------------------------------------------------------------

_DATED = Dated(table=price_ladder, columns=tuple(price_ladder.c), content=price_ladder.c.tiers)


def read_ladder(connection: Connection, pool: str, valid_from: date) -> LadderVersion | None:
    """Give the newest version of the ladder that is valid from a day, None when there never was one."""
    found = read_versions(connection, pool, valid_from, before=None, limit=1)
    return found[0] if found else None


def read_versions(
    connection: Connection, pool: str, valid_from: date, *, before: int | None, limit: int
) -> list[LadderVersion]:
    """Give versions of the ladder that is valid from a day, newest first, those below a version only."""
    return [_version(row) for row in _DATED.versions(connection, pool, valid_from, before=before, limit=limit)]


def read_ladders(
    connection: Connection, pool: str, *, after: date | None = None, limit: int | None = None
) -> list[LadderVersion]:
    """Give the newest versions of the ladders that stand, by the day that they are valid from, later ones only."""
    return [_version(row) for row in _DATED.standing(connection, pool, after=after, limit=limit)]


def read_lawful(connection: Connection, pool: str, currency: Currency) -> list[Ladder]:
    """Give the ladders that stand, as the core reckons with them, by the day that they are valid from."""
    return [
        Ladder(valid_from=each.valid_from, currency=currency, tiers=each.tiers)
        for each in read_ladders(connection, pool)
        if each.tiers
    ]


def write_ladder(connection: Connection, pool: str, written: LadderVersion) -> None:
    """Add a version of a ladder; StoreConflict when there is one of that number."""
    tiers = None if written.tiers is None else [[each.from_credits, each.unit_price] for each in written.tiers]
    connection.execute(
        insert(price_ladder).values(
            pool_id=pool,
            valid_from=written.valid_from.isoformat(),
            version=written.version,
            tiers=None if tiers is None else canonical(tiers).decode(),
            written_at=written.written_at,
            written_by=written.written_by,
        )
    )


def _version(row: Row[Any]) -> LadderVersion:
    return LadderVersion(
        valid_from=date.fromisoformat(row.valid_from),
        version=row.version,
        tiers=None if row.tiers is None else tuple(Tier(*tier) for tier in json.loads(row.tiers)),
        written_at=row.written_at,
        written_by=row.written_by,
    )


# --- order plans -----------------------------------------------------------------------------------------------------


def write_plan(connection: Connection, pool: str, made: KeptPlan) -> None:
    """Add a plan."""
    connection.execute(
        insert(order_plan).values(
            pool_id=pool,
            plan_id=made.plan_id,
            setting=canonical(made.setting.as_json()).decode(),
            made_at=made.made_at,
            made_by=made.made_by,
        )
    )


def count_plans(connection: Connection, pool: str) -> int:
    """Give how many plans were made."""
    query = select(func.count()).select_from(order_plan).where(order_plan.c.pool_id == pool)
    return connection.execute(query).scalar_one()


def read_plan(connection: Connection, pool: str, plan_id: str) -> KeptPlan | None:
    """Give one plan, None when there is none of that id."""
    query = select(order_plan).where(order_plan.c.pool_id == pool, order_plan.c.plan_id == plan_id)
    return next(_plans(connection.execute(query)), None)


def read_plans(connection: Connection, pool: str, *, before: str | None, limit: int) -> list[KeptPlan]:
    """Give plans, newest first, those below an id only (ids rise with time)."""
    query = select(order_plan).where(order_plan.c.pool_id == pool).order_by(order_plan.c.plan_id.desc()).limit(limit)
    if before is not None:
        query = query.where(order_plan.c.plan_id < before)
    return list(_plans(connection.execute(query)))


def _plans(rows: Iterable[Row[Any]]) -> Iterator[KeptPlan]:
    for row in rows:
        setting = Setting.from_json(json.loads(row.setting))
        yield KeptPlan(plan_id=row.plan_id, setting=setting, made_at=row.made_at, made_by=row.made_by)
