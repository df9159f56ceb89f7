"""Members' bank accounts, and how holders call the accounts of their books.

Both may change and have versions; whoever changes them holds the pool's head row locked. A bank account that is taken
off file leaves nothing but its version, which goes on where the next one is put on file.
"""

import json
from typing import NamedTuple

from sqlalchemy import Connection, Row, insert, select, update

from pool_api.domain.banking import BankAccount
from pool_api.domain.bookkeeping import AccountCodes
from pool_api.domain.entries import canonical
from pool_api.store.tables import account_codes, bank_account


class Versioned(NamedTuple):
    """A bank account with its version; account None once it is taken off file."""

    account: BankAccount | None
    version: int


def read_bank_account(connection: Connection, pool: str, member: str) -> Versioned | None:
    """Give a member's bank account, None when it never had one on file."""
    query = select(bank_account).where(bank_account.c.pool_id == pool, bank_account.c.member == member)
    row = connection.execute(query).one_or_none()
    return None if row is None else Versioned(_bank_account(row), row.version)


def read_bank_accounts(connection: Connection, pool: str) -> dict[str, BankAccount]:
    """Give the bank accounts on file, by member."""
    rows = connection.execute(select(bank_account).where(bank_account.c.pool_id == pool))
    return {row.member: found for row in rows if (found := _bank_account(row))}


def write_bank_account(connection: Connection, pool: str, written: BankAccount) -> int:
    """Put a member's bank account on file, or replace it, and give its version."""
    values = {"holder": written.holder, "iban": written.iban, "bic": written.bic}
    return _write(connection, pool, written.member, values, written.changed_at)


def erase_bank_account(connection: Connection, pool: str, member: str, changed_at: str) -> None:
    """Take a member's bank account off file."""
    _write(connection, pool, member, {"holder": None, "iban": None, "bic": None}, changed_at)


def _write(connection: Connection, pool: str, member: str, values: dict[str, str | None], changed_at: str) -> int:
    there = read_bank_account(connection, pool, member)
    version = 1 if there is None else there.version + 1
    stated = {**values, "changed_at": changed_at, "version": version}
    if there is None:
        connection.execute(insert(bank_account).values(pool_id=pool, member=member, **stated))
    else:
        at = (bank_account.c.pool_id == pool) & (bank_account.c.member == member)
        connection.execute(update(bank_account).where(at).values(stated))
    return version


def _bank_account(row: Row[tuple[object, ...]]) -> BankAccount | None:
    if row.iban is None:
        return None
    return BankAccount(member=row.member, holder=row.holder, iban=row.iban, bic=row.bic, changed_at=row.changed_at)


def read_account_codes(connection: Connection, pool: str, holder: str) -> tuple[AccountCodes, int] | None:
    """Give a holder's account codes and their version, None when it never stated any."""
    query = select(account_codes.c.codes, account_codes.c.version).where(
        account_codes.c.pool_id == pool, account_codes.c.holder == holder
    )
    row = connection.execute(query).one_or_none()
    return None if row is None else (AccountCodes(**json.loads(row.codes)), row.version)


def write_account_codes(connection: Connection, pool: str, holder: str, codes: AccountCodes, *, exists: bool) -> None:
    """Write a holder's account codes at version 1, or replace them."""
    text = canonical(codes.as_json()).decode()
    if exists:
        at = (account_codes.c.pool_id == pool) & (account_codes.c.holder == holder)
        connection.execute(update(account_codes).where(at).values(codes=text, version=account_codes.c.version + 1))
    else:
        connection.execute(insert(account_codes).values(pool_id=pool, holder=holder, codes=text, version=1))
