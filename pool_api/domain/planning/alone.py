"""What a member would pay for its needs by ordering alone, beside its part of what the pool's plan costs.

Alone it has the same needs, ladders and costs, its part of what is at hand, and no limits of cash or stock: these are
the pool's, and without them the saving is told too small rather than too large.
"""

from dataclasses import dataclass, replace
from fractions import Fraction

from pool_api.domain.ladder import Ladder
from pool_api.domain.planning.orders import OrderPlan, best_plan
from pool_api.domain.planning.setting import Opening, Setting
from pool_api.domain.values import apportion, half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanShare:
    """A member of a plan: what it needs in all months, its part of what is at hand, in proportion to needs; what the
    cheapest orders for it alone would cost, and its part of what the plan costs, at one price for each credit needed.
    Amounts are whole minor units; the parts of all members add up to the plan's cost."""

    member: str
    need: int
    at_hand: int
    alone: int
    share: int

    @property
    def saving(self) -> int:
        """What the plan saves it: below 0 where it would do better alone."""
        return self.alone - self.share


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A member's part of a plan that hangs on all needs, and the setting of its own orders."""

    member: str
    share: int
    setting: Setting


def parts_of(setting: Setting, plan: OrderPlan) -> tuple[Part, ...]:
    """Give the part of each member, in order of the setting."""
    needs = [sum(credits) for _, credits in setting.needs]
    at_hand = apportion(setting.opening.quantity - plan.unused, needs)
    shares = apportion(half_up(plan.total), needs)
    return tuple(
        Part(
            member=member,
            share=share,
            setting=replace(
                setting,
                needs=((member, credits),),
                opening=Opening(quantity=opening),
                cash_limit=None,
                stock_cap=None,
            ),
        )
        for (member, credits), opening, share in zip(setting.needs, at_hand, shares, strict=True)
    )


def beside_alone(part: Part) -> PlanShare:
    """Give a member's part of a plan beside what it would pay alone."""
    return PlanShare(
        member=part.member,
        need=sum(part.setting.totals),
        at_hand=part.setting.opening.quantity,
        alone=half_up(best_plan(without_dear(part.setting)).total),
        share=part.share,
    )


def without_dear(setting: Setting) -> Setting:
    """Give a setting that costs the same at the least, without large tiers whose orders all cost more than one order in
    each month for the month's need: no cheapest plan has such an order, and the fewer tiers, the faster it is found."""
    each_month = (
        ladder.cheapest(need).cost + setting.order_cost
        for ladder, need in zip(setting.ladders, setting.totals, strict=True)
        if need
    )
    most = sum(each_month, Fraction())
    cut = {ladder: _up_to(ladder, most) for ladder in set(setting.ladders)}
    return replace(setting, ladders=tuple(cut[ladder] for ladder in setting.ladders))


def _up_to(ladder: Ladder, most: Fraction) -> Ladder:
    """Give a ladder without its last tiers, as long as orders of their sizes cost more than `most`, at their own price
    and at the one before, which they have then."""
    steps = list(ladder.steps())
    while len(steps) > 1 and steps[-1][0] * min(steps[-1][1], steps[-2][1]) > most:
        steps.pop()
    return replace(ladder, tiers=ladder.tiers[: len(steps)])
