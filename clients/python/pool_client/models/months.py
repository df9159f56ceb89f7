"""Months as they are read: sheets with their members, settlements, positions, and what credits cost."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pool_client.models.directory import Policy
from pool_client.models.entries import OpenLoan
from pool_client.models.saving import SharedSaving


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitCost:
    """A price per credit: to 4 decimals, and exactly as text of minor units over credits."""

    shown: Decimal
    exact: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Costed:
    """Credits together with their cost."""

    quantity: int
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Lending:
    """Credits passed from one member to another for an amount; entry is the loan with an agreed price, None for what
    went between two members on balance over the month."""

    lender: str
    borrower: str
    quantity: int
    amount: Decimal
    cost: Decimal
    unit_price: UnitCost | None = None
    entry: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedLoan:
    """Credits that stay open between two members over a close, with the value that they are carried on at."""

    lender: str
    borrower: str
    quantity: int
    value: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """What keeps a month from being closed: the code of the refusal that a close would meet, and its sentence."""

    code: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A member's due line by line: positive is owed to it."""

    brought_forward: Decimal
    purchases_paid: Decimal
    purchases_for_it: Decimal
    draws: Decimal
    loans_from_it: Decimal
    loans_to_it: Decimal
    charges_to_it: Decimal
    charges_from_it: Decimal
    stock_write_offs: Decimal
    payments_received: Decimal
    payments_made: Decimal
    reversals: Decimal
    saving_shared: Decimal
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberSheet:
    """One member's month: from opening to reversals_in makes up available, less reversals_out; the rest comes out."""

    member: str
    opening: Costed
    draws: Costed
    purchases: Costed
    outside_in: Costed
    loans_to_it: Costed
    reversals_in: Costed
    reversals_out: Costed
    available: Costed
    made_up: Costed
    loans_from_it: Costed
    uses: Costed
    outside_out: Costed
    given_back: Costed
    write_offs: Costed
    closing: Costed
    lending_gain: Decimal
    difference: Decimal
    due: Due
    blended_unit_cost: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """The stock's month."""

    opening: Costed
    bought: Costed
    back: Costed
    withdrawn: Costed
    available: Costed
    closing: Costed


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWarning:
    """Something that is missing or dated wrong: which rule, since when, where, and how much."""

    rule: str
    on: date
    holder: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryCost:
    """What the credits of one entry had cost: a draw, use, write-off or outside entry out."""

    entry: int
    cost: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The costing of one month; of an open one as far as it has come. loans_carried are loans of the month that stay
    open, loans_returned what came back (from its lender), carried_settled what is settled of earlier months' loans."""

    month: str
    state: str
    computed_at: int
    policy: Policy
    stock: Stock
    loans_settled: tuple[Lending, ...]
    loans_carried: tuple[Lending, ...]
    loans_returned: tuple[Lending, ...]
    loans_agreed: tuple[Lending, ...]
    carried_settled: tuple[CarriedLoan, ...]
    open_loans: tuple[CarriedLoan, ...]
    members: tuple[MemberSheet, ...]
    warnings: tuple[SheetWarning, ...]
    saving: SharedSaving | None = None
    pool_price: UnitCost | None = None
    obstacle: Obstacle | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberAmount:
    """An amount of one member."""

    member: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPayment:
    """A payment that settles a month; id and paid once the month is closed."""

    payer: str
    payee: str
    amount: Decimal
    id: str | None = None
    paid: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """How a month is or would be settled. A close states the digest of the preview. go_betweens both pay and receive;
    unpayable can't do either as the pool's pairs stand, and while there are any the month can't be closed. What was
    accepted when it was closed was open with the vendor's record; sign_off had signed that off by then."""

    month: str
    state: str
    digest: str
    computed_at: int
    carried: tuple[MemberAmount, ...]
    small: tuple[MemberAmount, ...]
    nets: tuple[MemberAmount, ...]
    payments: tuple[PlannedPayment, ...]
    go_betweens: tuple[str, ...]
    unpayable: tuple[str, ...]
    lower_bound: int
    proven: bool
    warnings: int
    accepted_differences: int
    accepted_suggestions: int
    cautions: tuple[str, ...]
    sign_off: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthListed:
    """A month and whether it is closed."""

    month: str
    state: str
    close_entry: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SettlementPayment:
    """A payment that a close asked for; age_days since the end of its month, while it is unpaid."""

    id: str
    month: str
    payer: str
    payee: str
    amount: Decimal
    paid: Decimal
    unpaid: Decimal
    age_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberPosition:
    """What a member has and owes; due and blended unit cost are of the month so far."""

    member: str
    held: int
    lent: int
    borrowed: int
    due: Decimal
    blended_unit_cost: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacement:
    """What the next order would be, and so what a credit costs to replace."""

    basis: str
    ladder: date
    quantity: int
    unit_price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Positions:
    """Everybody's position now, or as of the end of a day."""

    number: int
    month: str
    stock: int
    members: tuple[MemberPosition, ...]
    open_loans: tuple[OpenLoan, ...]
    as_of: date | None = None
    custodian: str | None = None
    closed_through: str | None = None
    replacement: Replacement | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCost:
    """What a member's credits cost in one month."""

    month: str
    state: str
    available: int
    cost: Decimal
    blended_unit_cost: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberCost:
    """A member's blended unit cost, month by month, and what a credit costs to replace today."""

    member: str
    items: tuple[MonthCost, ...]
    replacement: Replacement | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobUse:
    """One use on a job; left is what is not reversed, cost what that cost, replaced what it would have cost to replace
    on that day."""

    entry: int
    on: date
    member: str
    item: str
    quantity: int
    left: int
    cost: Decimal
    replaced: Decimal | None = None
    price: Decimal | None = None
    margin: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What a job cost and what it earned; replaced_now is what its credits would cost to replace today."""

    job: str
    uses: tuple[JobUse, ...]
    credits: int
    cost: Decimal
    price: Decimal
    margin: Decimal
    replaced_now: Decimal | None = None
    replacement: Replacement | None = None
