"""The vendor's catalogues with all their versions, and the column profiles that their files are read by.

Versions are only ever added: a catalogue that is changed gets one more, one that is withdrawn a version without items.
Whoever adds holds the pool's head row locked.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Column, Connection, Row, Select, and_, func, insert, select, update

from pool_api.domain.catalogue import Catalogue, Covered, Item
from pool_api.domain.entries import Json, canonical
from pool_api.store.catalogue_tables import catalogue, catalogue_profile


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueVersion:
    """What was said of the catalogue that is valid from a day, by whom and when; count is how many items it has, None
    where it was withdrawn."""

    valid_from: date
    version: int
    count: int | None
    written_at: str
    written_by: str


# --- catalogues ------------------------------------------------------------------------------------------------------

_LISTED: tuple[Column[Any], ...] = (
    catalogue.c.valid_from,
    catalogue.c.version,
    catalogue.c.item_count,
    catalogue.c.written_at,
    catalogue.c.written_by,
)


def read_newest(connection: Connection, pool: str, valid_from: date) -> CatalogueVersion | None:
    """Give the newest version of the catalogue that is valid from a day, None when there never was one."""
    found = read_versions(connection, pool, valid_from, before=None, limit=1)
    return found[0] if found else None


def read_versions(
    connection: Connection, pool: str, valid_from: date, *, before: int | None, limit: int
) -> list[CatalogueVersion]:
    """Give versions of the catalogue that is valid from a day, newest first, those below a version only."""
    query = select(*_LISTED).where(catalogue.c.pool_id == pool, catalogue.c.valid_from == valid_from.isoformat())
    if before is not None:
        query = query.where(catalogue.c.version < before)
    return [_version(row) for row in connection.execute(query.order_by(catalogue.c.version.desc()).limit(limit))]


def read_catalogues(
    connection: Connection, pool: str, *, after: date | None = None, limit: int | None = None
) -> list[CatalogueVersion]:
    """Give the newest versions of the catalogues that stand, by the day that they are valid from, later ones only."""
    query = _standing(pool).order_by(catalogue.c.valid_from).limit(limit)
    if after is not None:
        query = query.where(catalogue.c.valid_from > after.isoformat())
    return [_version(row) for row in connection.execute(query)]


def read_catalogue(connection: Connection, pool: str, said: CatalogueVersion) -> Catalogue | None:
    """Give what a version says, None where it says nothing."""
    at = and_(catalogue.c.valid_from == said.valid_from.isoformat(), catalogue.c.version == said.version)
    content = connection.execute(select(catalogue.c.content).where(catalogue.c.pool_id == pool, at)).scalar_one()
    return None if content is None else Catalogue(valid_from=said.valid_from, items=tuple(_items(json.loads(content))))


def read_lawful(connection: Connection, pool: str, first: date, last: date) -> list[Catalogue]:
    """Give the catalogues that stand and count on some day from the first to the last, by the day that they are valid
    from."""
    begun = [each for each in read_catalogues(connection, pool) if each.valid_from <= last]
    before = [each for each in begun if each.valid_from <= first]
    counting = [*before[-1:], *(each for each in begun if each.valid_from > first)]
    return [found for each in counting if (found := read_catalogue(connection, pool, each))]


def write_catalogue(connection: Connection, pool: str, written: CatalogueVersion, said: Catalogue | None) -> None:
    """Add a version of a catalogue; StoreConflict when there is one of that number."""
    content = None if said is None else canonical([_item_json(each) for each in said.items]).decode()
    connection.execute(
        insert(catalogue).values(
            pool_id=pool,
            valid_from=written.valid_from.isoformat(),
            version=written.version,
            item_count=written.count,
            content=content,
            written_at=written.written_at,
            written_by=written.written_by,
        )
    )


def _standing(pool: str) -> Select[Any]:
    newest = (
        select(catalogue.c.valid_from, func.max(catalogue.c.version).label("version"))
        .where(catalogue.c.pool_id == pool)
        .group_by(catalogue.c.valid_from)
        .subquery()
    )
    same = and_(catalogue.c.valid_from == newest.c.valid_from, catalogue.c.version == newest.c.version)
    query = select(*_LISTED).join_from(catalogue, newest, same)
    return query.where(catalogue.c.pool_id == pool, catalogue.c.item_count.is_not(None))


def _version(row: Row[Any]) -> CatalogueVersion:
    return CatalogueVersion(
        valid_from=date.fromisoformat(row.valid_from),
        version=row.version,
        count=row.item_count,
        written_at=row.written_at,
        written_by=row.written_by,
    )


def _item_json(item: Item) -> Json:
    return {name: value for name, value in asdict(item).items() if value is not None and value is not False}


def _items(stored: Iterable[Json]) -> Iterable[Item]:
    for each in stored:
        covers = Covered(**{name: tuple(names) for name, names in each.pop("covers").items()})
        yield Item(**each, covers=covers)


# --- column profiles -------------------------------------------------------------------------------------------------


def read_profile(connection: Connection, pool: str, name: str) -> tuple[Json, int] | None:
    """Give a profile and its version, None when there is none of that name."""
    at = (catalogue_profile.c.pool_id == pool) & (catalogue_profile.c.name == name)
    row = connection.execute(select(catalogue_profile).where(at)).one_or_none()
    return None if row is None else (json.loads(row.profile), row.version)


def read_profiles(connection: Connection, pool: str, *, after: str, limit: int) -> list[Json]:
    """Give profiles whose name comes after a text, by name."""
    where = (catalogue_profile.c.pool_id == pool) & (catalogue_profile.c.name > after)
    query = select(catalogue_profile.c.profile).where(where).order_by(catalogue_profile.c.name).limit(limit)
    return [json.loads(text) for text in connection.execute(query).scalars()]


def write_profile(connection: Connection, pool: str, name: str, profile: Json, *, exists: bool) -> None:
    """Write a new profile at version 1, or replace one."""
    text = canonical(profile).decode()
    if exists:
        at = (catalogue_profile.c.pool_id == pool) & (catalogue_profile.c.name == name)
        changed = {"profile": text, "version": catalogue_profile.c.version + 1}
        connection.execute(update(catalogue_profile).where(at).values(changed))
    else:
        connection.execute(insert(catalogue_profile).values(pool_id=pool, name=name, profile=text, version=1))
