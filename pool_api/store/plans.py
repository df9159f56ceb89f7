"""Price ladders with all their versions, and the order plans that were made.

Rows are only ever added. Of a plan its setting is kept; the plan is what that gives. Whoever adds holds the pool's head
row locked.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from pool_api.domain.entries import canonical
from pool_api.domain.ladder import Ladder, Tier
from pool_api.domain.planning import Setting
from pool_api.domain.values import Currency
from pool_api.store.dated import Dated, Version
from pool_api.store.tables import order_plan, price_ladder


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A plan that was made: its setting, by whom and when."""

    plan_id: str
    setting: Setting
    made_at: str
    made_by: str


# --- price ladders ---------------------------------------------------------------------------------------------------

Tiers = tuple[Tier, ...]
LadderVersion = Version[Tiers]


def _tiers(text: str) -> Tiers:
    return tuple(Tier(*each) for each in json.loads(text))


LADDERS = Dated(table=price_ladder, content=price_ladder.c.tiers, understand=_tiers)
"""The price ladders by their days; versions say the tiers."""


def read_lawful(connection: Connection, pool: str, currency: Currency) -> list[Ladder]:
    """Give the ladders that stand, as the core reckons with them, by the day that they are valid from."""
    return [
        Ladder(valid_from=each.valid_from, currency=currency, tiers=each.said)
        for each in LADDERS.standing(connection, pool)
        if each.said
    ]


def content_of(tiers: Tiers) -> dict[str, object]:
    """Give what the column of content holds for a ladder."""
    return {"tiers": canonical([[each.from_credits, each.unit_price] for each in tiers]).decode()}


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


def read_plans(
    connection: Connection, pool: str, *, before: str | None, limit: int, made_before: str | None = None
) -> list[KeptPlan]:
    """Give plans, newest first, those below an id only (ids rise with time), and those made before an instant."""
    query = select(order_plan).where(order_plan.c.pool_id == pool).order_by(order_plan.c.plan_id.desc()).limit(limit)
    if before is not None:
        query = query.where(order_plan.c.plan_id < before)
    if made_before is not None:
        query = query.where(order_plan.c.made_at < made_before)
    return list(_plans(connection.execute(query)))


def _plans(rows: Iterable[Row[Any]]) -> Iterator[KeptPlan]:
    for row in rows:
        setting = Setting.from_json(json.loads(row.setting))
        yield KeptPlan(plan_id=row.plan_id, setting=setting, made_at=row.made_at, made_by=row.made_by)
