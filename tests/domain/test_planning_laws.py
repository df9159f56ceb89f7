"""Laws of order plans, on random settings with all kinds of limits, beside two other ways to the cheapest plan."""

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import settings as how
from hypothesis import strategies as st

from pool_api.domain.errors import NeedNotMet
from pool_api.domain.planning import OrderPlan, Setting, Unmet, best_plan, outlook
from tests.domain.plans import EUR, by_solver, by_trying, orders_of, setting, settings_to_try


def planned(asked: Setting) -> OrderPlan | None:
    try:
        return best_plan(asked)
    except NeedNotMet:
        return None


@given(settings_to_try(months=3, need=4))
@how(max_examples=80)
def test_no_plan_that_can_be_tried_costs_less(asked: Setting) -> None:
    plan = planned(asked)

    assert by_trying(asked) == (plan and plan.total)


@given(settings_to_try(months=6, need=40, tiers=4))
@how(max_examples=40)
def test_no_plan_of_a_general_solver_costs_less(asked: Setting) -> None:
    plan = planned(asked)

    assert by_solver(asked) == (plan and plan.total)


@pytest.mark.parametrize("seed", range(4))
def test_larger_plans_cost_what_a_general_solver_says(seed: int) -> None:
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    needs = [chance.randint(20, 200) for _ in range(9)]
    tiers = [(1, 980), (50, 910), (250, 760), (1000, 640)]
    asked = setting(
        needs,
        tiers,
        opening=chance.randint(0, 150),
        order_cost=chance.choice([0, 2_500]),
        holding=chance.choice([2, 10]),
        expiry=chance.choice([None, 4, 6]),
        cash=chance.choice([None, 400_000]),
        cap=chance.choice([None, 600]),
    )

    assert by_solver(asked) == best_plan(asked).total


@given(settings_to_try(months=8, need=60, tiers=5))
def test_a_plan_adds_up_and_keeps_its_limits(asked: Setting) -> None:
    plan = planned(asked)
    if plan is None:
        return
    kept = asked.opening.quantity - plan.unused
    for at, each in enumerate(plan.months):
        ordered = each.order.quantity if each.order else 0
        assert (kept, asked.totals[at]) == (each.opening, each.need)
        assert each.closing == each.opening + ordered - each.need - each.surplus
        assert min(each.closing, each.surplus, each.opening) >= 0
        if each.order:
            assert asked.ladders[at].order(ordered) == each.order
            assert asked.stock_cap is None or each.opening + ordered <= asked.stock_cap
            assert asked.cash_limit is None or each.order.cost + asked.order_cost <= asked.cash_limit
        good = len(asked.totals) if asked.expiry is None else asked.expiry
        assert each.closing <= sum(asked.totals[at + 1 : at + good])
        kept = each.closing
    assert 0 == kept
    assert plan.holding == EUR.unit_price(asked.holding_cost) * sum(each.closing for each in plan.months)


@given(settings_to_try(months=6, need=30))
def test_the_same_setting_gives_the_same_plan_and_is_read_back_as_it_was_kept(asked: Setting) -> None:
    again = Setting.from_json(asked.as_json())

    assert asked == again
    assert planned(asked) == planned(again)


@given(settings_to_try(months=5, need=20), st.integers(1, 20))
def test_more_at_hand_and_looser_limits_never_cost_more(asked: Setting, more: int) -> None:
    plan = planned(asked)
    if plan is None:
        return
    opening = replace(asked.opening, quantity=asked.opening.quantity + more)
    looser = [
        replace(asked, opening=opening),
        replace(asked, expiry=asked.expiry and asked.expiry + 1),
        replace(asked, stock_cap=asked.stock_cap and asked.stock_cap + more),
        replace(asked, cash_limit=asked.cash_limit and asked.cash_limit + more),
    ]

    assert all(best_plan(each).total <= plan.total for each in looser)


@given(settings_to_try(months=4, need=15))
def test_prices_in_parts_of_a_cent_are_exact(asked: Setting) -> None:
    coarse = replace(asked, order_cost=0, cash_limit=None)
    fine = replace(
        coarse,
        holding_cost=_hundredth(coarse.holding_cost),
        ladders=tuple(
            replace(each, tiers=tuple(replace(tier, unit_price=_hundredth(tier.unit_price)) for tier in each.tiers))
            for each in coarse.ladders
        ),
    )
    plan, finer = planned(coarse), planned(fine)

    if plan is None or finer is None:
        assert plan is finer
    else:
        assert orders_of(plan) == orders_of(finer)
        assert plan.total == 100 * finer.total


def _hundredth(price: str) -> str:
    return f"{Decimal(price) / 100:.4f}"


@given(settings_to_try(months=4, need=6))
def test_what_fails_first_is_named_and_goes_away_with_its_limits(asked: Setting) -> None:
    if planned(asked) is not None:
        return
    with pytest.raises(NeedNotMet) as refused:
        best_plan(asked)
    refusal = refused.value
    at = [str(month) for month in asked.months].index(refusal.month)
    there = replace(asked, ladders=asked.ladders[: at + 1])
    met = replace(there, needs=(("ALDER", (*asked.totals[:at], refusal.most)),))
    one_more = replace(there, needs=(("ALDER", (*asked.totals[:at], refusal.most + 1)),))

    assert asked.totals[at] == refusal.need > refusal.most
    assert planned(met) is not None
    assert asked.expiry is not None or planned(one_more) is None
    assert planned(replace(asked, cash_limit=None, stock_cap=None, expiry=None)) is not None
    assert refusal.limits
    assert set(refusal.limits) <= {"cash limit", "stock cap", "expiry"}


@given(settings_to_try(months=4, need=10))
def test_waiting_costs_what_the_best_of_the_later_months_costs_more(asked: Setting) -> None:
    asked = replace(asked, expiry=None)
    plan = planned(asked)
    if plan is None or plan.next_order is None:
        return
    at, there = plan.months.index(plan.next_order), plan.next_order.opening
    without = [
        (later.total if later else 0) + kept * EUR.unit_price(asked.holding_cost)
        for kept in range(there - asked.totals[at] + 1)
        if (later := _from(asked, at + 1, kept)) or at + 1 == len(asked.totals)
    ]
    best = _from(asked, at, there)

    assert best is not None
    assert plan.waiting == (min(without) - best.total if without else None)
    assert plan.waiting is None or plan.waiting >= 0


def _from(asked: Setting, at: int, opening: int) -> OrderPlan | None:
    """Plan the months from one on."""
    if at == len(asked.totals):
        return None
    needs = (("ALDER", asked.totals[at:]),)
    there = replace(asked.opening, quantity=opening)
    return planned(replace(asked, needs=needs, opening=there, ladders=asked.ladders[at:]))


@given(settings_to_try(months=4, need=30))
def test_other_needs_are_planned_as_if_they_were_asked_for(asked: Setting) -> None:
    if planned(asked) is None:
        return
    for part, other in zip((Fraction(4, 5), Fraction(6, 5)), outlook(asked).others, strict=True):
        expected = planned(asked.scaled_needs(part))
        assert isinstance(other, Unmet) if expected is None else expected == other
