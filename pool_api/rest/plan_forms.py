"""How order plans are asked for and shown on the wire. Costs are shown as in ladder_forms.py."""

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.planning import MOST_MONTHS, OrderPlan, Outlook, PlannedMonth, PlanShare, Setting, Unmet
from pool_api.domain.planning.outlook import OTHER_NEEDS
from pool_api.domain.values import Currency
from pool_api.rest.ladder_forms import OrderShown, cost_text, show_order
from pool_api.rest.wire import (
    CreditCount,
    Day,
    Instant,
    MemberCode,
    Money,
    MoneyText,
    MonthText,
    UnitPriceText,
    WireModel,
    stated,
)
from pool_api.services.order_plans import MadePlan
from pool_api.store.plans import KeptPlan

Json = dict[str, Any]

PLAN_ID = "^[0-9]{8,12}$"
_MOST_MEMBERS = 1_000

Expiry = Annotated[
    int,
    Field(
        strict=True, ge=1, le=1_200, examples=[12], description="Months in which a credit is good, its first included."
    ),
]


class NeedsForm(WireModel):
    """The credits that a member will need, month by month."""

    member: MemberCode
    credits: Annotated[list[CreditCount], Field(min_length=1, max_length=MOST_MONTHS)]


class PlanForm(WireModel):
    """What to plan for. Needs are stated for the same months for every member, or else those of `needs`, for `months`
    months; the first is the present month, and what is at hand is what the book has, unless stated. order_cost is paid
    with every order, holding_cost is of a credit and month; cash_limit is for the orders of a month and their costs; no
    order brings what is at hand above stock_cap."""

    first_month: MonthText | None = None
    needs: Annotated[list[NeedsForm], Field(min_length=1, max_length=_MOST_MEMBERS)] | None = None
    months: (
        Annotated[
            int,
            Field(
                strict=True,
                ge=1,
                le=MOST_MONTHS,
                examples=[12],
                description="How many, 12 unless stated.",
            ),
        ]
        | None
    ) = None
    opening: CreditCount | None = None
    order_cost: Money = Decimal(0)
    holding_cost: UnitPriceText = "0"
    expiry: Expiry | None = None
    cash_limit: Money | None = None
    stock_cap: CreditCount | None = None

    def stated_needs(self) -> tuple[tuple[str, tuple[int, ...]], ...] | None:
        """Give the needs by member, None where they are to be forecast."""
        return None if self.needs is None else tuple((each.member, tuple(each.credits)) for each in self.needs)


class OpeningShown(WireModel):
    """The credits at hand in the beginning: those in stock and those that members held at an entry, or as stated."""

    quantity: CreditCount
    entry: Annotated[int, Field(ge=0)] | None = None
    stock: CreditCount | None = None
    held: CreditCount | None = None


class PlanListed(WireModel):
    """A plan that was made, with what it was asked for. forecast_at is the entry up to which its needs were forecast,
    absent where they were stated with the request."""

    plan_id: str = Field(pattern=PLAN_ID, examples=["00000003"])
    made_at: Instant
    made_by: str
    first_month: MonthText
    last_month: MonthText
    need: CreditCount
    opening: OpeningShown
    forecast_at: Annotated[int, Field(ge=0)] | None = None
    order_cost: MoneyText
    holding_cost: UnitPriceText
    expiry: Expiry | None = None
    cash_limit: MoneyText | None = None
    stock_cap: CreditCount | None = None


class PlannedMonthShown(WireModel):
    """opening + the order − need − surplus = closing."""

    month: MonthText
    ladder: Day
    opening: CreditCount
    order: OrderShown | None = None
    need: CreditCount
    surplus: CreditCount
    closing: CreditCount
    holding: MoneyText


class WaitingShown(WireModel):
    """What comes of ordering nothing in the month of the next order: what the rest of the plan would cost more; absent
    where that can't be made up for. missing is what that month would be short of."""

    cost: MoneyText | None = None
    missing: CreditCount


class NextOrderShown(WireModel):
    """The next order: its tier, up to which month it covers the needs, and what waiting would cost."""

    month: MonthText
    order: OrderShown
    covers_through: MonthText
    waiting: WaitingShown


class CostsShown(WireModel):
    """What a plan costs: the credits, placing the orders, keeping credits."""

    credits: MoneyText
    ordering: MoneyText
    holding: MoneyText
    total: MoneyText


class OtherNeedsShown(WireModel):
    """The cheapest plan for a part of the needs, in percent: its next order and its cost, or the month that no plan
    meets."""

    percent: int
    state: Literal["planned", "unmet"]
    month: MonthText | None = None
    order: OrderShown | None = None
    total: MoneyText | None = None
    need: CreditCount | None = None
    most: CreditCount | None = None
    limits: list[str] = []


class PlanShown(PlanListed):
    """The cheapest plan, exactly, for its needs and months. next_order is absent where nothing has to be ordered;
    unused is what no need takes of what is at hand in the beginning."""

    needs: list[NeedsForm]
    next_order: NextOrderShown | None = None
    months: list[PlannedMonthShown]
    unused: CreditCount
    costs: CostsShown
    other_needs: list[OtherNeedsShown]
    cautions: list[str]


class PlanSavingShown(WireModel):
    """A member of a plan: what it needs in all months, its part of what is at hand, in proportion to needs; what the
    cheapest orders would cost it alone, without limits of cash and stock; its share of what the plan costs, the same
    for each credit needed; and what that saves it, below 0 where it would do better alone."""

    member: MemberCode
    need: CreditCount
    at_hand: CreditCount
    alone: MoneyText
    share: MoneyText
    saving: MoneyText


CAUTIONS = (
    "The plan looks no further than its last month: what is left then has no value in it.",
    "Prices of coming months are those of the ladders entered so far; whether the vendor changes them isn't known.",
)


def show_listed(kept: KeptPlan) -> Json:
    """Give a plan as it was asked for."""
    setting = kept.setting
    currency, cash = setting.currency, setting.cash_limit
    return stated(
        {
            "plan_id": kept.plan_id,
            "made_at": kept.made_at,
            "made_by": kept.made_by,
            "first_month": str(setting.first_month),
            "last_month": str(setting.months[-1]),
            "need": sum(setting.totals),
            "opening": stated({name: getattr(setting.opening, name) for name in OpeningShown.model_fields}),
            "forecast_at": setting.forecast_at,
            "order_cost": currency.text(setting.order_cost),
            "holding_cost": setting.holding_cost,
            "expiry": setting.expiry,
            "cash_limit": None if cash is None else currency.text(cash),
            "stock_cap": setting.stock_cap,
        }
    )


def show_plan(made: MadePlan) -> Json:
    """Give a plan."""
    setting, plan = made.kept.setting, made.found.plan
    shown = {
        **show_listed(made.kept),
        "needs": [{"member": member, "credits": [*credits]} for member, credits in setting.needs],
        "next_order": _next_order(made.found, setting.currency),
        "months": [_month(each, setting, at) for at, each in enumerate(plan.months)],
        "unused": plan.unused,
        "costs": _costs(plan, setting.currency),
        "other_needs": [
            _other(part, other, setting.currency) for part, other in zip(OTHER_NEEDS, made.found.others, strict=True)
        ],
        "cautions": [*CAUTIONS],
    }
    return stated(shown)


def show_saving(each: PlanShare, currency: Currency) -> Json:
    """Give what a plan saves a member."""
    amounts = {name: currency.text(getattr(each, name)) for name in ("alone", "share", "saving")}
    return {"member": each.member, "need": each.need, "at_hand": each.at_hand, **amounts}


def _month(each: PlannedMonth, setting: Setting, at: int) -> Json:
    shown = {
        "month": str(each.month),
        "ladder": setting.ladders[at].valid_from.isoformat(),
        "opening": each.opening,
        "order": each.order and show_order(each.order, setting.currency),
        "need": each.need,
        "surplus": each.surplus,
        "closing": each.closing,
        "holding": cost_text(each.holding, setting.currency),
    }
    return stated(shown)


def _next_order(found: Outlook, currency: Currency) -> Json | None:
    following, waiting = found.plan.next_order, found.waiting
    if following is None or following.order is None or waiting is None:
        return None
    cost = None if waiting.cost is None else cost_text(waiting.cost, currency)
    return {
        "month": str(following.month),
        "order": show_order(following.order, currency),
        "covers_through": str(found.covers),
        "waiting": stated({"cost": cost, "missing": waiting.missing}),
    }


def _costs(plan: OrderPlan, currency: Currency) -> Json:
    return {
        "credits": cost_text(plan.ordered, currency),
        "ordering": currency.text(plan.ordering),
        "holding": cost_text(plan.holding, currency),
        "total": cost_text(plan.total, currency),
    }


def _other(part: Fraction, other: OrderPlan | Unmet, currency: Currency) -> Json:
    percent = int(part * 100)
    if isinstance(other, Unmet):
        unmet = {"month": str(other.month), "need": other.need, "most": other.most, "limits": [*other.limits]}
        return {"percent": percent, "state": "unmet", **unmet}
    following = other.next_order
    planned = {
        "month": following and str(following.month),
        "order": following and following.order and show_order(following.order, currency),
        "total": cost_text(other.total, currency),
    }
    return {"percent": percent, "state": "planned", "limits": [], **stated(planned)}
