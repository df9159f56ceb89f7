"""The cheapest plan with what explains it: what waiting would cost, and what changes if the needs are others."""

from dataclasses import dataclass
from fractions import Fraction

from pool_api.domain.errors import NeedNotMet
from pool_api.domain.planning.orders import OrderPlan, best_plan
from pool_api.domain.planning.setting import Setting
from pool_api.domain.values import Month

OTHER_NEEDS = (Fraction(4, 5), Fraction(6, 5))
"""The parts of the needs that a plan is tried with beside the whole: a fifth off either way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmet:
    """Needs that no plan meets: the first month, what it needs, what it can have at the most, and the limits."""

    month: Month
    need: int
    most: int
    limits: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What comes of ordering nothing in the month of the next order: what the rest would cost more, at the least; None
    where its need, or a later one, could no longer be met. missing is what that month itself would be short of."""

    cost: Fraction | None
    missing: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The cheapest plan; waiting None where nothing is ordered. covers is the last month whose need is met before
    another order comes; others are the plans for OTHER_NEEDS, in their order."""

    plan: OrderPlan
    waiting: Waiting | None
    covers: Month | None
    others: tuple[OrderPlan | Unmet, ...]


def outlook(setting: Setting) -> Outlook:
    """Give the cheapest plan and what explains it. Refuses: NeedNotMet."""
    plan = best_plan(setting)
    following, covers, waiting = plan.next_order, None, None
    if following is not None:
        waiting = Waiting(cost=plan.waiting, missing=max(following.need - following.opening, 0))
        start = plan.months.index(following)
        later = next((at for at in range(start + 1, len(plan.months)) if plan.months[at].order), len(plan.months))
        covers = plan.months[later - 1].month
    return Outlook(
        plan=plan,
        waiting=waiting,
        covers=covers,
        others=tuple(_plan_or_unmet(setting.scaled_needs(part)) for part in OTHER_NEEDS),
    )


def _plan_or_unmet(setting: Setting) -> OrderPlan | Unmet:
    try:
        return best_plan(setting)
    except NeedNotMet as refusal:
        return Unmet(
            month=Month.parse(refusal.month), need=refusal.need, most=refusal.most, limits=tuple(refusal.limits)
        )
