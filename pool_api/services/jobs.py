"""What jobs cost and earned, uses beside the catalogue of their day, and the quote before a job.

Costs are those of the month sheets, so that jobs add up to them; of an open month as its sheet stands now.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from itertools import islice

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.catalogue import Catalogue, CatalogueFinding, Item, check_use, valid_on
from pool_api.domain.covering import Cover
from pool_api.domain.entries import Reversal, Use
from pool_api.domain.errors import NotFound, TooManyRows, UnknownMember
from pool_api.domain.jobs import Earned, JobUse, Prospect, earned_by, job_use, prospect, sum_of
from pool_api.domain.reversals import Fact
from pool_api.domain.values import Currency, Month, Period
from pool_api.services.catalogues import counting
from pool_api.services.costs import CostedPool, costed
from pool_api.services.office import Office
from pool_api.services.replacement import Replacement, replacement
from pool_api.store import catalogues, facts, journal
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter

MOST_ROWS = 10_000
"""Rows that earnings are told in."""


class By(StrEnum):
    """What earnings are told by; total puts all together."""

    TOTAL = "total"
    MONTH = "month"
    MEMBER = "member"
    ITEM = "item"
    VEHICLE_CLASS = "vehicle_class"
    JOB = "job"


@dataclass(frozen=True, slots=True, kw_only=True)
class Earnings:
    """What the uses of a period cost and earned, in order of the names of what they are told by."""

    period: Period
    by: By
    currency: Currency
    rows: Mapping[str, Earned]

    @property
    def total(self) -> Earned:
        """All rows together."""
        return sum_of(self.rows.values())


# --- jobs ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a job's uses, first entry first, cost and earned, and what their credits would cost to replace: each use's
    on its own day, by its entry, where a ladder counted then, and all of them today, None without a ladder."""

    uses: tuple[JobUse, ...]
    replaced: Mapping[int, int]
    replacement: Replacement | None
    replaced_now: int | None


def job(office: Office, caller: Caller, pool: str, reference: str) -> Job:
    """Give what was used on a job; a clerk's own only. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_COST)
    own = access.own_side(caller, Right.READ_COST)
    found = costed(office, pool)
    with reading(office.engine, pool) as connection:
        uses = [*journal.read_entries(connection, pool, EntryFilter(job=reference, member=own))]
        undoing = {
            use.number: [
                each
                for each in journal.read_entries(connection, pool, EntryFilter(target=use.number))
                if isinstance(each.body, Reversal)
            ]
            for use in uses
        }
        of_job = (*_job_uses(found, uses, undoing),)
        today, currency = office.pool_today(pool), found.directory.pool.currency
        days = {day: replacement(office, connection, pool, day) for day in {today, *(u.effective_on for u in of_job)}}
    now = days[today]
    return Job(
        uses=of_job,
        replaced={u.entry: _replaced(u.left, then, currency) for u in of_job if (then := days[u.effective_on])},
        replacement=now,
        replaced_now=_replaced(sum(u.left for u in of_job), now, currency) if now else None,
    )


def _replaced(credits: int, order: Replacement, currency: Currency) -> int:
    return prospect(credits, currency.unit_price(order.order.tier.unit_price), None).cost


def _job_uses(found: CostedPool, uses: Iterable[Fact], undoing: Mapping[int, Sequence[Fact]]) -> Iterator[JobUse]:
    """Give uses as reversals leave them, up to the entry that the months were costed at."""
    costs: dict[date, Mapping[int, int]] = {}
    for use in uses:
        if isinstance(use.body, Use) and use.number <= found.number:
            day = use.effective_on
            of_month = costs.get(day) or costs.setdefault(day, found.month(Month.of(day)).sheet.costs)
            reversals = [each for each in undoing.get(use.number, ()) if each.number <= found.number]
            yield job_use(use, use.body, of_month.get(use.number, 0), reversals)


def earnings(  # noqa: PLR0917 - of what, and by what
    office: Office, caller: Caller, pool: str, period: Period, by: By, member: str | None
) -> Earnings:
    """Give what the uses of some months, of a member where one is stated, cost and earned; a clerk's own member's only.

    Gives:   of uses whose item no catalogue of their day has, the vehicle class is "", as it is of items without one.
    Refuses: NotFound, NotPermitted; TooManyRows."""
    access.permit_into(caller, pool, Right.READ_COST, member=member)
    own = access.own_side(caller, Right.READ_COST) or member
    found = costed(office, pool)
    if member is not None and member not in found.directory.members:
        raise NotFound(what="member", name=member)
    first, last = period.first.first, period.last.last
    with reading(office.engine, pool) as connection:
        known = catalogues.read_lawful(connection, pool, first, last) if by is By.VEHICLE_CLASS else []
        undoing = facts.read_undoing(connection, pool, first, last)
        uses = facts.read_uses(connection, pool, first, last, member=own)
        rows = earned_by(_job_uses(found, uses, undoing), _key(by, known))
    if len(rows) > MOST_ROWS:
        raise TooManyRows(told_by=by, count=len(rows), most=MOST_ROWS)
    return Earnings(period=period, by=by, currency=found.directory.pool.currency, rows=rows)


def _key(by: By, known: list[Catalogue]) -> Callable[[JobUse], str]:
    def vehicle_class(use: JobUse) -> str:
        found = valid_on(known, use.effective_on)
        item = found.by_code.get(use.item) if found else None
        return (item.vehicle_class or "") if item else ""

    keys: dict[By, Callable[[JobUse], str]] = {
        By.TOTAL: lambda _: "",
        By.MONTH: lambda use: str(Month.of(use.effective_on)),
        By.MEMBER: lambda use: use.member,
        By.ITEM: lambda use: use.item,
        By.VEHICLE_CLASS: vehicle_class,
        By.JOB: lambda use: use.job,
    }
    return keys[by]


# --- uses beside the catalogue ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedUse:
    """A use beside the catalogue of its day: catalogue None where none counted, item None where it isn't listed. undone
    is how much of it is reversed; unmarked: its item isn't lawful on roads everywhere, and it isn't marked so."""

    number: int
    effective_on: date
    body: Use
    undone: int
    catalogue: date | None
    item: Item | None
    finding: CatalogueFinding

    @property
    def unmarked(self) -> bool:
        """Whether the mark is missing that the item's flag asks for."""
        return self.item is not None and self.item.road_restricted and not self.body.off_road_only

    @property
    def is_in_order(self) -> bool:
        """Whether there is nothing to look at."""
        return self.finding in (CatalogueFinding.AS_LISTED, CatalogueFinding.SEVERAL) and not self.unmarked


def check_uses(
    office: Office, caller: Caller, pool: str, month: Month, *, doubtful: bool, after: int, limit: int
) -> list[CheckedUse]:
    """Give uses that are effective in a month and of which something is left, each beside the catalogue of its day,
    with numbers above after; doubtful leaves out those that are in order; a clerk's own only.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_ENTRIES)
    own = access.own_side(caller, Right.READ_ENTRIES)
    office.check_pool(pool)
    with reading(office.engine, pool) as connection:
        known = catalogues.read_lawful(connection, pool, month.first, month.last)
        undone = {
            number: sum(each.body.quantity or 0 for each in reversals if isinstance(each.body, Reversal))
            for number, reversals in facts.read_undoing(connection, pool, month.first, month.last).items()
        }
        uses = facts.read_uses(connection, pool, month.first, month.last, member=own, after=after)
        checked = (
            _checked(use, use.body, known, undone.get(use.number, 0)) for use in uses if isinstance(use.body, Use)
        )
        wanted = (each for each in checked if each.undone < each.body.quantity and not (doubtful and each.is_in_order))
        return [*islice(wanted, limit)]


def _checked(use: Fact, body: Use, known: list[Catalogue], undone: int) -> CheckedUse:
    found = valid_on(known, use.effective_on)
    return CheckedUse(
        number=use.number,
        effective_on=use.effective_on,
        body=body,
        undone=undone,
        catalogue=None if found is None else found.valid_from,
        item=found.by_code.get(body.item) if found else None,
        finding=check_use(found, body.item, body.quantity),
    )


# --- quotes ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteRequest:
    """What a quote is asked for: items, by their codes and each counted once, and credits beside them; the price that
    is thought of."""

    member: str
    items: tuple[str, ...]
    credits: int
    price: int | None
    on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """What a job would take and cost. wanted are the items asked for, in order of code; cover is None where none are;
    blended is None where the member has nothing that cost anything this month, replacement and replaced without a
    ladder."""

    on: date
    currency: Currency
    catalogue: Catalogue | None
    wanted: tuple[Item, ...]
    cover: Cover | None
    credits: int
    held: int
    blended: Prospect | None
    replaced: Prospect | None
    replacement: Replacement | None

    @property
    def chosen(self) -> tuple[Item, ...]:
        """The items of the cover."""
        if self.catalogue is None or self.cover is None:
            return ()
        return tuple(self.catalogue.by_code[code] for code in self.cover.chosen)


def quote(office: Office, caller: Caller, pool: str, asked: QuoteRequest) -> Quote:
    """Give what a job would take and cost: the cheapest items with which all that is wanted is had, the cost at the
    member's blended unit cost of the present month and at what the next order would cost.

    Refuses: NotFound, NotPermitted, UnknownMember, NoCatalogue, ItemsUnknown."""
    access.permit_into(caller, pool, Right.READ_COST, member=asked.member)
    found = costed(office, pool)
    if asked.member not in found.directory.members:
        raise UnknownMember(member=asked.member)
    day, currency = asked.on or office.pool_today(pool), found.directory.pool.currency
    with reading(office.engine, pool) as connection:
        catalogue = counting(connection, pool, day) if asked.items else None
        cover = catalogue.cheapest(asked.items) if catalogue else None
        replaced = replacement(office, connection, pool, day)
        held = _held(connection, pool, asked.member)
    credits = asked.credits + (cover.cost if cover else 0)
    blended = _unit_cost(found, asked.member)
    next_price = None if replaced is None else currency.unit_price(replaced.order.tier.unit_price)
    return Quote(
        on=day,
        currency=currency,
        catalogue=catalogue,
        wanted=tuple(catalogue.by_code[code] for code in sorted({*asked.items})) if catalogue else (),
        cover=cover,
        credits=credits,
        held=held,
        blended=None if blended is None else prospect(credits, blended, asked.price),
        replaced=None if next_price is None else prospect(credits, next_price, asked.price),
        replacement=replaced,
    )


def _unit_cost(found: CostedPool, member: str) -> Fraction | None:
    return next((each.unit_cost for each in found.latest().sheet.members if each.member == member), None)


def _held(connection: Connection, pool: str, member: str) -> int:
    book = journal.read_book(connection, pool)
    return book.held.get(member, 0) if book else 0
