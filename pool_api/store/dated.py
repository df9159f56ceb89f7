"""How what is valid from a day and kept in versions is read: price ladders and catalogues alike.

A change adds a version; one without content withdraws. What the content says is for whoever keeps the table.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Column, Connection, Row, Table, and_, func, select


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated:
    """A table of versions by the day that they are valid from: columns are those that are read, content is None where
    a version withdraws."""

    table: Table
    columns: tuple[Column[Any], ...]
    content: Column[Any]

    def versions(
        self, connection: Connection, pool: str, valid_from: date, *, before: int | None, limit: int
    ) -> Sequence[Row[Any]]:
        """Give versions of what is valid from a day, newest first, those below a version only."""
        the = self.table.c
        query = select(*self.columns).where(the.pool_id == pool, the.valid_from == valid_from.isoformat())
        if before is not None:
            query = query.where(the.version < before)
        return connection.execute(query.order_by(the.version.desc()).limit(limit)).all()

    def standing(
        self, connection: Connection, pool: str, *, after: date | None, limit: int | None
    ) -> Sequence[Row[Any]]:
        """Give the newest versions of what stands, by the day that it is valid from, later ones only."""
        the = self.table.c
        newest = (
            select(the.valid_from, func.max(the.version).label("version"))
            .where(the.pool_id == pool)
            .group_by(the.valid_from)
            .subquery()
        )
        same = and_(the.valid_from == newest.c.valid_from, the.version == newest.c.version)
        query = select(*self.columns).join_from(self.table, newest, same)
        query = query.where(the.pool_id == pool, self.content.is_not(None))
        if after is not None:
            query = query.where(the.valid_from > after.isoformat())
        return connection.execute(query.order_by(the.valid_from).limit(limit)).all()
