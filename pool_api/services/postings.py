"""A holder's month as double entry, under the account codes that it has stated once."""

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.bookkeeping import AccountCodes, transactions
from pool_api.domain.errors import NotFound
from pool_api.domain.values import STOCK, Month
from pool_api.reports.postings import Books
from pool_api.services.costs import costed
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import accounts, directory, facts, journal
from pool_api.store.engine import Connection, reading, writing


def books_of(office: Office, caller: Caller, pool: str, month: Month, holder: str) -> Books:
    """Give what a member, or the stock, books for a month; of an open one as far as it has come, without settlement.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_POSTINGS, member=holder)
    with reading(office.engine, pool) as connection:
        _check_holder(connection, pool, holder)
        stated = accounts.read_account_codes(connection, pool, holder)
    found = costed(office, pool)
    of = found.month(month)
    with reading(office.engine, pool) as connection:
        entries = facts.read_month(connection, pool, month, of.numbers)
        targets = facts.read_targets(connection, pool, entries)
    nets = {} if of.close is None else {each["member"]: each["amount"] for each in of.settlement["nets"]}
    rests_on = of.close or found
    return Books(
        pool=found.directory.pool,
        holder=holder,
        month=str(month),
        closed=of.close is not None,
        transactions=transactions(holder, of.sheet, entries, targets, nets),
        codes=stated[0] if stated else AccountCodes(),
        entries=targets | {entry.number: entry for entry in entries},
        number=rests_on.number,
        hash=rests_on.hash,
    )


def read_codes(office: Office, caller: Caller, pool: str, holder: str) -> tuple[AccountCodes, int]:
    """Give the account codes that a holder has stated, and their version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_POSTINGS, member=holder)
    with reading(office.engine, pool) as connection:
        _check_holder(connection, pool, holder)
        found = accounts.read_account_codes(connection, pool, holder)
    if found is None:
        raise NotFound(what="account codes of", name=holder)
    return found


def put_codes(
    office: Office, caller: Caller, pool: str, holder: str, wanted: AccountCodes, *, version: int | None
) -> int:
    """State a holder's account codes (version None) or replace them, and give their new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_ACCOUNT_CODES, member=holder)
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        _check_holder(connection, pool, holder)
        there = accounts.read_account_codes(connection, pool, holder)
        agree("account codes of", holder, there[1] if there else None, version)
        accounts.write_account_codes(connection, pool, holder, wanted, exists=there is not None)
    return (version or 0) + 1


def _check_holder(connection: Connection, pool: str, holder: str) -> None:
    if holder != STOCK and directory.read_member_version(connection, pool, holder) is None:
        raise NotFound(what="member", name=holder)
