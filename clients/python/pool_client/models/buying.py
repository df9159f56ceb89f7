"""Buying: price ladders, what orders cost, purchases beside the ladder of their day, and order plans."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Tier:
    """Orders of so many credits or more cost the unit price for each of their credits."""

    from_credits: int
    unit_price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderRead:
    """A price ladder as a file has it; doubts say what is lawful but unusual."""

    valid_from: date
    tiers: tuple[Tier, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaddersRead:
    """The ladders of a file, by the day that they are valid from: which column was taken for what, doubts about that,
    and of a spreadsheet the sheet that was read."""

    ladders: tuple[LadderRead, ...]
    columns: Mapping[str, str]
    doubts: tuple[str, ...]
    other_sheets: tuple[str, ...]
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceLadder(LadderRead):
    """A price ladder as it counts from a day on, until the next one's."""

    version: int
    written_at: datetime
    written_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderVersion:
    """What was said of a ladder; tiers None where it was withdrawn."""

    version: int
    written_at: datetime
    written_by: str
    tiers: tuple[Tier, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One order, the tier that its size falls in, and what it costs."""

    quantity: int
    from_credits: int
    unit_price: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class CheaperOrder(Order):
    """A larger order that costs less in total: so many credits more, and so much less."""

    more: int
    saves: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPrice:
    """What an order of a quantity costs by the ladder of its day; order None below the smallest order."""

    on: date
    ladder: date
    quantity: int
    cheapest: Order
    cheaper: tuple[CheaperOrder, ...]
    order: Order | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseCheck:
    """A purchase beside the ladder of its day; order None where no ladder counted, or below its smallest order.
    difference is the amount paid, fees included, less what the ladder says."""

    entry: int
    on: date
    into: str
    paid_by: str
    quantity: int
    undone: int
    amount: Decimal
    order_number: str | None = None
    ladder: date | None = None
    order: Order | None = None
    difference: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """The credits that a member will need, month by month."""

    member: str
    credits: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanOpening:
    """The credits at hand in the beginning: those in stock and those that members held at an entry, or as stated."""

    quantity: int
    entry: int | None = None
    stock: int | None = None
    held: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanListed:
    """A plan that was made, with what it was asked for; expiry is in months. forecast_at is the entry up to which its
    needs were forecast, None where they were stated."""

    plan_id: str
    made_at: datetime
    made_by: str
    first_month: str
    last_month: str
    need: int
    opening: PlanOpening
    order_cost: Decimal
    holding_cost: Decimal
    expiry: int | None = None
    cash_limit: Decimal | None = None
    stock_cap: int | None = None
    forecast_at: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMonth:
    """A month of a plan: opening + the order − need − surplus = closing."""

    month: str
    ladder: date
    opening: int
    need: int
    surplus: int
    closing: int
    holding: Decimal
    order: Order | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What comes of ordering nothing in the month of the next order: what the rest would cost more, None where that
    can't be made up for; missing is what that month would be short of."""

    missing: int
    cost: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextOrder:
    """The next order: its month and tier, up to which month it covers the needs, and what waiting would cost."""

    month: str
    order: Order
    covers_through: str
    waiting: Waiting


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCosts:
    """What a plan costs: the credits, placing the orders, keeping credits."""

    credits: Decimal
    ordering: Decimal
    holding: Decimal
    total: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherNeeds:
    """The cheapest plan for a part of the needs, in percent. state is planned, with the next order and the cost, or
    unmet, with the month that no plan meets."""

    percent: int
    state: str
    month: str | None = None
    order: Order | None = None
    total: Decimal | None = None
    need: int | None = None
    most: int | None = None
    limits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlan(PlanListed):
    """The cheapest plan for its needs; next_order None where nothing has to be ordered. unused is what no need takes of
    what is at hand in the beginning."""

    needs: tuple[Needs, ...]
    months: tuple[PlannedMonth, ...]
    unused: int
    costs: PlanCosts
    other_needs: tuple[OtherNeeds, ...]
    cautions: tuple[str, ...]
    next_order: NextOrder | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSaving:
    """What a plan saves a member: share is its part of what the plan costs, alone what the cheapest orders for its own
    needs would cost, both with its part of what is at hand. saving is below 0 where it would do better alone."""

    member: str
    need: int
    at_hand: int
    alone: Decimal
    share: Decimal
    saving: Decimal
