"""Months: their sheets and settlements, closing and reopening, what a member's credits cost, what is unpaid.

A close states the digest of the preview that its keeper saw. It is decided under the writer's lock: when an entry of
the month or an earlier one came meanwhile, the preview is made again and compared, a few times at the most.
"""

import asyncio
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from itertools import islice

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.book import Book, SettlementPayment
from pool_api.domain.entries import Close, Command, Reopening, digest
from pool_api.domain.errors import (
    MonthHasDifferences,
    MonthHasWarnings,
    NoPaymentPlan,
    NotFound,
    PreviewStale,
)
from pool_api.domain.pool import Member
from pool_api.domain.sheets import MemberSheet, costs_json, sheet_json
from pool_api.domain.values import Currency, Month
from pool_api.services import recording
from pool_api.services.costs import CostedMonth, CostedPool, costed, costed_as_of
from pool_api.services.frozen import COSTS
from pool_api.services.ledger import replayed
from pool_api.services.office import Office
from pool_api.services.reconciling import undecided
from pool_api.services.replacement import Replacement, replacement_on
from pool_api.store import journal
from pool_api.store.answers import Slot
from pool_api.store.engine import reading
from pool_api.store.journal import EntryFilter, PaymentFilter
from pool_api.store.writer import Recorded

MOST_TRIES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Valued:
    """The book with the dues and blended unit costs of a month, up to a day; unit costs are exact, in minor units per
    credit. replacement is what the next order would be on that day, None without a ladder."""

    book: Book
    month: Month
    currency: Currency
    members: tuple[Member, ...]
    sheets: dict[str, MemberSheet]
    replacement: Replacement | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberCost:
    """What a member's credits cost in one month: what it had available, and the blended unit cost."""

    month: Month
    closed: bool
    available: int
    cost: int
    unit_cost: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedPayment:
    """A payment that a close asked for, with the days since its month ended while it is not paid in full."""

    payment: SettlementPayment
    age_days: int | None


def months_of(office: Office, caller: Caller, pool: str) -> CostedPool:
    """Give all months of a pool. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_SHEET)
    return costed(office, pool)


def month_of(office: Office, caller: Caller, pool: str, month: Month) -> tuple[CostedPool, CostedMonth]:
    """Give one month and the pool it stands in. Refuses: NotFound, NotPermitted."""
    found = months_of(office, caller, pool)
    return found, found.month(month)


def entry_costs(
    office: Office, caller: Caller, pool: str, month: Month, *, after: int, limit: int
) -> list[tuple[int, int]]:
    """Give the entries of a month, with numbers above after, by which credits left, each with what those had cost.

    Refuses: NotFound, NotPermitted."""
    _, found = month_of(office, caller, pool, month)
    return list(islice(((entry, cost) for entry, cost in found.sheet.costs.items() if entry > after), limit))


def valued(office: Office, caller: Caller, pool: str, as_of: date | None) -> Valued:
    """Give positions, dues and blended unit costs to date, or as of the end of a day: by what was effective on it or
    before.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_POSITIONS)
    if as_of is None:
        book, found = _book(office, pool), costed(office, pool)
    else:
        found = costed_as_of(office, pool, as_of)
        with reading(office.engine, pool) as connection:
            effective = journal.read_entries(connection, pool, EntryFilter(to_day=as_of))
            book = replayed(found.directory.pool, effective)
    latest, currency = found.latest(), found.directory.pool.currency
    return Valued(
        book=book,
        month=latest.month,
        currency=currency,
        members=tuple(sorted(found.directory.members.values(), key=lambda member: member.code)),
        sheets={each.member: each for each in latest.sheet.members},
        replacement=replacement_on(office, pool, as_of),
    )


def member_costs(office: Office, caller: Caller, pool: str, member: str) -> list[MemberCost]:
    """Give a member's blended unit cost of each month in which it had credits, first month first.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_COST, member=member)
    found = costed(office, pool)
    if member not in found.directory.members:
        raise NotFound(what="member", name=member)
    return [
        MemberCost(
            month=month.month,
            closed=month.close is not None,
            available=each.available.quantity,
            cost=each.available.cost,
            unit_cost=each.unit_cost,
        )
        for month in found.months.values()
        for each in month.sheet.members
        if each.member == member and each.available.quantity
    ]


def settlement_payments(
    office: Office, caller: Caller, pool: str, wanted: PaymentFilter, *, after: str | None, limit: int
) -> list[AskedPayment]:
    """Give the payments that closes asked for and that pass a filter, in order of month and place; a clerk's own only.

    Takes:   after — the id of the payment that came before.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    today = office.pool_today(pool)
    own = access.own_side(caller, Right.READ_STATEMENT)
    if own is not None and wanted.member not in (None, own):
        return []
    narrowed = wanted if own is None else replace(wanted, member=own)
    with reading(office.engine, pool) as connection:
        found = journal.read_payments(connection, pool, narrowed, after=after, limit=limit)
    return [
        AskedPayment(payment=each, age_days=(today - each.month.last).days if each.unpaid else None) for each in found
    ]


def _book(office: Office, pool: str) -> Book:
    with reading(office.engine, pool) as connection:
        found = journal.read_book(connection, pool)
    if found is None:
        raise NotFound(what="pool", name=pool)
    return found


async def close_month(
    office: Office,
    caller: Caller,
    pool: str,
    month: Month,
    *,
    seen: str,
    accept_warnings: bool,
    accept_differences: bool,
    note: str,
    key: str,
) -> Recorded:
    """Close a month as the preview said that the keeper saw.

    Takes:   seen — the preview's digest.
    Refuses: PreviewStale when the book has moved since; MonthHasWarnings and MonthHasDifferences unless accepted;
             NoPrice, NoSupply; NotFound, NotPermitted; as the writer says."""
    access.permit_into(caller, pool, Right.CLOSE)
    stated, operation = {"month": str(month), "digest": seen, "note": note}, f"close {month}"
    for attempt in range(MOST_TRIES):
        tried = key if attempt == 0 else f"{key}.{attempt}"
        commands: list[Command] = []
        if not await asyncio.to_thread(recording.is_answered, office, pool, Slot(caller.key_id, operation, tried)):
            body = await asyncio.to_thread(
                _close_body,
                office,
                caller,
                pool,
                month,
                seen,
                accept_warnings=accept_warnings,
                accept_differences=accept_differences,
            )
            commands = [recording.command(caller, body, month.last, note=note)]
        try:
            return await recording.record(
                office, caller, pool, commands, operation=operation, key=tried, fingerprint=digest(stated)
            )
        except PreviewStale:
            continue
    raise PreviewStale(month=str(month), seen=seen)


def _close_body(
    office: Office,
    caller: Caller,
    pool: str,
    of: Month,
    seen: str,
    *,
    accept_warnings: bool,
    accept_differences: bool,
) -> Close:
    left = undecided(office, pool, of)
    if left.any and not accept_differences:
        raise MonthHasDifferences(month=str(of), count=left.differences, suggestions=left.unconfirmed)
    _, month = month_of(office, caller, pool, of)
    warnings = len(month.sheet.warnings)
    if month.close is not None and isinstance(month.close.body, Close):
        return month.close.body
    if month.digest != seen:
        raise PreviewStale(month=str(month.month), seen=seen)
    if warnings and not accept_warnings:
        raise MonthHasWarnings(month=str(month.month), count=warnings)
    if (obstacle := month.sheet.obstacle) is not None:
        raise obstacle
    if stuck := month.settlement["unpayable"]:
        raise NoPaymentPlan(month=str(month.month), members=", ".join(stuck))
    return Close(
        month=str(month.month),
        computed_at=month.computed_at,
        digest=seen,
        sheet={**sheet_json(month.sheet), COSTS: digest(costs_json(month.sheet))},
        settlement=month.settlement,
        accepted_warnings=warnings,
        accepted_differences=left.differences,
        accepted_suggestions=left.unconfirmed,
        sign_off=left.sign_off,
    )


async def reopen_month(office: Office, caller: Caller, pool: str, month: Month, *, reason: str, key: str) -> Recorded:
    """Open the last closed month again. Refuses: NotLastClosed, PaymentsRecorded; as the writer says."""
    access.permit_into(caller, pool, Right.CLOSE)
    command: Command = recording.command(caller, Reopening(month=str(month), reason=reason), month.last)
    return await recording.record(
        office,
        caller,
        pool,
        [command],
        operation=f"reopen {month}",
        key=key,
        fingerprint=digest({"month": str(month), "reason": reason}),
    )
