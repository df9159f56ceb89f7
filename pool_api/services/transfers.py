"""Members' bank accounts, and what a member's bank is to transfer for a month's settlement.

Account numbers are told to the keeper, to the clerks of the member itself, and in an order for its bank to the clerks
of a member that has to pay it; to nobody else.
"""

from dataclasses import replace

from stdnum import bic, iban
from stdnum.exceptions import InvalidChecksum, InvalidComponent, InvalidFormat, InvalidLength, ValidationError

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.banking import BankAccount, PaymentOrder, payment_order
from pool_api.domain.book import Book, close_of, planned
from pool_api.domain.errors import BankAccountInvalid, MonthNotClosed, NotFound
from pool_api.domain.values import Month
from pool_api.services.costs import costed
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import accounts, directory, journal
from pool_api.store.engine import Connection, reading, writing

_FLAWS: dict[type[ValidationError], str] = {
    InvalidChecksum: "its check digits don't fit",
    InvalidComponent: "it names a country that has no such numbers",
    InvalidFormat: "it is not of the right form",
    InvalidLength: "it is too long or too short",
}


def read_bank_account(office: Office, caller: Caller, pool: str, member: str) -> tuple[BankAccount, int]:
    """Give a member's bank account and its version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.KEEP_BANK_ACCOUNT, member=member)
    with reading(office.engine, pool) as connection:
        _check_member(connection, pool, member)
        found = accounts.read_bank_account(connection, pool, member)
    if found is None or found.account is None:
        raise NotFound(what="bank account of", name=member)
    return found.account, found.version


def put_bank_account(
    office: Office, caller: Caller, pool: str, wanted: BankAccount, version: int | None
) -> tuple[BankAccount, int]:
    """Put a member's bank account on file (version None) or replace it, and give it with its new version.

    Takes:   wanted — number and code with blanks or without; it is on file as of now, whatever it says.
    Refuses: NotFound, NotPermitted, BankAccountInvalid, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.KEEP_BANK_ACCOUNT, member=wanted.member)
    wanted = replace(_checked(wanted), changed_at=office.instant())
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        _check_member(connection, pool, wanted.member)
        there = accounts.read_bank_account(connection, pool, wanted.member)
        agree("bank account of", wanted.member, there.version if there and there.account else None, version)
        return wanted, accounts.write_bank_account(connection, pool, wanted)


def erase_bank_account(office: Office, caller: Caller, pool: str, member: str, version: int) -> None:
    """Take a member's bank account off file, as it was read with a version; where there is none, nothing happens.

    Refuses: NotFound, NotPermitted, VersionStale."""
    access.permit_into(caller, pool, Right.KEEP_BANK_ACCOUNT, member=member)
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        _check_member(connection, pool, member)
        there = accounts.read_bank_account(connection, pool, member)
        if there and there.account:
            agree("bank account of", member, there.version, version)
            accounts.erase_bank_account(connection, pool, member, office.instant())


def order_of(office: Office, caller: Caller, pool: str, month: Month, payer: str) -> PaymentOrder:
    """Give what a member's bank is to transfer of what is left of a closed month's settlement.

    Refuses: NotFound, NotPermitted, MonthNotClosed, NothingToTransfer."""
    access.permit_into(caller, pool, Right.READ_PAYMENT_FILE, member=payer)
    found = costed(office, pool)
    if payer not in found.directory.members:
        raise NotFound(what="member", name=payer)
    close = found.month(month).close
    if close is None:
        raise MonthNotClosed(month=str(month))
    with reading(office.engine, pool) as connection:
        book = journal.read_book(connection, pool) or Book()
        on_file = accounts.read_bank_accounts(connection, pool)
    payments = (book.payments[each.id] for each in planned(close_of(close)) if each.id in book.payments)
    return payment_order(pool, month, payer, payments, on_file)


def _check_member(connection: Connection, pool: str, member: str) -> None:
    if directory.read_member_version(connection, pool, member) is None:
        raise NotFound(what="member", name=member)


def _checked(wanted: BankAccount) -> BankAccount:
    """Give an account with its number and code as they are kept. Refuses: BankAccountInvalid."""
    part = "IBAN"
    try:
        number = iban.validate(wanted.iban)
        part = "BIC"
        return replace(wanted, iban=number, bic=None if wanted.bic is None else bic.validate(wanted.bic))
    except ValidationError as flaw:
        raise BankAccountInvalid(part=part, member=wanted.member, reason=_FLAWS[type(flaw)]) from None
