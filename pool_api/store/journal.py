"""The journal in the database: appending entries with their projections, reading entries and books back.

Takes and gives entries and books; a row never leaves this file. Whoever appends holds the pool's head row locked.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, NamedTuple, TypeVar

from sqlalchemy import Connection, Row, Select, Table, and_, delete, func, insert, or_, select, tuple_, update
from sqlalchemy.dialects import postgresql, sqlite

from pool_api.domain.book import Book, SettlementPayment
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Entry,
    Reversal,
    Use,
    body_json,
    canonical,
    parties,
)
from pool_api.domain.values import Month
from pool_api.store.facts import told
from pool_api.store.tables import entry, head, holding, open_loan, settlement_payment, undone
from pool_api.store.tables import pool as terms

_Key = TypeVar("_Key")
_Value = TypeVar("_Value")

_STREAMED = 5_000
"""Rows fetched at a time where a journal is read to its end."""

WHOLE_POOL_KINDS = ("opening",)
"""Kinds that concern every member, though they name no two sides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryFilter:
    """Which entries to read; None and empty ask for no restriction. Days are bounds on effective_on, both included."""

    member: str | None = None
    kinds: tuple[str, ...] = ()
    from_day: date | None = None
    to_day: date | None = None
    text: str | None = None
    job: str | None = None
    target: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentFilter:
    """Which settlement payments to read; None asks for no restriction. member is either side; unpaid tells those that
    are not paid in full from those that are."""

    member: str | None = None
    month: Month | None = None
    unpaid: bool | None = None


class Filed(NamedTuple):
    """The columns by which an entry is found; they follow from what it says and what it refers to."""

    member: str | None
    other: str | None
    job: str | None
    target: int | None


@dataclass(frozen=True, slots=True)
class Head:
    """The last line of a pool's journal and what must be known before the next one."""

    number: int
    hash: str
    directory_version: int


# --- reading entries -------------------------------------------------------------------------------------------------


def read_entry(connection: Connection, pool: str, number: int) -> Entry | None:
    """Give one entry, None when the journal has no such number."""
    row = connection.execute(select(entry).where(entry.c.pool_id == pool, entry.c.number == number)).one_or_none()
    return None if row is None else _entry(row)


def read_numbered(connection: Connection, pool: str, numbers: Iterable[int]) -> dict[int, Entry]:
    """Give the entries that exist among some numbers, by number."""
    wanted = sorted(set(numbers))
    if not wanted:
        return {}
    rows = connection.execute(select(entry).where(entry.c.pool_id == pool, entry.c.number.in_(wanted)))
    return {row.number: _entry(row) for row in rows}


def read_referenced(connection: Connection, pool: str, references: Iterable[str]) -> dict[str, Entry]:
    """Give the entries that bear some of the clients' own references, by reference."""
    wanted = sorted(set(references))
    if not wanted:
        return {}
    rows = connection.execute(select(entry).where(entry.c.pool_id == pool, entry.c.reference.in_(wanted)))
    return {row.reference: _entry(row) for row in rows}


def read_entries(
    connection: Connection,
    pool: str,
    wanted: EntryFilter,
    *,
    after: int = 0,
    before: int | None = None,
    limit: int | None = None,
    newest_first: bool = False,
) -> Iterator[Entry]:
    """Give the entries that pass a filter, with numbers above after and below before, by number."""
    query = select(entry).where(entry.c.pool_id == pool, entry.c.number > after, *_conditions(wanted))
    if before is not None:
        query = query.where(entry.c.number < before)
    query = query.order_by(entry.c.number.desc() if newest_first else entry.c.number)
    query = query.execution_options(yield_per=_STREAMED) if limit is None else query.limit(limit)
    with connection.execute(query) as rows:
        for row in rows:
            yield _entry(row)


def read_filed(connection: Connection, pool: str) -> Iterator[tuple[Entry, Filed]]:
    """Give all entries in order, each with the columns under which it is filed."""
    query = select(entry).where(entry.c.pool_id == pool).order_by(entry.c.number)
    with connection.execute(query.execution_options(yield_per=_STREAMED)) as rows:
        for row in rows:
            yield _entry(row), Filed(row.member, row.other, row.job, row.target)


def filed(body: Body, target: Body | None) -> Filed:
    """Give the columns under which a body belongs. target is the body that it reverses or acknowledges."""
    sides = parties(body if target is None else target)
    return Filed(
        member=sides[0] if sides else None,
        other=sides[1] if len(sides) > 1 else None,
        job=body.job if isinstance(body, Use) else None,
        target=body.entry if isinstance(body, Reversal | Acknowledgement) else None,
    )


def read_opening(connection: Connection, pool: str) -> int | None:
    """Give the number of the opening that stands, None when there is none or it is reversed."""
    found = [entry.number for entry in read_entries(connection, pool, EntryFilter(kinds=("opening",)))]
    reversed_ = read_undone(connection, pool, found)
    return next((number for number in found if number not in reversed_), None)


def moved_since(connection: Connection, pool: str, month: Month, number: int) -> bool:
    """Say whether an entry after a number is effective in a month or before it."""
    query = select(entry.c.number).where(
        entry.c.pool_id == pool, entry.c.number > number, entry.c.effective_on <= month.last.isoformat()
    )
    return connection.execute(query.limit(1)).first() is not None


def _conditions(wanted: EntryFilter) -> Iterator[Any]:
    if wanted.member is not None:
        yield or_(entry.c.member == wanted.member, entry.c.other == wanted.member, entry.c.kind.in_(WHOLE_POOL_KINDS))
    if wanted.kinds:
        yield entry.c.kind.in_(wanted.kinds)
    if wanted.from_day is not None:
        yield entry.c.effective_on >= wanted.from_day.isoformat()
    if wanted.to_day is not None:
        yield entry.c.effective_on <= wanted.to_day.isoformat()
    if wanted.text is not None:
        yield entry.c.note.icontains(wanted.text, autoescape=True)
    if wanted.job is not None:
        yield entry.c.job == wanted.job
    if wanted.target is not None:
        yield entry.c.target == wanted.target


def _entry(row: Row[Any]) -> Entry:
    fact = told(row.number, row.kind, row.effective_on, row.body)
    return Entry(
        number=fact.number,
        body=fact.body,
        effective_on=fact.effective_on,
        recorded_at=row.recorded_at,
        recorded_by=row.recorded_by,
        note=row.note,
        reference=row.reference,
        previous_hash=row.previous_hash,
        hash=row.hash,
    )


# --- the book --------------------------------------------------------------------------------------------------------


def lock_head(connection: Connection, pool: str) -> Head | None:
    """Lock the pool's head row until the transaction ends and give it; None when there is no such pool."""
    row = connection.execute(_head(pool).with_for_update()).one_or_none()
    return None if row is None else Head(*row)


def read_head(connection: Connection, pool: str) -> Head | None:
    """Give the pool's head, None when there is no such pool."""
    row = connection.execute(_head(pool)).one_or_none()
    return None if row is None else Head(*row)


def _head(pool: str) -> Select[int, str, int]:
    return select(head.c.number, head.c.hash, head.c.directory_version).where(head.c.pool_id == pool)


def read_book(connection: Connection, pool: str) -> Book | None:
    """Give the book as the projections hold it (undone empty: see read_undone); None when there is no such pool."""
    query = select(head, terms.c.began_on).join_from(head, terms).where(head.c.pool_id == pool)
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    held = connection.execute(select(holding.c.member, holding.c.held).where(holding.c.pool_id == pool))
    loans = connection.execute(
        select(open_loan.c.lender, open_loan.c.borrower, open_loan.c.quantity).where(open_loan.c.pool_id == pool)
    )
    payments = read_payments(connection, pool, PaymentFilter())
    return Book(
        number=row.number,
        hash=row.hash,
        stock=row.stock,
        first_month=Month.of(date.fromisoformat(row.began_on)),
        closed_through=None if row.closed_through is None else Month.parse(row.closed_through),
        custodian=row.custodian,
        held={each.member: each.held for each in held},
        open={(each.lender, each.borrower): each.quantity for each in loans},
        payments={each.id: each for each in payments},
    )


def read_undone(connection: Connection, pool: str, numbers: Iterable[int] | None = None) -> dict[int, int]:
    """Give how much of entries is reversed: of all that are reversed at all, or of some numbers."""
    query = select(undone.c.number, undone.c.quantity).where(undone.c.pool_id == pool)
    if numbers is not None:
        query = query.where(undone.c.number.in_(sorted(set(numbers))))
    return {row.number: row.quantity for row in connection.execute(query)}


def read_payments(
    connection: Connection, pool: str, wanted: PaymentFilter, *, after: str | None = None, limit: int | None = None
) -> list[SettlementPayment]:
    """Give the settlement payments that pass a filter, in order of month and place, those after an id only."""
    columns = settlement_payment.c
    order = (columns.month, func.length(columns.payment_id), columns.payment_id)
    query = select(settlement_payment).where(columns.pool_id == pool).order_by(*order).limit(limit)
    if wanted.member is not None:
        query = query.where(or_(columns.payer == wanted.member, columns.payee == wanted.member))
    if wanted.month is not None:
        query = query.where(columns.month == str(wanted.month))
    if wanted.unpaid is not None:
        query = query.where(columns.paid < columns.amount if wanted.unpaid else columns.paid == columns.amount)
    if after is not None:
        query = query.where(tuple_(*order) > tuple_(after.rpartition("-")[0], len(after), after))
    return [_payment(row) for row in connection.execute(query)]


def _payment(row: Row[Any]) -> SettlementPayment:
    return SettlementPayment(
        id=row.payment_id,
        month=Month.parse(row.month),
        payer=row.payer,
        payee=row.payee,
        amount=row.amount,
        paid=row.paid,
    )


# --- appending -------------------------------------------------------------------------------------------------------


def append(connection: Connection, pool: str, entries: Sequence[Entry], targets: Mapping[int, Entry]) -> None:
    """Write entries at the end of the journal. targets holds what their reversals and acknowledgements refer to."""
    connection.execute(insert(entry), [_row(pool, each, targets) for each in entries])


def _row(pool: str, each: Entry, targets: Mapping[int, Entry]) -> dict[str, Any]:
    body = each.body
    target = targets[body.entry].body if isinstance(body, Reversal | Acknowledgement) else None
    return {
        "pool_id": pool,
        "number": each.number,
        "kind": each.kind,
        "effective_on": each.effective_on.isoformat(),
        "recorded_at": each.recorded_at,
        "recorded_by": each.recorded_by,
        "note": each.note,
        "reference": each.reference,
        "body": canonical(body_json(body)).decode(),
        "previous_hash": each.previous_hash,
        "hash": each.hash,
        **filed(body, target)._asdict(),
    }


def save_book(connection: Connection, pool: str, before: Book, after: Book) -> None:
    """Bring the projections from one book to the next."""
    connection.execute(
        update(head)
        .where(head.c.pool_id == pool)
        .values(
            number=after.number,
            hash=after.hash,
            stock=after.stock,
            closed_through=None if after.closed_through is None else str(after.closed_through),
            custodian=after.custodian,
        )
    )
    for table, rows in _changed_rows(before, after):
        _upsert(connection, table, [{"pool_id": pool, **row} for row in rows])
    if gone := before.payments.keys() - after.payments.keys():
        table = settlement_payment
        connection.execute(delete(table).where(and_(table.c.pool_id == pool, table.c.payment_id.in_(sorted(gone)))))


def _changed_rows(before: Book, after: Book) -> Iterator[tuple[Table, Iterator[dict[str, Any]]]]:
    """Give, by table, the rows of projections that are new or differ."""
    yield holding, ({"member": member, "held": held} for member, held in _changed(before.held, after.held))
    yield (
        open_loan,
        (
            {"lender": lender, "borrower": borrower, "quantity": quantity}
            for (lender, borrower), quantity in _changed(before.open, after.open)
        ),
    )
    yield undone, ({"number": n, "quantity": quantity} for n, quantity in _changed(before.undone, after.undone))
    yield (
        settlement_payment,
        (
            {
                "payment_id": payment.id,
                "month": str(payment.month),
                "payer": payment.payer,
                "payee": payment.payee,
                "amount": payment.amount,
                "paid": payment.paid,
            }
            for _, payment in _changed(before.payments, after.payments)
        ),
    )


def _changed(before: Mapping[_Key, _Value], after: Mapping[_Key, _Value]) -> Iterator[tuple[_Key, _Value]]:
    return ((key, value) for key, value in after.items() if before.get(key) != value)


def _upsert(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    if rows:
        connection.execute(_upserting(connection.dialect.name, table), rows)


@cache
def _upserting(dialect: str, table: Table) -> Any:
    """Give the statement that writes rows of a projection whether they are there or not."""
    statement = (postgresql if dialect == "postgresql" else sqlite).insert(table)
    keys = [column.name for column in table.primary_key]
    others = {column.name: statement.excluded[column.name] for column in table.columns if column.name not in keys}
    return statement.on_conflict_do_update(index_elements=keys, set_=others)
