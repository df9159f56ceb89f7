"""The cheapest orders for a setting, exactly: a dynamic programme over months whose costs are curves.

f(x), what a month and those after it cost at the least when it begins with x credits, is a curve; the last month's is
found first. With y credits at hand once the month's order has come, the rest costs g(y): what is kept is at most y less
the need, costs its holding, and goes on as the next month's f. An order is priced as a whole, so within a tier the best
size for each x is the least of a curve in a window that moves with x. Source: the dynamic lot size model (Wagner &
Whitin, Management Science, 1958), with a tier as a window of a minimum; needs no theorem on how best plans look.

A plan orders at most once a month, as the month begins, and may leave credits unused: what no need takes before it
expires, or before the plan ends, is `surplus`, which costs its price but no holding, as nothing is saved by keeping it.
Of plans that cost the same it is the one that orders less in the first month in which they differ.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import reduce

from pool_api.domain.ladder import Order
from pool_api.domain.planning.curves import (
    Curve,
    ends,
    falling,
    least_in_window,
    lower,
    moved,
    raised,
    tilted,
    value_at,
    within,
)
from pool_api.domain.planning.feasible import check_feasible
from pool_api.domain.planning.setting import Setting, Terms, terms_of
from pool_api.domain.values import Month


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMonth:
    """A month of a plan: opening + ordered − need − surplus = closing. holding is what keeping the closing costs."""

    month: Month
    opening: int
    order: Order | None
    need: int
    surplus: int
    closing: int
    holding: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlan:
    """The cheapest plan. unused are credits of the opening that no need takes; costs are exact, in minor units.

    waiting is what the rest of the plan would cost more, at the least, if nothing were ordered in the month of its next
    order; None where nothing is ordered at all, or where it can't wait."""

    months: tuple[PlannedMonth, ...]
    unused: int
    order_cost: int
    waiting: Fraction | None

    @property
    def next_order(self) -> PlannedMonth | None:
        """The first month with an order, None where nothing is ordered."""
        return next((each for each in self.months if each.order), None)

    @property
    def ordered(self) -> Fraction:
        """What the credits cost."""
        return sum((each.order.cost for each in self.months if each.order), Fraction())

    @property
    def ordering(self) -> int:
        """What placing the orders costs."""
        return self.order_cost * sum(1 for each in self.months if each.order)

    @property
    def holding(self) -> Fraction:
        """What keeping credits costs."""
        return sum((each.holding for each in self.months), Fraction())

    @property
    def total(self) -> Fraction:
        """What it all costs."""
        return self.ordered + self.ordering + self.holding


def best_plan(setting: Setting) -> OrderPlan:
    """Give the cheapest plan.

    Refuses: NeedNotMet with the first month and limit that fail, when no plan keeps within the limits.
    Laws:    tests/domain/test_planning_laws.py: no plan of brute force or of a general solver costs less."""
    check_feasible(setting)
    terms = terms_of(setting)
    rests, costs = cost_curves(terms)
    kept = _most_of_least(costs[0], terms.opening, 0)
    months, unused, waiting = list[PlannedMonth](), setting.opening.quantity - kept, None
    for at, month in enumerate(setting.months):
        at_hand = _best_level(terms, at, rests[at], kept)
        order = setting.ladders[at].order(at_hand - kept)
        if order and all(each.order is None for each in months):
            without, best = value_at(rests[at], kept), value_at(costs[at], kept)
            waiting = None if without is None or best is None else Fraction(without - best, terms.scale)
        left = at_hand - terms.needs[at]
        closing = _most_of_least(costs[at + 1], min(left, terms.useful[at]), terms.holding_cost)
        holding = Fraction(closing * terms.holding_cost, terms.scale)
        months.append(
            PlannedMonth(
                month=month,
                opening=kept,
                order=order,
                need=terms.needs[at],
                surplus=left - closing,
                closing=closing,
                holding=holding,
            )
        )
        kept = closing
    return OrderPlan(months=tuple(months), unused=unused, order_cost=setting.order_cost, waiting=waiting)


def cost_curves(terms: Terms) -> tuple[list[Curve], list[Curve]]:
    """Give g by month, and f by month with that of the end, where nothing is needed any more."""
    rests: list[Curve] = []
    costs: list[Curve] = [((0, 0, 0, 0),)]
    for at in reversed(range(len(terms.needs))):
        begins_with = terms.useful[at - 1] if at else terms.opening
        largest_least = max((window.least for window in terms.windows[at]), default=0)
        top = max(begins_with + largest_least, terms.needs[at] + terms.useful[at], begins_with)
        kept = falling(tilted(costs[-1], terms.holding_cost), max(top - terms.needs[at], 0))
        rest = within(moved(kept, terms.needs[at]), 0, top)
        rests.append(rest)
        costs.append(reduce(lower, _with_orders(terms, at, rest, begins_with), within(rest, 0, begins_with)))
    return rests[::-1], costs[::-1]


def _with_orders(terms: Terms, at: int, rest: Curve, begins_with: int) -> Iterator[Curve]:
    """Give, for each unit price, what a month costs at the least when something is ordered at it."""
    reachable = rest if terms.stock_cap is None else within(rest, 0, terms.stock_cap)
    if not reachable:
        return
    for window in terms.windows[at]:
        farthest = max(min(window.most, reachable[-1][1]), window.least)
        best = least_in_window(tilted(reachable, window.price), window.least, farthest, begins_with)
        yield raised(tilted(best, -window.price), terms.order_cost)


def _best_level(terms: Terms, at: int, rest: Curve, kept: int) -> int:
    """Give what is at hand once the best order has come, the smallest of several: `kept` where nothing is ordered."""
    paid = [(0, kept)]
    for window in terms.windows[at]:
        levels = _levels(rest, kept + window.least, kept + window.most, terms.stock_cap)
        paid.extend((terms.order_cost + window.price * (level - kept), level) for level in levels)
    costs = ((amount + cost, level) for amount, level in paid if (cost := value_at(rest, level)) is not None)
    return min(costs)[1]


def _levels(rest: Curve, first: int, last: int, cap: int | None) -> Iterator[int]:
    """Give the levels from first to last, none above a cap, of which one is the best for whatever unit price."""
    last = last if cap is None else min(last, cap)
    yield from (each for each in (first, *ends(rest), last) if first <= each <= last)


def _most_of_least(curve: Curve, most: int, tilt: int) -> int:
    """Give the point up to `most` at which a curve, with tilt × x added, is least; of several the last."""
    points: Iterable[int] = (most, *(each for each in ends(curve) if each <= most))
    return min((cost + tilt * x, -x) for x in points if (cost := value_at(curve, x)) is not None)[1] * -1
