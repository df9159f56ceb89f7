"""Members' bank accounts, and what of a settlement a member can have its bank transfer.

An order holds what is left of the settlement payments that one member has to make, where both sides have an account on
file, and names the others with the side that has none. It orders nothing: a bank does, once its customer has checked
names and accounts. Amounts are minor units. How an order is written down for a bank is not known here, and neither is
whether an account number is well formed.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pool_api.domain.book import SettlementPayment
from pool_api.domain.entries import digest
from pool_api.domain.errors import NothingToTransfer
from pool_api.domain.values import Month


@dataclass(frozen=True, slots=True, kw_only=True)
class BankAccount:
    """A member's account: who holds it, its number (ISO 13616, without blanks), its bank's code (ISO 9362) if it is to
    be stated, and the instant since when it is on file so, as RFC 3339 text."""

    member: str
    holder: str
    iban: str
    bic: str | None
    changed_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CreditTransfer:
    """What is left to pay of a settlement payment, and the account that it goes to."""

    payment: str
    amount: int
    to: BankAccount


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What can't be transferred; lacking are the sides without an account on file, payer first."""

    payment: str
    payee: str
    amount: int
    lacking: tuple[str, ...]

    @property
    def reason(self) -> str:
        """Why it is left out."""
        return f"no bank account of {' and '.join(self.lacking)} on file"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentOrder:
    """What a payer's bank may be asked for; transfers is never empty. name is equal exactly for orders that transfer
    the same between the same accounts: 32 capital letters and digits, so that a bank can tell a file sent twice."""

    pool: str
    month: Month
    payer: BankAccount
    transfers: tuple[CreditTransfer, ...]
    left_out: tuple[LeftOut, ...]

    @property
    def total(self) -> int:
        """The sum of the transfers."""
        return sum(each.amount for each in self.transfers)

    @property
    def name(self) -> str:
        """The order's name (see the class)."""
        content = [[each.payment, each.amount, each.to.holder, each.to.iban, each.to.bic] for each in self.transfers]
        found = digest([self.pool, str(self.month), self.payer.holder, self.payer.iban, self.payer.bic, content])
        return f"CP{found[:30].upper()}"


def payment_order(
    pool: str, month: Month, payer: str, payments: Iterable[SettlementPayment], accounts: Mapping[str, BankAccount]
) -> PaymentOrder:
    """Put together what a member has to pay of a month's settlement.

    Takes:   payments, those of the month's settlement, in order; accounts, by member.
    Gives:   the order; transfers and left_out are in the order of payments.
    Refuses: NothingToTransfer when the payer has nothing left to pay, or all of it has to be left out."""
    transfers, left_out = [], []
    for each in payments:
        if each.payer != payer or not each.unpaid:
            continue
        lacking = tuple(side for side in (payer, each.payee) if side not in accounts)
        if lacking:
            left_out.append(LeftOut(payment=each.id, payee=each.payee, amount=each.unpaid, lacking=lacking))
        else:
            transfers.append(CreditTransfer(payment=each.id, amount=each.unpaid, to=accounts[each.payee]))
    if not transfers:
        why = "; ".join(f"{each.payment} to {each.payee}: {each.reason}" for each in left_out)
        raise NothingToTransfer(member=payer, month=str(month), reason=why or "it has nothing left to pay")
    return PaymentOrder(
        pool=pool, month=month, payer=accounts[payer], transfers=tuple(transfers), left_out=tuple(left_out)
    )
