"""The keeper's report of a month: what its plots show."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pool_client.models.months import UnitCost
from pool_client.models.statements import RestsOn


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberUnitCost:
    """What a member had available in a month, what that had cost, and its blended unit cost."""

    member: str
    available: int
    cost: Decimal
    blended_unit_cost: UnitCost


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthCosts:
    """What credits cost in one month: the pool price, and those members that had credits."""

    month: str
    members: tuple[MemberUnitCost, ...]
    pool_price: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLevel:
    """The credits in stock at the end of a day."""

    on: date
    credits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """What a lender lent a borrower in a month and got back, what of it the month settles for which amount, and what
    stays open."""

    lender: str
    borrower: str
    lent: int
    returned: int
    settled: int
    amount: Decimal
    open: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotWords:
    """Each plot in words."""

    costs: str
    stock: str
    lending: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Costs of up to twelve months, first month first; stock day by day, and before; and who lends and borrows."""

    pool: str
    pool_name: str
    currency: str
    month: str
    state: str
    rests_on: RestsOn
    costs: tuple[MonthCosts, ...]
    stock_before: int
    stock: tuple[StockLevel, ...]
    lending: tuple[Pair, ...]
    words: PlotWords
    cautions: tuple[str, ...]
