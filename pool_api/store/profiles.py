"""Column profiles by name, of the vendor's records and of its catalogues: the one in force, and its version."""

import json
from dataclasses import dataclass

from sqlalchemy import Connection, Table, insert, select, update

from pool_api.domain.entries import Json, canonical
from pool_api.store.catalogue_tables import catalogue_profile
from pool_api.store.tables import column_profile


@dataclass(frozen=True, slots=True)
class Profiles:
    """The profiles of one table. Whoever writes holds the pool's head row locked."""

    table: Table

    def read(self, connection: Connection, pool: str, name: str) -> tuple[Json, int] | None:
        """Give a profile and its version, None when there is none of that name."""
        the = self.table.c
        query = select(the.profile, the.version).where(the.pool_id == pool, the.name == name)
        row = connection.execute(query).one_or_none()
        return None if row is None else (json.loads(row.profile), row.version)

    def after(self, connection: Connection, pool: str, name: str, limit: int) -> list[Json]:
        """Give profiles whose name comes after a text, by name."""
        the = self.table.c
        query = select(the.profile).where(the.pool_id == pool, the.name > name).order_by(the.name).limit(limit)
        return [json.loads(text) for text in connection.execute(query).scalars()]

    def write(self, connection: Connection, pool: str, name: str, profile: Json, *, exists: bool) -> None:
        """Write a new profile at version 1, or replace one."""
        the, text = self.table.c, canonical(profile).decode()
        if exists:
            changed = update(self.table).where(the.pool_id == pool, the.name == name)
            connection.execute(changed.values(profile=text, version=the.version + 1))
        else:
            connection.execute(insert(self.table).values(pool_id=pool, name=name, profile=text, version=1))


OF_RECORDS = Profiles(column_profile)
OF_CATALOGUES = Profiles(catalogue_profile)
