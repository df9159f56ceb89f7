"""What happened with access: adding events to their chain, and reading them for a pool, for somebody, or all.

The last number and hash stand in one row for the whole service, which whoever adds an event locks until the transaction
ends. So an event is added last, after everything that the transaction locks: then nobody waits for this row while
holding what its holder still wants.
"""

import json
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, insert, select, union_all, update

from pool_api.domain.access_log import Actor, Event, EventKind, chained
from pool_api.domain.entries import Json, canonical
from pool_api.store.access_tables import access_event, access_head, access_told
from pool_api.store.errors import StoreDamaged
from pool_api.store.people_tables import membership, person
from pool_api.store.tables import api_key

_AT_A_TIME = 1_000

_HEAD = select(access_head.c.number, access_head.c.hash).where(access_head.c.chain == "access")


@dataclass(frozen=True, slots=True, kw_only=True)
class EventFilter:
    """Which events are wanted: of one kind, by or about one person or key (who), from one instant to before another."""

    kind: str | None = None
    who: str | None = None
    from_at: str | None = None
    to_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """An event as people read it, with the names of persons and keys that have one. hash tells it from all others."""

    hash: str
    at: str
    kind: str
    actor: Actor
    by_name: str | None
    about: str | None
    about_name: str | None
    pool: str | None
    detail: Json


# --- adding ----------------------------------------------------------------------------------------------------------


def read_pools_of(connection: Connection, person_id: str) -> list[str]:
    """Give the ids of the pools that a person is in now, in order; none for what isn't a person."""
    query = select(membership.c.pool_id).where(membership.c.person_id == person_id, membership.c.ended_at.is_(None))
    return list(connection.scalars(query.order_by(membership.c.pool_id)))


def append(
    connection: Connection,
    now: Callable[[], str],
    kind: EventKind,
    actor: Actor,
    *,
    about: str | None = None,
    pool: str | None = None,
    told_in: Collection[str] = (),
    detail: Json | None = None,
) -> None:
    """Add an event; now gives the present instant, asked under the lock so that events are in the order of time."""
    number, previous_hash = connection.execute(_HEAD.with_for_update()).one()
    added = chained(
        number + 1, previous_hash, now(), kind, actor, about=about, pool=pool, told_in=told_in, detail=detail
    )
    connection.execute(
        insert(access_event).values(
            number=added.number,
            at=added.at,
            kind=added.kind,
            by_whom=added.actor.by,
            by_id=added.actor.by_id,
            session_id=added.actor.session,
            peer=added.actor.peer,
            about=added.about,
            pool_id=added.pool,
            detail=canonical(added.detail).decode(),
            previous_hash=added.previous_hash,
            hash=added.hash,
        )
    )
    if added.told_in:
        connection.execute(insert(access_told), [{"pool_id": each, "number": added.number} for each in added.told_in])
    connection.execute(
        update(access_head).where(access_head.c.chain == "access").values(number=added.number, hash=added.hash)
    )


# --- reading ---------------------------------------------------------------------------------------------------------

_BY_PERSON, _ABOUT_PERSON = person.alias("by_person"), person.alias("about_person")
_BY_KEY, _ABOUT_KEY = api_key.alias("by_key"), api_key.alias("about_key")

_HAPPENING = (
    select(
        access_event,
        _BY_PERSON.c.name.label("by_person_name"),
        _BY_KEY.c.name.label("by_key_name"),
        _ABOUT_PERSON.c.name.label("about_person_name"),
        _ABOUT_KEY.c.name.label("about_key_name"),
    )
    .outerjoin(_BY_PERSON, _BY_PERSON.c.person_id == access_event.c.by_id)
    .outerjoin(_BY_KEY, _BY_KEY.c.key_id == access_event.c.by_id)
    .outerjoin(_ABOUT_PERSON, _ABOUT_PERSON.c.person_id == access_event.c.about)
    .outerjoin(_ABOUT_KEY, _ABOUT_KEY.c.key_id == access_event.c.about)
)


def read_of_pool(
    connection: Connection, pool_id: str, wanted: EventFilter, *, before: str | None, limit: int
) -> list[Happening]:
    """Give the events that a pool is told of and that pass a filter, newest first, older than the one with a hash."""
    told = select(access_told.c.number).join(access_event, access_event.c.number == access_told.c.number)
    of_pool = told.where(access_told.c.pool_id == pool_id)
    return _read(connection, of_pool, access_told.c.number, wanted, before=before, limit=limit)


def read_all(connection: Connection, wanted: EventFilter, *, before: str | None, limit: int) -> list[Happening]:
    """Give the events of the service that pass a filter, newest first, older than the one with a hash."""
    numbers = select(access_event.c.number)
    return _read(connection, numbers, access_event.c.number, wanted, before=before, limit=limit)


def _read(
    connection: Connection,
    numbers: Select[int],
    number: ColumnElement[int],
    wanted: EventFilter,
    *,
    before: str | None,
    limit: int,
) -> list[Happening]:
    """Give the events of some numbers. What somebody did and what happened to it are found apart, each along an index
    of its own: to find either in one go, a database would sort all that somebody ever did."""
    passing = numbers.where(*_conditions(wanted), *_older(number, before))
    sides = [passing]
    if wanted.who is not None:
        sides = [passing.where(each == wanted.who) for each in (access_event.c.by_id, access_event.c.about)]
    latest = [select(each.order_by(number.desc()).limit(limit).subquery()) for each in sides]
    query = _HAPPENING.where(access_event.c.number.in_(union_all(*latest)))
    return [_happening(row) for row in connection.execute(query.order_by(access_event.c.number.desc()).limit(limit))]


def _older(number: ColumnElement[int], before: str | None) -> Iterator[ColumnElement[bool]]:
    if before is not None:
        yield number < select(access_event.c.number).where(access_event.c.hash == before).scalar_subquery()


def _conditions(wanted: EventFilter) -> Iterator[ColumnElement[bool]]:
    if wanted.kind is not None:
        yield access_event.c.kind == wanted.kind
    if wanted.from_at is not None:
        yield access_event.c.at >= wanted.from_at
    if wanted.to_at is not None:
        yield access_event.c.at < wanted.to_at


def _happening(row: Row[Any]) -> Happening:
    return Happening(
        hash=row.hash,
        at=row.at,
        kind=row.kind,
        actor=_actor(row),
        by_name=row.by_person_name or row.by_key_name,
        about=row.about,
        about_name=row.about_person_name or row.about_key_name,
        pool=row.pool_id,
        detail=json.loads(row.detail),
    )


def _actor(row: Row[Any]) -> Actor:
    return Actor(by=row.by_whom, by_id=row.by_id, session=row.session_id, peer=row.peer)


# --- verifying -------------------------------------------------------------------------------------------------------


def read_head(connection: Connection) -> tuple[int, str]:
    """Give the number and hash that the last event should have; 0 and GENESIS where there is none."""
    number, last_hash = connection.execute(_HEAD).one()
    return number, last_hash


def read_chain(connection: Connection) -> Iterator[Event]:
    """Give all events in order of number, each with the pools that are told of it. Refuses: StoreDamaged for what can't
    be read as an event."""
    last = 0
    while True:
        query = select(access_event).where(access_event.c.number > last).order_by(access_event.c.number)
        rows = connection.execute(query.limit(_AT_A_TIME)).all()
        if not rows:
            return
        told: dict[int, list[str]] = {}
        asked = access_told.c.number.between(rows[0].number, rows[-1].number)
        for pool_id, number in connection.execute(select(access_told).where(asked).order_by(access_told.c.pool_id)):
            told.setdefault(number, []).append(pool_id)
        for row in rows:
            yield _event(row, told.get(row.number, ()))
        last = rows[-1].number


def _event(row: Row[Any], told_in: Collection[str]) -> Event:
    try:
        detail: Json = json.loads(row.detail)
    except ValueError as error:
        raise StoreDamaged(row.number) from error
    return Event(
        number=row.number,
        at=row.at,
        kind=row.kind,
        actor=_actor(row),
        about=row.about,
        pool=row.pool_id,
        told_in=tuple(told_in),
        detail=detail,
        previous_hash=row.previous_hash,
        hash=row.hash,
    )
