"""Pools with their terms and policies, members with their vendor accounts over time, and API keys."""

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum


class StockCosting(StrEnum):
    """How cost flows out of the stock."""

    MONTH_AVERAGE = "month_average"
    MOVING_AVERAGE = "moving_average"
    FIFO = "fifo"


class LoanPrice(StrEnum):
    """At what price loans without an agreed price are valued."""

    POOL = "pool"
    LENDER = "lender"


class LoansAtClose(StrEnum):
    """What becomes of loans without an agreed price that are open at the close."""

    SETTLE = "settle"
    CARRY = "carry"


class StockFunding(StrEnum):
    """Who finances the closing stock."""

    PAYERS = "payers"
    SHARES = "shares"


class PaymentPlan(StrEnum):
    """How nets become payments."""

    FEWEST = "fewest"
    HUB = "hub"


class SavingRule(StrEnum):
    """How members share what ordering together costs."""

    UNIT_PRICE = "unit_price"
    PROPORTIONAL = "proportional"
    SHAPLEY = "shapley"


class Role(StrEnum):
    """What a key is for."""

    KEEPER = "keeper"
    CLERK = "clerk"
    READER = "reader"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The rules by which a pool costs and settles a month. no_payments_between are pairs of members."""

    stock_costing: StockCosting = StockCosting.MONTH_AVERAGE
    loan_price: LoanPrice = LoanPrice.POOL
    loans_at_close: LoansAtClose = LoansAtClose.SETTLE
    stock_funding: StockFunding = StockFunding.PAYERS
    payment_plan: PaymentPlan = PaymentPlan.FEWEST
    smallest_payment: Decimal = Decimal(0)
    no_payments_between: tuple[tuple[str, ...], ...] = ()
    saving_rule: SavingRule = SavingRule.UNIT_PRICE


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyFrom(Policy):
    """The policy that counts from a month on, until the month that the next one begins with."""

    from_month: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """A pool's terms. keeper_member is the hub of a hub plan; custodian is the first holder of the stock; policy is the
    one that the pool began with."""

    id: str
    name: str
    vendor: str
    currency: str
    time_zone: str
    began_on: date
    keeper_member: str | None = None
    custodian: str | None = None
    policy: Policy = Policy()


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A member's account at the vendor from a day on, until the next one."""

    handle: str
    since: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A shop in the pool; share is its weight where something is borne by all."""

    code: str
    name: str
    joined_on: date
    left_on: date | None = None
    share: int = 1
    handles: tuple[Handle, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """An API key without its text."""

    key_id: str
    name: str
    role: Role
    created_at: datetime
    member: str | None = None
    expires_at: datetime | None = None
    revoked_at: datetime | None = None
    last_used_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyMade(Key):
    """A key just made. Its text is in the first answer only, and not in the value's repr."""

    secret: str | None = field(default=None, repr=False)
