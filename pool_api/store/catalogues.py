"""The vendor's catalogues with all their versions.

Versions are only ever added: a catalogue that is changed gets one more, one that is withdrawn a version without items.
Whoever adds holds the pool's head row locked.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Column, Connection, Row, and_, insert, select

from pool_api.domain.catalogue import Catalogue, Covered, Item
from pool_api.domain.entries import Json, canonical
from pool_api.store.catalogue_tables import catalogue
from pool_api.store.dated import Dated


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueVersion:
    """What was said of the catalogue that is valid from a day, by whom and when; count is how many items it has, None
    where it was withdrawn."""

    valid_from: date
    version: int
    count: int | None
    written_at: str
    written_by: str


_LISTED: tuple[Column[Any], ...] = (
    catalogue.c.valid_from,
    catalogue.c.version,
    catalogue.c.item_count,
    catalogue.c.written_at,
    catalogue.c.written_by,
)
_DATED = Dated(table=catalogue, columns=_LISTED, content=catalogue.c.item_count)


def read_newest(connection: Connection, pool: str, valid_from: date) -> CatalogueVersion | None:
    """Give the newest version of the catalogue that is valid from a day, None when there never was one."""
    found = read_versions(connection, pool, valid_from, before=None, limit=1)
    return found[0] if found else None


def read_versions(
    connection: Connection, pool: str, valid_from: date, *, before: int | None, limit: int
) -> list[CatalogueVersion]:
    """Give versions of the catalogue that is valid from a day, newest first, those below a version only."""
    return [_version(row) for row in _DATED.versions(connection, pool, valid_from, before=before, limit=limit)]


def read_catalogues(
    connection: Connection, pool: str, *, after: date | None = None, limit: int | None = None
) -> list[CatalogueVersion]:
    """Give the newest versions of the catalogues that stand, by the day that they are valid from, later ones only."""
    return [_version(row) for row in _DATED.standing(connection, pool, after=after, limit=limit)]


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
