"""What the documents of a month are made of: its costing, and the entries that each document is about.

Promises: a document and all others of the same costing rest on the same entry of the journal, whatever is recorded
while they are made. How documents look is known in reports.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar, cast

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import NotFound
from pool_api.domain.reversals import IN_ORDER, Fact
from pool_api.domain.values import Month
from pool_api.services.costs import CostedMonth, CostedPool, costed
from pool_api.services.office import Office
from pool_api.store import facts, journal
from pool_api.store.engine import Connection, reading
from pool_api.store.facts import StoredFact
from pool_api.store.journal import PaymentFilter

T = TypeVar("T")

REMEMBERED = 20_000
"""The most entries of one pool that are kept for the next statement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthEntries:
    """What a document of a month is made of: entries are those of the month that it is about, targets what their
    reversals reverse, by number."""

    pool: CostedPool
    month: CostedMonth
    entries: Sequence[Fact]
    targets: Mapping[int, Fact]


def statement_of(office: Office, caller: Caller, pool: str, month: Month, member: str) -> MonthEntries:
    """Give what a member's statement of a month is made of; its entries are those that may concern the member, in the
    order of (effective_on, number).

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT, member=member)
    found = costed(office, pool)
    if member not in found.directory.members:
        raise NotFound(what="member", name=member)
    found.month(month)
    return _concerning(office, found, month, member)


def statements_of(
    office: Office, caller: Caller, pool: str, month: Month
) -> tuple[CostedMonth, Iterator[tuple[str, MonthEntries]]]:
    """Give a month, and for each member that its sheet has, in order of code, what statement_of gives: all of one
    costing, whatever is recorded meanwhile. While one is worked on the next is read; no others are in memory.

    Refuses: NotFound, NotPermitted, before anything is given."""
    access.permit_into(caller, pool, Right.READ_STATEMENTS)
    found = costed(office, pool)
    there = found.month(month)
    codes = [each.member for each in there.sheet.members]
    return there, _one_ahead(lambda code: (code, _concerning(office, found, month, code)), codes)


def _concerning(office: Office, found: CostedPool, month: Month, member: str) -> MonthEntries:
    pool, there = found.directory.pool.id, found.month(month)
    with reading(office.engine, pool) as connection:
        own = facts.read_concerning(connection, pool, member, month, there.numbers)
        own += _of_nobody(office, connection, pool, there)
        own.sort(key=IN_ORDER)
        return _with(connection, found, month, own)


def _of_nobody(office: Office, connection: Connection, pool: str, month: CostedMonth) -> Sequence[StoredFact]:
    """Give the entries of a month that name no member, which every statement looks at. Of the month that a pool was
    last asked about they are remembered, unless they are too many."""
    kept = office.of_nobody.get(pool)
    if kept is not None and kept[0] is month:
        return cast("Sequence[StoredFact]", kept[1])
    found = facts.read_concerning(connection, pool, None, month.month, month.numbers)
    if len(found) <= REMEMBERED:
        office.of_nobody[pool] = month, found
    return found


def _one_ahead(read: Callable[[str], T], codes: Iterable[str]) -> Iterator[T]:
    """Give what is read for each code, while the next one's is being read: the database works in the meantime."""
    with ThreadPoolExecutor(max_workers=1) as reader:
        waiting: Future[T] | None = None
        for code in codes:
            following = reader.submit(read, code)
            if waiting is not None:
                yield waiting.result()
            waiting = following
        if waiting is not None:
            yield waiting.result()


def report_of(office: Office, caller: Caller, pool: str, month: Month) -> MonthEntries:
    """Give what the keeper's report of a month is made of, with all its entries, by number.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_SHEET)
    found = costed(office, pool)
    numbers = found.month(month).numbers
    with reading(office.engine, pool) as connection:
        return _with(connection, found, month, facts.read_month(connection, pool, month, numbers))


def _with(connection: Connection, found: CostedPool, month: Month, entries: Sequence[StoredFact]) -> MonthEntries:
    targets = facts.read_targets(connection, found.directory.pool.id, entries)
    return MonthEntries(pool=found, month=found.month(month), entries=entries, targets=targets)


def paid_of(office: Office, pool: str, month: CostedMonth) -> dict[str, int]:
    """Give what is paid of each payment that a month's close asked for, by id, to those who may see the month."""
    if month.close is None:
        return {}
    with reading(office.engine, pool) as connection:
        found = journal.read_payments(connection, pool, PaymentFilter(month=month.month))
    return {each.id: each.paid for each in found}
