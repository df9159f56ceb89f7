"""What is valid from a day and kept in versions: price ladders and catalogues alike.

Versions are only ever added: a change adds one, and one without content withdraws. What the content says is for whoever
keeps the table. Whoever adds holds the pool's head row locked.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Generic, TypeVar

from sqlalchemy import Column, Connection, Row, Table, and_, func, insert, select

Said = TypeVar("Said")


@dataclass(frozen=True, slots=True, kw_only=True)
class Version(Generic[Said]):
    """What was said of what is valid from a day, by whom and when; said None where it was withdrawn."""

    valid_from: date
    version: int
    said: Said | None
    written_at: str
    written_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dated(Generic[Said]):
    """A table of versions by the day that they are valid from. content is the column that tells what was said, None
    where a version withdraws; understand makes of it what versions say."""

    table: Table
    content: Column[Any]
    understand: Callable[[Any], Said]

    def newest(self, connection: Connection, pool: str, valid_from: date) -> Version[Said] | None:
        """Give the newest version of what is valid from a day, None when there never was one."""
        found = self.versions(connection, pool, valid_from, before=None, limit=1)
        return found[0] if found else None

    def versions(
        self, connection: Connection, pool: str, valid_from: date, *, before: int | None, limit: int
    ) -> list[Version[Said]]:
        """Give versions of what is valid from a day, newest first, those below a version only."""
        the = self.table.c
        query = select(*self._columns).where(the.pool_id == pool, the.valid_from == valid_from.isoformat())
        if before is not None:
            query = query.where(the.version < before)
        return [self._version(row) for row in connection.execute(query.order_by(the.version.desc()).limit(limit))]

    def standing(
        self, connection: Connection, pool: str, *, after: date | None = None, limit: int | None = None
    ) -> list[Version[Said]]:
        """Give the newest versions of what stands, by the day that it is valid from, later ones only."""
        the = self.table.c
        newest = (
            select(the.valid_from, func.max(the.version).label("version"))
            .where(the.pool_id == pool)
            .group_by(the.valid_from)
            .subquery()
        )
        same = and_(the.valid_from == newest.c.valid_from, the.version == newest.c.version)
        query = select(*self._columns).join_from(self.table, newest, same)
        query = query.where(the.pool_id == pool, self.content.is_not(None))
        if after is not None:
            query = query.where(the.valid_from > after.isoformat())
        return [self._version(row) for row in connection.execute(query.order_by(the.valid_from).limit(limit))]

    def add(self, connection: Connection, pool: str, made: Version[Said], content: Mapping[str, object]) -> None:
        """Add a version, with what its columns of content hold; StoreConflict when there is one of that number."""
        columns = {
            "pool_id": pool,
            "valid_from": made.valid_from.isoformat(),
            "version": made.version,
            "written_at": made.written_at,
            "written_by": made.written_by,
        }
        connection.execute(insert(self.table).values(**columns, **content))

    @property
    def _columns(self) -> tuple[Column[Any], ...]:
        the = self.table.c
        return (the.valid_from, the.version, self.content, the.written_at, the.written_by)

    def _version(self, row: Row[Any]) -> Version[Said]:
        content = getattr(row, self.content.name)
        return Version(
            valid_from=date.fromisoformat(row.valid_from),
            version=row.version,
            said=None if content is None else self.understand(content),
            written_at=row.written_at,
            written_by=row.written_by,
        )
