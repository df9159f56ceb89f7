"""Settings of order plans made easily, and two other ways to the cheapest plan: trying all, and a general solver."""

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from functools import cache
from itertools import accumulate

import numpy as np
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from pool_api.domain.ladder import Ladder, Tier
from pool_api.domain.planning import Opening, OrderPlan, Setting
from pool_api.domain.values import Currency, Month

EUR = Currency("EUR")
JANUARY = Month(2026, 1)
Tiers = Sequence[tuple[int, int]]


def ladder(tiers: Tiers, *, valid_from: date = JANUARY.first) -> Ladder:
    """Give the ladder of some tiers (from so many credits, minor units a credit)."""
    made = tuple(Tier(quantity, EUR.text(price)) for quantity, price in tiers)
    return Ladder(valid_from=valid_from, currency=EUR, tiers=made)


def setting(
    needs: Sequence[int],
    tiers: Tiers | Sequence[Ladder],
    *,
    opening: int = 0,
    order_cost: int = 0,
    holding: int = 0,
    expiry: int | None = None,
    cash: int | None = None,
    cap: int | None = None,
) -> Setting:
    """Give a setting with one member's needs; amounts are minor units."""
    ladders = [each for each in tiers if isinstance(each, Ladder)]
    only = [] if ladders else [ladder([each for each in tiers if not isinstance(each, Ladder)])]
    return Setting(
        first_month=JANUARY,
        needs=(("ALDER", tuple(needs)),),
        opening=Opening(quantity=opening),
        ladders=tuple(ladders or only * len(needs)),
        order_cost=order_cost,
        holding_cost=EUR.text(holding),
        expiry=expiry,
        cash_limit=cash,
        stock_cap=cap,
    )


def whole(cost: Fraction) -> int:
    """Give a cost that is of whole minor units."""
    assert cost.denominator == 1
    return cost.numerator


def orders_of(plan: OrderPlan) -> list[int]:
    """Give what a plan orders, by month."""
    return [each.order.quantity if each.order else 0 for each in plan.months]


@st.composite
def settings_to_try(draw: st.DrawFn, *, months: int = 4, need: int = 6, tiers: int = 3) -> Setting:
    """Draw a setting with all kinds of limits, small enough to be tried by hand."""
    count = draw(st.integers(1, months))

    def one_ladder() -> Ladder:
        widths = draw(st.lists(st.integers(1, need), min_size=1, max_size=tiers))
        prices = draw(st.lists(st.integers(0, 12), min_size=len(widths), max_size=len(widths)))
        return ladder(list(zip(accumulate(widths), prices, strict=True)))

    first = one_ladder()
    later = draw(st.integers(0, count))
    second = one_ladder()
    return setting(
        draw(st.lists(st.integers(0, need), min_size=count, max_size=count)),
        [first if at < later else second for at in range(count)],
        opening=draw(st.integers(0, need)),
        order_cost=draw(st.integers(0, 20)),
        holding=draw(st.integers(0, 3)),
        expiry=draw(st.none() | st.integers(1, 3)),
        cash=draw(st.none() | st.integers(0, 12 * need)),
        cap=draw(st.none() | st.integers(0, 3 * need)),
    )


def by_trying(asked: Setting) -> Fraction | None:
    """Give what the cheapest plan costs, by trying every order and every way to leave credits unused, each credit with
    its age; None where no plan meets the needs."""
    needs, holding = asked.totals, EUR.unit_price(asked.holding_cost)
    good = asked.expiry or len(needs)
    most = sum(needs) + max(each.tiers[-1].from_credits for each in asked.ladders)

    @cache
    def from_month(at: int, lots: tuple[int, ...]) -> Fraction | None:
        """Lots are credits by the months that they are still good for, the oldest first."""
        if at == len(needs):
            return Fraction()
        costs = []
        for quantity in range(most + 1):
            order = asked.ladders[at].order(quantity)
            if quantity and (order is None or _forbidden(asked, sum(lots), quantity, order.cost)):
                continue
            paid = asked.order_cost + order.cost if order else Fraction()
            here = (*lots[:-1], lots[-1] + quantity)
            if sum(here) < needs[at]:
                continue
            left = _without(here, needs[at])[1:]
            for unused in range(sum(left) + 1):
                kept = _without(left, unused)
                rest = from_month(at + 1, (*kept, 0))
                if rest is not None:
                    costs.append(paid + holding * sum(kept) + rest)
        return min(costs, default=None)

    begun = [from_month(0, (*[0] * (good - 1), kept)) for kept in range(asked.opening.quantity + 1)]
    return min((each for each in begun if each is not None), default=None)


def _forbidden(asked: Setting, kept: int, quantity: int, cost: Fraction) -> bool:
    too_dear = asked.cash_limit is not None and cost + asked.order_cost > asked.cash_limit
    return too_dear or (asked.stock_cap is not None and kept + quantity > asked.stock_cap)


def _without(lots: tuple[int, ...], taken: int) -> tuple[int, ...]:
    """Take credits out of lots, the oldest first."""
    left = []
    for lot in lots:
        part = min(lot, taken)
        taken -= part
        left.append(lot - part)
    return tuple(left)


def by_solver(asked: Setting, *, patience_s: int = 600) -> int | None:
    """Give what the cheapest plan costs in minor units, by HiGHS; None where no plan meets the needs.

    Its variables say which month's credits are used in which month, so that it knows nothing of levels of stock: one
    for each month, tier and later month, and for each month and tier the size of the order and whether there is one.
    That nothing is used of an order that isn't placed is said for each of them, which lets it prove sooner. When its
    patience ends, what the best plan so far costs."""
    program = _Program(asked)
    solved = milp(
        program.costs,
        constraints=program.constraints(),
        bounds=Bounds(0, program.upper),
        integrality=np.ones(len(program.costs)),
        options={"mip_rel_gap": 0, "time_limit": patience_s},
    )
    return None if solved.x is None else round(solved.fun)


_Name = tuple[str, int, int, int]


class _Program:
    """A setting as an integer program: what of an order is used in a later month, ("use", month, tier, later month),
    the size of an order and whether it is placed. The opening is an order of the month -1."""

    def __init__(self, asked: Setting) -> None:
        self._names: dict[_Name, int] = {}
        self.costs: list[int] = []
        self.upper: list[int] = []
        self._asked = asked
        self._great = sum(asked.totals) + max(each.tiers[-1].from_credits for each in asked.ladders)
        self._rows: list[dict[int, int]] = []
        self._bounds: list[tuple[float, float]] = []
        uses = [self._name_uses(-1, 0)]
        for at, by in enumerate(asked.ladders):
            uses += [self._name_order(at, tier, int(price)) for tier, (_, price) in enumerate(by.steps())]
        self._add(dict.fromkeys(uses[0], 1), 0, asked.opening.quantity)
        for at, need in enumerate(asked.totals):
            self._add({name: 1 for each in uses for name in each if name[3] == at}, need, need)
            self._limit(at, [name for each in uses for name in each if name[1] < at <= name[3]])

    def constraints(self) -> LinearConstraint:
        """Give all rows."""
        at = [(row, column, weight) for row, said in enumerate(self._rows) for column, weight in said.items()]
        rows, columns, weights = zip(*at, strict=True)
        matrix = coo_array((weights, (rows, columns)), shape=(len(self._rows), len(self.costs)))
        return LinearConstraint(matrix, *zip(*self._bounds, strict=True))

    def _name_uses(self, bought: int, tier: int) -> list[_Name]:
        asked, count, first = self._asked, len(self._asked.totals), max(bought, 0)
        holding = int(EUR.unit_price(asked.holding_cost))
        months = range(first, min(count, first + (asked.expiry or count)))
        return [
            self._name(("use", bought, tier, used), holding * (used - first), asked.totals[used]) for used in months
        ]

    def _name_order(self, at: int, tier: int, price: int) -> list[_Name]:
        asked, steps = self._asked, self._asked.ladders[at].steps()
        most = steps[tier + 1][0] - 1 if tier + 1 < len(steps) else self._great
        size = self._name(("size", at, tier, 0), price, self._great)
        placed = self._name(("placed", at, tier, 0), asked.order_cost, 1)
        uses = self._name_uses(at, tier)
        self._add({size: 1, placed: -steps[tier][0]}, 0, np.inf)
        self._add({size: 1, placed: -most}, -np.inf, 0)
        self._add({size: 1, **dict.fromkeys(uses, -1)}, 0, np.inf)
        for use in uses:
            self._add({use: 1, placed: -asked.totals[use[3]]}, -np.inf, 0)
        return uses

    def _limit(self, at: int, kept: list[_Name]) -> None:
        asked, steps, great = self._asked, self._asked.ladders[at].steps(), self._great
        sizes = {("size", at, tier, 0): int(price) for tier, (_, price) in enumerate(steps)}
        placed = [("placed", at, tier, 0) for tier in range(len(steps))]
        self._add(dict.fromkeys(placed, 1), 0, 1)
        if asked.cash_limit is not None:
            self._add({**sizes, **dict.fromkeys(placed, asked.order_cost)}, 0, asked.cash_limit)
        if asked.stock_cap is not None:
            there = dict.fromkeys([*sizes, *kept], 1)
            self._add({**there, **dict.fromkeys(placed, great)}, 0, asked.stock_cap + great)

    def _name(self, name: _Name, cost: int, upper: int) -> _Name:
        self._names[name] = len(self._names)
        self.costs.append(cost)
        self.upper.append(upper)
        return name

    def _add(self, weights: Mapping[_Name, int], least: float, most: float) -> None:
        self._rows.append({self._names[name]: weight for name, weight in weights.items()})
        self._bounds.append((least, most))
