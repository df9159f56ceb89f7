"""A member's statement of a month as it is read, line by line."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pool_client.models.months import Costed


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementLine:
    """One entry as it concerns the member."""

    entry: int
    on: date
    kind: str
    what: str
    credits: int
    cost: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """One line of a due, with its words."""

    line: str
    words: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementPayment:
    """A payment to make or to expect."""

    other: str
    direction: str
    amount: Decimal
    paid: Decimal
    id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RestsOn:
    """The entry up to which the journal was read for a statement, and its hash."""

    number: int
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What a member held, and its own credits (held, more what it had lent, less what it had borrowed) with their
    cost."""

    held: int
    own: Costed


@dataclass(frozen=True, slots=True, kw_only=True)
class Blended:
    """How a blended unit cost came about: the parts that make up what was available, by the month sheet's names."""

    from_: Mapping[str, Costed]
    available: Costed
    uses: Costed
    unit_cost: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatementLoan:
    """A loan of a month: settled, carried on, returned, or still open; amount is its value."""

    lender: str
    borrower: str
    quantity: int
    amount: Decimal
    unit_price: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A member's statement of one month: a working paper, not a tax invoice."""

    pool: str
    pool_name: str
    vendor: str
    currency: str
    member: str
    member_name: str
    month: str
    state: str
    rests_on: RestsOn
    opening: Holding
    lines: tuple[StatementLine, ...]
    closing: Holding
    blended: Blended
    loans: tuple[StatementLoan, ...]
    loans_carried: tuple[StatementLoan, ...]
    loans_returned: tuple[StatementLoan, ...]
    carried_settled: tuple[StatementLoan, ...]
    open_loans: tuple[StatementLoan, ...]
    lending_gain: Decimal
    difference: Decimal
    due: tuple[DueLine, ...]
    due_total: Decimal
    carried_forward: Decimal
    too_small_to_pay: Decimal
    payments: tuple[StatementPayment, ...]
    cautions: tuple[str, ...]
