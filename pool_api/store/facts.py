"""Reading entries for costing and for documents: the number, the day and what they say, in order.

Costing reads them streamed, never all at once; a document holds those that it is about."""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import MISSING, fields
from datetime import date
from functools import lru_cache
from typing import Any, get_type_hints

from msgspec import Struct, defstruct
from msgspec.json import Decoder
from sqlalchemy import ColumnElement, Connection, FromClause, Select, and_, or_, select, union_all

from pool_api.domain.entries import BODIES, Body, Reversal, Use
from pool_api.domain.values import Month
from pool_api.store.engine import Query, flowing
from pool_api.store.errors import StoreDamaged
from pool_api.store.tables import entry

_STREAMED = 5_000
_FEW = 20
"""Rows fetched at a time; and where the first ones will mostly do."""

_COLUMNS = (entry.c.number, entry.c.kind, entry.c.effective_on, entry.c.body)

_day = lru_cache(maxsize=4_096)(date.fromisoformat)


def _strictly(form: type[Body]) -> Callable[[str], object]:
    types = get_type_hints(form)
    members = [
        (each.name, types[each.name], *(() if each.default is MISSING else (each.default,))) for each in fields(form)
    ]
    return Decoder(defstruct(form.__name__, members, kw_only=True, gc=False, forbid_unknown_fields=True)).decode


_readers: dict[str, tuple[Callable[[str], object], Callable[[str], Body]]] = {
    kind: (_strictly(form), Decoder(form).decode) for kind, form in BODIES.items()
}
"""What refuses bodies of a kind with members that it doesn't know, and what reads them, passing over such members. No
other step of reading an entry takes as long, and documents of a month read a million."""


class StoredFact(Struct, frozen=True, gc=False):
    """An entry without who recorded it and when, its note, reference and hashes."""

    number: int
    effective_on: date
    body: Body


def told(number: int, kind: str, effective_on: str, body: str) -> StoredFact:
    """Give what the columns of a row say. Refuses: StoreDamaged."""
    (found,) = _each(((number, kind, effective_on, body),))
    return found


def _each(rows: Iterable[Sequence[Any]]) -> Iterator[StoredFact]:
    """Give what told gives for each of some rows: calling it for each would take a tenth longer."""
    number = 0
    try:
        for number, kind, effective_on, body in rows:
            strict, read = _readers[kind]
            strict(body)
            yield StoredFact(number, _day(effective_on), read(body))
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
    return _each(_streamed(connection, query))


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
        rows = connection.execute(select(*_COLUMNS).where(entry.c.pool_id == pool, some))
        found.update((each.number, each) for each in _each(rows))
    return found


def read_targets(connection: Connection, pool: str, entries: Sequence[StoredFact]) -> dict[int, StoredFact]:
    """Give what the reversals among entries reverse, by number: mostly others of the same entries, which aren't read
    again."""
    wanted = {each.body.entry for each in entries if isinstance(each.body, Reversal)}
    there = {each.number: each for each in entries if each.number in wanted}
    return there | read_numbered(connection, pool, wanted - there.keys())


def read_month(connection: Connection, pool: str, month: Month, numbers: tuple[int, int]) -> list[StoredFact]:
    """Give the entries effective in a month, with numbers from the first to the last of two, by number."""
    place, first, last = entry.c.number, month.first.isoformat(), month.last.isoformat()
    within = and_(entry.c.pool_id == pool, place >= numbers[0], place <= numbers[1])
    query = select(*_COLUMNS).where(within, entry.c.effective_on >= first, entry.c.effective_on <= last)
    with flowing(connection, query.order_by(place)) as rows:
        return list(_each(rows))


def read_concerning(
    connection: Connection, pool: str, member: str | None, month: Month, numbers: tuple[int, int]
) -> list[StoredFact]:
    """Give the entries effective in a month that name a member as a side, or those that name none (None: of the stock,
    of the pool as a whole); in any order.

    Takes: numbers — the lowest and the highest of the month's entries: databases find a member's entries by number."""
    place = entry.c.number
    within = and_(entry.c.pool_id == pool, place >= numbers[0], place <= numbers[1])
    if member is None:
        query: Query = select(*_COLUMNS).where(within, entry.c.member.is_(None))
    else:
        sides = (entry.c.member == member, and_(entry.c.other == member, entry.c.member != member))
        query = union_all(*(select(*_COLUMNS).where(within, side) for side in sides))
    first, last = month.first.isoformat(), month.last.isoformat()
    with flowing(connection, query) as rows:
        return list(_each(row for row in rows if first <= row[2] <= last))


def read_newest(connection: Connection, pool: str, kind: str, *, to_day: date) -> Iterator[StoredFact]:
    """Give the entries of a kind that are effective up to a day, the last one first, for as long as they are wanted."""
    within = and_(entry.c.pool_id == pool, entry.c.kind == kind, entry.c.effective_on <= to_day.isoformat())
    query = select(*_COLUMNS).where(within).order_by(entry.c.effective_on.desc(), entry.c.number.desc())
    with connection.execute(query.execution_options(yield_per=_FEW)) as rows:
        yield from _each(rows)


def read_uses(
    connection: Connection, pool: str, first: date, last: date, *, member: str | None = None, after: int = 0
) -> Iterator[StoredFact]:
    """Give the uses effective from one day to another, of a member where one is stated, with numbers above after, by
    number."""
    query = select(*_COLUMNS).where(*_uses(entry, pool, first, last), entry.c.number > after)
    if member is not None:
        query = query.where(entry.c.member == member)
    return _each(_streamed(connection, query.order_by(entry.c.number)))


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
