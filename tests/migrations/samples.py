"""One row for every table, made from what tables.py says of its columns: enough to try what may be done with it."""

from sqlalchemy import Column, Connection, Table, insert
from sqlalchemy.types import Integer

from pool_api.store.tables import metadata

APPEND_ONLY = (
    "entry",
    "answer",
    "vendor_import",
    "vendor_row",
    "vendor_revision",
    "vendor_withdrawal",
    "decision",
    "reconciliation_act",
    "price_ladder",
    "order_plan",
    "catalogue",
    "arrangement_step",
    "stated_need",
    "access_event",
    "access_told",
)

ACROSS_POOLS = {
    "pool": "the operator lists the pools",
    "api_key": "a key is looked up before its pool is known",
    "service_setting": "belongs to no pool",
    "person": "belongs to no pool, and may be in several",
    "session": "belongs to a person",
    "second_factor": "belongs to a person",
    "recovery_code": "belongs to a person",
    "membership": "a person's pools are found before one is named",
    "invitation": "its token is looked up before its pool is known",
    "access_event": "somebody who signs in is in no pool yet, and may be in several",
    "access_told": "what somebody does outside of pools is told in each of its pools",
    "access_head": "belongs to no pool",
}
"""Tables that row security doesn't divide, and why."""

WALLED = tuple(table.name for table in metadata.sorted_tables if table.name not in ACROSS_POOLS)

_SPECIAL: dict[str, object] = {
    "decision.verdict": "accepted",
    "reconciliation_act.kind": "confirmed",
    "api_key.role": "keeper",
    "arrangement_step.matter": "round",
    "membership.role": "keeper",
    "invitation.role": "keeper",
    "second_factor.wrong": 0,
}


MADE_WITH_A_ROW = {"access_head"}
"""Tables that a revision puts their one row into."""


def sample(table: Table, pool: str, *, saying: str = "something") -> dict[str, object]:
    """Give a row that fits the sample rows of the other tables; saying is what its free texts say."""
    referring = {column for constraint in table.foreign_key_constraints for column in constraint.columns}
    wanted = [column for column in table.columns if not column.nullable or column.name == "pool_id"]
    return {column.name: _value(column, pool, saying, fixed=column in referring) for column in wanted}


def _value(column: Column[object], pool: str, saying: str, *, fixed: bool) -> object:
    if column.name == "pool_id":
        return pool
    if str(column) in {"access_event.number", "access_told.number"}:
        return 2 if pool == "south" else 1
    if isinstance(column.type, Integer):
        return _SPECIAL.get(str(column), 1)
    return _SPECIAL.get(str(column)) or (f"of {pool}" if fixed or column.primary_key else f"{saying} of {pool}")


def fill(connection: Connection, pool: str, *, before: str | None = None) -> None:
    """Put one row into every table, or into those that come before one because it may refer to them."""
    for table in metadata.sorted_tables:
        if table.name == before:
            return
        if table.name in MADE_WITH_A_ROW:
            continue
        connection.execute(insert(table).values(sample(table, pool)))
