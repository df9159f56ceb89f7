"""What members give to their banks and bookkeepers: bank accounts, payment files, account codes, double entry."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from pool_client.models.statements import RestsOn


@dataclass(frozen=True, slots=True, kw_only=True)
class BankAccount:
    """Where a member receives money and pays from; changed_at is for the service to say."""

    member: str
    holder: str
    iban: str
    bic: str | None = None
    changed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """What is left to pay of a settlement payment, the account it goes to, and what is written with it."""

    payment: str
    amount: Decimal
    to: BankAccount
    purpose: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A settlement payment that can't be transferred, and why."""

    payment: str
    payee: str
    amount: Decimal
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentFile:
    """What a member's bank may be asked to transfer; it orders nothing."""

    name: str
    month: str
    payer: str
    currency: str
    total: Decimal
    from_: BankAccount
    transfers: tuple[Transfer, ...]
    left_out: tuple[LeftOut, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountCodes:
    """The account that a holder (a member, or the stock) has for each role in its own books."""

    holder: str
    credits: str = "CREDITS"
    pool: str = "POOL"
    settlement: str = "SETTLEMENT"
    loans: str = "LOANS"
    bank: str = "BANK"
    opening: str = "OPENING"
    used: str = "USED"
    written_off: str = "WRITTEN-OFF"
    stock_loss: str = "STOCK-LOSS"
    passed_on: str = "PASSED-ON"
    proceeds: str = "PROCEEDS"
    lending: str = "LENDING"
    charges: str = "CHARGES"
    differences: str = "DIFFERENCES"


@dataclass(frozen=True, slots=True, kw_only=True)
class Posting:
    """One side of a transaction: debit or credit."""

    role: str
    account: str
    debit: Decimal | None = None
    credit: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transaction:
    """Something booked; its debits equal its credits. entry is None at the month's end."""

    on: date
    reason: str
    text: str
    postings: tuple[Posting, ...]
    entry: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountMoved:
    """What an account moved by in the month."""

    role: str
    account: str
    debit: Decimal
    credit: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Postings:
    """A holder's month as double entry; of an open month without its settlement."""

    pool: str
    holder: str
    month: str
    state: str
    currency: str
    rests_on: RestsOn
    transactions: tuple[Transaction, ...]
    accounts: tuple[AccountMoved, ...]
    cautions: tuple[str, ...]
