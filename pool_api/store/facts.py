"""Reading entries for costing and for documents: the number, the day and what they say, in order.

Costing reads them streamed, never all at once; a document holds those that it is about."""

import json
from collections.abc import Callable, Collection, Iterable, Iterator
from datetime import date
from functools import lru_cache
from typing import Any, NamedTuple

from msgspec.json import Decoder, Encoder
from sqlalchemy import ColumnElement, Connection, FromClause, Select, and_, or_, select, union_all

from pool_api.domain.entries import BODIES, Body, Reversal, Use
from pool_api.domain.reversals import IN_ORDER
from pool_api.domain.values import Month
from pool_api.store.errors import StoreDamaged
from pool_api.store.tables import entry

_STREAMED = 5_000
_FEW = 20
"""Rows fetched at a time; where the first ones will mostly do."""

_COLUMNS = (entry.c.number, entry.c.kind, entry.c.effective_on, entry.c.body)

_day = lru_cache(maxsize=4_096)(date.fromisoformat)

_readers: dict[str, Callable[[str], Body]] = {kind: Decoder(form).decode for kind, form in BODIES.items()}
"""What reads the body of each kind: a month of a million entries is read in one go, and no other step of reading an
entry would take as long."""

_written = Encoder(order="sorted").encode


class StoredFact(NamedTuple):
    """An entry without who recorded it and when, its note, reference and hashes."""

    number: int
    effective_on: date
    body: Body


def told(number: int, kind: str, effective_on: str, body: str) -> StoredFact:
    """Give what the columns of a row say. Refuses: StoreDamaged."""
    try:
        found = _readers[kind](body)
        # The reader passes over members that it doesn't know; what isn't understood must not be left out of account.
        if _written(found) != body.encode() and not json.loads(body).keys() <= set(BODIES[kind].__slots__):
            raise StoreDamaged(number)
        return StoredFact(number, _day(effective_on), found)
    except (KeyError, ValueError) as error:
        raise StoreDamaged(number) from error


def read_facts(
    connection: Connection,
    pool: str,
    *,
    after: int = 0,
    days: Collection[date] = (),
) -> Iterator[StoredFact]:
    """Give the entries with numbers above after, and all of some days, by number."""
    wanted: ColumnElement[bool] = entry.c.number > after
    if days:
        wanted = or_(wanted, entry.c.effective_on.in_(sorted(day.isoformat() for day in days)))
    query = select(*_COLUMNS).where(entry.c.pool_id == pool, wanted).order_by(entry.c.number)
    return (told(*row) for row in _streamed(connection, query))


def read_reversals(connection: Connection, pool: str, *, after: int = 0) -> Iterator[tuple[StoredFact, StoredFact]]:
    """Give the reversals with numbers above after, by number, each with what it reverses."""
    target = entry.alias("target")
    query = (
        select(*_COLUMNS, *(target.c[column.name] for column in _COLUMNS))
        .join(target, and_(target.c.pool_id == entry.c.pool_id, target.c.number == entry.c.target))
        .where(entry.c.pool_id == pool, entry.c.kind == Reversal.kind, entry.c.number > after)
        .order_by(entry.c.number)
    )
    return ((told(*row[:4]), told(*row[4:])) for row in _streamed(connection, query))


def _streamed(connection: Connection, query: Select[*tuple[Any, ...]]) -> Iterator[Any]:
    with connection.execute(query.execution_options(yield_per=_STREAMED)) as rows:
        for some in rows.partitions():
            yield from some


def read_numbered(connection: Connection, pool: str, numbers: Iterable[int]) -> dict[int, StoredFact]:
    """Give the entries that exist among some numbers, by number."""
    found: dict[int, StoredFact] = {}
    wanted = sorted(set(numbers))
    for start in range(0, len(wanted), _STREAMED):
        some = entry.c.number.in_(wanted[start : start + _STREAMED])
        for row in connection.execute(select(*_COLUMNS).where(entry.c.pool_id == pool, some)):
            found[row.number] = told(*row)
    return found


def read_targets(connection: Connection, pool: str, entries: Iterable[StoredFact]) -> dict[int, StoredFact]:
    """Give what the reversals among entries reverse, by number."""
    return read_numbered(connection, pool, [body.entry for _, _, body in entries if isinstance(body, Reversal)])


def read_month(connection: Connection, pool: str, month: Month, numbers: tuple[int, int]) -> list[StoredFact]:
    """Give the entries effective in a month, with numbers from the first to the last of two, by number."""
    place, first, last = entry.c.number, month.first.isoformat(), month.last.isoformat()
    within = and_(entry.c.pool_id == pool, place >= numbers[0], place <= numbers[1])
    query = select(*_COLUMNS).where(within, entry.c.effective_on >= first, entry.c.effective_on <= last)
    return [told(*row) for row in connection.execute(query.order_by(place))]


def read_concerning(
    connection: Connection, pool: str, member: str, month: Month, numbers: tuple[int, int]
) -> list[StoredFact]:
    """Give the entries effective in a month that name a member as a side, and those that name none (of the stock, of
    the pool as a whole); in the order of (effective_on, number).

    Takes: numbers — the lowest and the highest of the month's entries: databases find a member's entries by number."""
    place = entry.c.number
    within = and_(entry.c.pool_id == pool, place >= numbers[0], place <= numbers[1])
    sides = (
        entry.c.member == member,
        and_(entry.c.other == member, entry.c.member != member),
        entry.c.member.is_(None),
    )
    rows = connection.execute(union_all(*(select(*_COLUMNS).where(within, side) for side in sides))).all()
    first, last = month.first.isoformat(), month.last.isoformat()
    found = [told(*row) for row in rows if first <= row[2] <= last]
    found.sort(key=IN_ORDER)
    return found


def read_newest(connection: Connection, pool: str, kind: str, *, to_day: date) -> Iterator[StoredFact]:
    """Give the entries of a kind that are effective up to a day, the last one first, for as long as they are wanted."""
    within = and_(entry.c.pool_id == pool, entry.c.kind == kind, entry.c.effective_on <= to_day.isoformat())
    query = select(*_COLUMNS).where(within).order_by(entry.c.effective_on.desc(), entry.c.number.desc())
    with connection.execute(query.execution_options(yield_per=_FEW)) as rows:
        for row in rows:
            yield told(*row)


def read_uses(
    connection: Connection, pool: str, first: date, last: date, *, member: str | None = None, after: int = 0
) -> Iterator[StoredFact]:
    """Give the uses effective from one day to another, of a member where one is stated, with numbers above after, by
    number."""
    query = select(*_COLUMNS).where(*_uses(entry, pool, first, last), entry.c.number > after)
    if member is not None:
        query = query.where(entry.c.member == member)
    return (told(*row) for row in _streamed(connection, query.order_by(entry.c.number)))


def read_undoing(connection: Connection, pool: str, first: date, last: date) -> dict[int, list[StoredFact]]:
    """Give the reversals, whenever they take effect, of uses effective from one day to another: by the number of the
    use, in order of their own."""
    target = entry.alias("target")
    query = (
        select(*_COLUMNS, entry.c.target.label("undone"))
        .join(target, and_(target.c.pool_id == entry.c.pool_id, target.c.number == entry.c.target))
        .where(entry.c.pool_id == pool, entry.c.kind == Reversal.kind, *_uses(target, pool, first, last))
        .order_by(entry.c.number)
    )
    found: dict[int, list[StoredFact]] = {}
    for row in connection.execute(query):
        found.setdefault(row.undone, []).append(told(*row[:4]))
    return found


def _uses(source: FromClause, pool: str, first: date, last: date) -> tuple[ColumnElement[bool], ...]:
    columns = source.c
    return (
        columns.pool_id == pool,
        columns.kind == Use.kind,
        columns.effective_on >= first.isoformat(),
        columns.effective_on <= last.isoformat(),
    )
