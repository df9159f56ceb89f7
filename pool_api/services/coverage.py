"""Which days of which vendor account are on file: spans and gaps, rows by day, and the imports that show them.

An account is looked at on the days on which it is a member's; days that haven't come yet are no gap.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import DaysUnfit, NotFound
from pool_api.domain.matching.coverage import Covered, Span, clipped
from pool_api.domain.record import RecordType
from pool_api.domain.values import Month
from pool_api.services.office import Office
from pool_api.store import directory, revisions, vendor
from pool_api.store.directory import Directory
from pool_api.store.engine import Connection, reading
from pool_api.store.vendor import Shows

MOST_DAYS = 366


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Days, both ends included, on which an account was a member's and of which neither a file nor files of
    single types of record together show all."""

    account: str
    member: str
    first: date
    last: date

    @property
    def days(self) -> int:
        """How many days it has."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRows:
    """A day with rows: how many count, and the imports that show the day."""

    day: date
    rows: int
    imports: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountCoverage:
    """What is on file of an account on the days asked for; last_day is the last one on file at all."""

    account: str
    member: str
    spans: tuple[Span, ...]
    gaps: tuple[Gap, ...]
    days: tuple[DayRows, ...]
    last_day: date | None

    @property
    def rows(self) -> int:
        """How many rows count."""
        return sum(each.rows for each in self.days)


def read_coverage(
    office: Office, caller: Caller, pool: str, first: date | None, last: date | None
) -> tuple[Span, tuple[AccountCoverage, ...]]:
    """Give the days looked at, and each account that was a member's on one of them, by member and first such day.

    Takes:   first, last — both included; the last is the present day unless said otherwise, the first that of the month
             before.
    Refuses: NotFound, NotPermitted, DaysUnfit."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    today = office.pool_today(pool)
    last = last or today
    first = first or Month.of(last).previous().first
    if first > last or (last - first).days >= MOST_DAYS:
        raise DaysUnfit(first=first.isoformat(), last=last.isoformat(), most=MOST_DAYS)
    with reading(office.engine, pool) as connection:
        facts = _directory(connection, pool)
        shows = list(vendor.read_shows(connection, pool))
        counts = _counts(connection, pool, first, last)
    by_account: defaultdict[str, list[Shows]] = defaultdict(list)
    for each in shows:
        by_account[each.account.casefold()].append(each)
    covered = _covered(shows)
    gaps = list(_gaps(facts, covered, (first, min(last, today))))
    return (first, last), tuple(
        AccountCoverage(
            account=account,
            member=member,
            spans=tuple(clipped(covered.spans(account), (first, last))),
            gaps=tuple(gap for gap in gaps if (gap.account, gap.member) == (account, member)),
            days=tuple(_days(counts[account.casefold()], by_account[account.casefold()])),
            last_day=max((each.last for each in by_account[account.casefold()]), default=None),
        )
        for member, account in dict.fromkeys((member, account) for member, account, _ in _lives(facts, (first, last)))
    )


def gaps(office: Office, pool: str, month: Month) -> tuple[Gap, ...]:
    """Give the days of a month, up to the present day, of which no file shows anything, by member and day; the caller's
    right was asked already. Refuses: NotFound."""
    today = office.pool_today(pool)
    with reading(office.engine, pool) as connection:
        facts = _directory(connection, pool)
        covered = _covered(vendor.read_shows(connection, pool))
    return tuple(_gaps(facts, covered, (month.first, min(month.last, today))))


def _directory(connection: Connection, pool: str) -> Directory:
    facts = directory.read_directory(connection, pool)
    if facts is None:
        raise NotFound(what="pool", name=pool)
    return facts


def _covered(shows: Iterable[Shows]) -> Covered:
    spans: dict[RecordType, defaultdict[str, list[Span]]] = {record: defaultdict(list) for record in RecordType}
    for each in shows:
        spans[each.record][each.account.casefold()].append((each.first, each.last))
    return Covered(spans.pop(RecordType.HISTORY), spans)


def _counts(connection: Connection, pool: str, first: date, last: date) -> Mapping[str, Counter[date]]:
    """Count the rows that count, by account without regard to case, and day."""
    counts: defaultdict[str, Counter[date]] = defaultdict(Counter)
    for account, day, rows in vendor.count_rows(connection, pool, first_day=first, last_day=last):
        counts[account.casefold()][day] += rows
    for row in revisions.read_left_out(connection, pool, first_day=first, last_day=last):
        counts[row.account.casefold()][row.day] -= 1
    return counts


def _days(counts: Counter[date], shows: Sequence[Shows]) -> Iterator[DayRows]:
    for day, rows in sorted(counts.items()):
        if rows:
            imports = tuple(each.import_id for each in shows if each.first <= day <= each.last)
            yield DayRows(day=day, rows=rows, imports=imports)


def _gaps(facts: Directory, covered: Covered, within: Span) -> Iterator[Gap]:
    for member, account, life in _lives(facts, within):
        for first, last in covered.gaps(account, life):
            yield Gap(account=account, member=member, first=first, last=last)


def _lives(facts: Directory, within: Span) -> Iterator[tuple[str, str, Span]]:
    """Give the days within some on which an account is a member's, by member and day."""
    begins, ends = max(within[0], facts.pool.began_on), within[1]
    for code in sorted(facts.members):
        for account, first, last in facts.members[code].accounts():
            for span in clipped([(first, last or ends)], (begins, ends)):
                yield code, account, span
