"""A pool's terms and its members: read, made and changed by those who may.

A change states the version that it replaces, None to make what isn't there yet; nothing is ever overwritten unseen.
"""

from collections.abc import Container
from dataclasses import replace
from datetime import date
from zoneinfo import available_timezones

from pool_api.domain import access
from pool_api.domain.access import Caller, Reach, Right
from pool_api.domain.access_log import EventKind
from pool_api.domain.book import Book
from pool_api.domain.errors import (
    BeforePoolBegan,
    HandleTaken,
    MemberNotClear,
    NoHub,
    NotFound,
    PolicyFrozen,
    TermFixed,
    UnknownMember,
    UnknownTimeZone,
)
from pool_api.domain.paying import check_pairs
from pool_api.domain.pool import Member, PaymentPlan, Policy, Pool
from pool_api.domain.values import Month
from pool_api.services import access_log
from pool_api.services.costs import costed_within
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import directory, journal
from pool_api.store.directory import Directory
from pool_api.store.engine import Connection, reading, writing


def list_pools(office: Office, caller: Caller, *, after: str, limit: int) -> list[Pool]:
    """Give the pools that the caller may know of, by id: an operator all of them, everyone else its own."""
    if access.reach(caller, Right.LIST_POOLS) is Reach.ALL:
        with reading(office.engine, None) as connection:
            return directory.read_pools(connection, after=after, limit=limit)
    own = [pool for pool in access.own_pools(caller) if pool > after]
    return [office.directory(pool).pool for pool in own[:limit]]


def read_terms(office: Office, caller: Caller, pool: str) -> tuple[Pool, int]:
    """Give a pool's terms and their version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_TERMS)
    with reading(office.engine, pool) as connection:
        version = directory.read_pool_version(connection, pool)
        found = directory.read_directory(connection, pool)
    if version is None or found is None:
        raise NotFound(what="pool", name=pool)
    return found.pool, version


def put_terms(office: Office, caller: Caller, wanted: Pool, version: int | None) -> tuple[Pool, int]:
    """Make a pool (version None) or change its terms, and give them with their new version.

    Takes:   wanted — its policies are left as they are.
    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale, UnknownTimeZone, UnknownMember, TermFixed, NoHub,
             SameMember, PolicyFrozen when the policy is another than now and the pool's first month is closed."""
    access.permit_into(caller, wanted.id, Right.MAKE_POOL if version is None else Right.CHANGE_TERMS)
    if wanted.time_zone not in available_timezones():
        raise UnknownTimeZone(time_zone=wanted.time_zone)
    with writing(office.engine, wanted.id) as connection:
        head = journal.lock_head(connection, wanted.id)
        there = None if head is None else directory.read_pool_version(connection, wanted.id)
        agree("pool", wanted.id, there, version)
        found = directory.read_directory(connection, wanted.id)
        members = {} if found is None else found.members
        _check_policies(replace(wanted, policies={} if found is None else found.pool.policies), members)
        for code in (wanted.keeper_member, wanted.custodian):
            if code is not None and code not in members:
                raise UnknownMember(member=code)
        if head is None or found is None:
            directory.create_pool(connection, wanted)
        else:
            _check_fixed_terms(found.pool, wanted, journal_is_empty=head.number == 0)
            if wanted.policy != found.pool.policy:
                _check_open(connection, wanted, wanted.first_month)
            directory.change_pool(connection, wanted, journal_is_empty=head.number == 0)
        if version is None:
            access_log.note(office, connection, EventKind.POOL_MADE, caller, pool=wanted.id)
    return wanted, (version or 0) + 1


def _check_fixed_terms(now: Pool, wanted: Pool, *, journal_is_empty: bool) -> None:
    if wanted.currency != now.currency:
        raise TermFixed(term="currency", reason="amounts are kept in it from the start")
    if wanted.time_zone != now.time_zone:
        raise TermFixed(term="time zone", reason="days are kept in it from the start")
    if journal_is_empty:
        return
    if wanted.began_on != now.began_on:
        raise TermFixed(term="first day", reason="the journal has entries")
    if wanted.custodian != now.custodian:
        raise TermFixed(term="first custodian", reason="the journal has entries; record a relocation instead")


def _check_policies(terms: Pool, members: Container[str]) -> None:
    for policy in terms.agreed().values():
        if policy.payment_plan is PaymentPlan.HUB and terms.keeper_member is None:
            raise NoHub
        check_pairs(policy.no_payments_between, members)


def _check_open(connection: Connection, terms: Pool, month: Month) -> None:
    book = journal.read_book(connection, terms.id) or Book()
    if book.closed_through is not None and month <= book.closed_through:
        raise PolicyFrozen(month=str(month), closed_through=str(book.closed_through))


def read_policy(office: Office, caller: Caller, pool: str, month: Month) -> tuple[Policy, int]:
    """Give the policy that begins with a month, and its version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_TERMS)
    with reading(office.engine, pool) as connection:
        found = directory.read_directory(connection, pool)
        version = None if found is None else _policy_version(connection, found.pool, month)
    if version is None or found is None:
        raise NotFound(what="policy from", name=str(month))
    return found.pool.agreed()[month], version


def put_policy(
    office: Office, caller: Caller, pool: str, wanted: Policy, version: int | None, *, month: Month
) -> tuple[Policy, int]:
    """Agree a policy from a month on (version None) or change one, and give it with its new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale, BeforePoolBegan, NoHub, UnknownMember, SameMember,
             PolicyFrozen for a closed month."""
    access.permit_into(caller, pool, Right.CHANGE_TERMS)
    with writing(office.engine, pool) as connection:
        head = journal.lock_head(connection, pool)
        found = directory.read_directory(connection, pool)
        if head is None or found is None:
            raise NotFound(what="pool", name=pool)
        terms = found.pool
        if month < terms.first_month:
            raise BeforePoolBegan(effective_on=str(month), began_on=terms.began_on.isoformat())
        agree("policy from", str(month), _policy_version(connection, terms, month), version)
        _check_open(connection, terms, month)
        if month == terms.first_month:
            changed = replace(terms, policy=wanted)
            _check_policies(changed, found.members)
            directory.change_pool(connection, changed, journal_is_empty=head.number == 0)
        else:
            _check_policies(replace(terms, policies={**terms.policies, month: wanted}), found.members)
            directory.write_policy(connection, pool, month, wanted, exists=version is not None)
    return wanted, (version or 0) + 1


def _policy_version(connection: Connection, terms: Pool, month: Month) -> int | None:
    """Give the version of the policy that begins with a month; the first one is of the pool's terms."""
    if month == terms.first_month:
        return directory.read_pool_version(connection, terms.id)
    return directory.read_policy_version(connection, terms.id, month)


def list_members(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[Member]:
    """Give members whose code comes after a text, by code."""
    access.permit_into(caller, pool, Right.READ_MEMBERS)
    members = office.directory(pool).members
    return [members[code] for code in sorted(members) if code > after][:limit]


def read_member(office: Office, caller: Caller, pool: str, code: str) -> tuple[Member, int]:
    """Give a member and its version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_MEMBERS)
    with reading(office.engine, pool) as connection:
        version = directory.read_member_version(connection, pool, code)
        found = directory.read_directory(connection, pool)
    if version is None or found is None:
        raise NotFound(what="member", name=code)
    return found.members[code], version


def put_member(office: Office, caller: Caller, pool: str, wanted: Member, version: int | None) -> tuple[Member, int]:
    """Make a member (version None) or change one, and give it with its new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale, HandleTaken, MemberNotClear."""
    access.permit_into(caller, pool, Right.CHANGE_MEMBERS)
    wanted = replace(wanted, handles=tuple(sorted(wanted.handles, key=lambda each: each.since)))
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        found = directory.read_directory(connection, pool)
        if found is None:
            raise NotFound(what="pool", name=pool)
        there = directory.read_member_version(connection, pool, wanted.code)
        agree("member", wanted.code, there, version)
        _check_handles(found, wanted)
        directory.write_member(connection, pool, wanted, exists=there is not None)
        before = found.members.get(wanted.code)
        if wanted.left_on is not None and (before is None or wanted.left_on != before.left_on):
            _check_clear(connection, pool, wanted.code)
            _check_due(office, connection, pool, wanted.code)
    return wanted, (version or 0) + 1


def _check_handles(found: Directory, wanted: Member) -> None:
    """Refuse a vendor account that two members would have on one day."""
    days = sorted({each.since for member in (*found.members.values(), wanted) for each in member.handles})
    for code, other in found.members.items():
        if code == wanted.code:
            continue
        for day in days:
            handle = wanted.handle_on(day)
            theirs = other.handle_on(day)
            if handle and theirs and handle.casefold() == theirs.casefold() and not _gone(other, day):
                raise HandleTaken(handle=handle, member=code, since=day.isoformat())


def _gone(member: Member, day: date) -> bool:
    return member.left_on is not None and member.left_on < day


def _check_clear(connection: Connection, pool: str, code: str) -> None:
    book = journal.read_book(connection, pool) or Book()
    if book.held.get(code, 0):
        raise MemberNotClear(member=code, reason=f"it holds {book.held[code]} credits")
    if book.custodian == code and book.stock:
        raise MemberNotClear(member=code, reason="the stock is in its vendor account; record a relocation")
    loans = {pair: quantity for pair, quantity in book.open.items() if code in pair and quantity}
    for (lender, borrower), quantity in sorted(loans.items()):
        raise MemberNotClear(member=code, reason=f"{quantity} credits are open from {lender} to {borrower}")
    for payment in book.payments.values():
        if code in (payment.payer, payment.payee) and payment.unpaid:
            raise MemberNotClear(member=code, reason=f"settlement payment {payment.id} is not paid in full")


def _check_due(office: Office, connection: Connection, pool: str, code: str) -> None:
    """Refuse while a month that isn't closed yet has a due of the member, or would ask it to pay or be paid at its
    close. Its leaving is written already, so that a stock financed by shares is financed without it from then on."""
    found = costed_within(office, connection, pool, until=office.pool_today(pool))
    text = found.directory.pool.currency.text
    for month in found.months.values():
        nets = {each["member"]: each["amount"] for each in month.settled["nets"]}
        due = month.sheet.dues.get(code, 0) or nets.get(code, 0)
        if month.close is None and due:
            raise MemberNotClear(member=code, reason=f"its due of {month.month} is {text(due)}")
