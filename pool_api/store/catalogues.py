"""The vendor's catalogues with all their versions; of a version its count of items is read apart from them."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from datetime import date

from sqlalchemy import Connection, and_, select

from pool_api.domain.catalogue import Catalogue, Covered, Item
from pool_api.domain.entries import Json, canonical
from pool_api.store.catalogue_tables import catalogue
from pool_api.store.dated import Dated, Version

DATED = Dated(table=catalogue, content=catalogue.c.item_count, understand=int)
"""The catalogues by their days; of what a version says, how many items."""

CatalogueVersion = Version[int]


def read_catalogue(connection: Connection, pool: str, said: CatalogueVersion) -> Catalogue:
    """Give what a version says that withdraws nothing."""
    at = and_(catalogue.c.valid_from == said.valid_from.isoformat(), catalogue.c.version == said.version)
    content = connection.execute(select(catalogue.c.content).where(catalogue.c.pool_id == pool, at)).scalar_one()
    return Catalogue(valid_from=said.valid_from, items=tuple(_items(json.loads(content))))


def read_lawful(connection: Connection, pool: str, first: date, last: date) -> list[Catalogue]:
    """Give the catalogues that stand and count on some day from the first to the last, by the day that they are valid
    from."""
    begun = [each for each in DATED.standing(connection, pool) if each.valid_from <= last]
    before = [each for each in begun if each.valid_from <= first]
    counting = [*before[-1:], *(each for each in begun if each.valid_from > first)]
    return [read_catalogue(connection, pool, each) for each in counting]


def content_of(said: Catalogue) -> dict[str, object]:
    """Give what the columns of content hold for a catalogue."""
    return {"item_count": len(said.items), "content": canonical([_item_json(each) for each in said.items]).decode()}


def _item_json(item: Item) -> Json:
    return {name: value for name, value in asdict(item).items() if value is not None and value is not False}


def _items(stored: Iterable[Json]) -> Iterable[Item]:
    for each in stored:
        covers = Covered(**{name: tuple(names) for name, names in each.pop("covers").items()})
        yield Item(**each, covers=covers)
