"""Order plans: published and hand-worked cases, limits that fail, ties, and what explains a plan."""

import random
from fractions import Fraction

import pytest

from pool_api.domain.errors import NeedNotMet, PlanUnfit
from pool_api.domain.planning import MOST_MONTHS, Opening, Setting, Unmet, Waiting, best_plan, outlook
from pool_api.domain.planning.curves import Curve, falling, least_in_window, lower, value_at
from pool_api.domain.values import Month
from tests.domain.plans import JANUARY, by_solver, ladder, orders_of, setting, whole

TIERS = [(1, 150), (100, 135), (250, 120), (500, 100)]
NEEDS = [120, 80, 150, 60, 90, 200]


class TestPublished:
    """Dynamic lot sizes without discounts, as in the tests of stockpyl (tests/test_wagner_whitin.py, commit 02802568);
    problems of Snyder & Shen, Fundamentals of Supply Chain Theory, ch. 3. The price of a credit is 0."""

    @pytest.mark.parametrize(
        ("needs", "order_cost", "holding", "orders", "total"),
        [
            ([90, 120, 80, 70], 500, 2, [210, 0, 150, 0], 1_380),  # example 3.9
            ([150, 100, 80, 200], 1_200, 8, [150, 180, 0, 200], 4_240),  # problem 3.27, in tenths
            ([730, 580, 445, 650, 880], 1_000, 1, [1310, 0, 1095, 0, 880], 4_230),  # problem 3.29, in tenths
            ([200, 200, 200, 200, 200], 1_000, 1, [400, 0, 600, 0, 0], 2_800),  # the scalar case, in tenths
        ],
    )
    def test_lot_sizes(self, needs: list[int], order_cost: int, holding: int, orders: list[int], total: int) -> None:
        plan = best_plan(setting(needs, [(1, 0)], order_cost=order_cost, holding=holding))

        assert (orders, total) == (orders_of(plan), whole(plan.total))

    def test_a_year_of_uneven_needs(self) -> None:
        """Numerical example of Silver, Pyke & Peterson, Inventory Management and Production Planning and Scheduling:
        inputs as on slideshare.net, exercise problems for chapter 5 (54.00 an order, 0.02 of 20.00 a month); the
        optimum of 501.20 from memory, and HiGHS finds it too."""
        needs = [10, 62, 12, 130, 154, 129, 88, 52, 124, 160, 238, 41]
        asked = setting(needs, [(1, 0)], order_cost=5_400, holding=40)
        plan = best_plan(asked)

        assert ([84, 0, 0, 130, 283, 0, 140, 0, 124, 160, 279, 0], 50_120) == (orders_of(plan), whole(plan.total))
        assert 50_120 == by_solver(asked)

    def test_a_limit_on_each_order(self) -> None:
        """Winston, Introduction to Probability Models, ch. 6, example 4, with its solution as matsim-up/teaching-up
        prints it (productionPlanning/README.md, commit 012d63f6): 3.00 an order, 1.00 a unit, 0.50 to keep one a month,
        at most 5 units at a time, which here is a limit of 8.00 on cash; the cap on its stock isn't reached."""
        plan = best_plan(setting([1, 3, 2, 4], [(1, 100)], order_cost=300, holding=50, cash=800))

        assert ([1, 5, 0, 4], 2_000) == (orders_of(plan), whole(plan.total))


class TestWorked:
    """Own cases, found with a prototype and an integer program before this code was written."""

    @pytest.mark.parametrize(
        ("holding", "expiry", "orders", "total"),
        [
            (2, None, [700, 0, 0, 0, 0, 0], 73_840),
            (2, 3, [350, 0, 0, 350, 0, 0], 85_740),
            (8, 2, [120, 100, 190, 0, 290, 0], 92_390),
            (10**4, None, NEEDS, 97_950),
        ],
    )
    def test_half_a_year(self, holding: int, expiry: int | None, orders: list[int], total: int) -> None:
        plan = best_plan(setting(NEEDS, TIERS, holding=holding, expiry=expiry))

        assert (orders, total) == (orders_of(plan), whole(plan.total))

    def test_four_months_with_a_cost_for_each_order(self) -> None:
        plan = best_plan(setting([30, 40, 150, 60], [(1, 1_000), (50, 900), (200, 750)], order_cost=500, holding=10))

        assert ([280, 0, 0, 0], 215_700) == (orders_of(plan), whole(plan.total))
        assert (210_000, 500, 5_200) == (whole(plan.ordered), plan.ordering, whole(plan.holding))

    def test_what_is_at_hand_is_used_first(self) -> None:
        plan = best_plan(setting([30, 40], [(1, 100)], opening=50, holding=1))

        assert ([0, 20], 2_000 + 20) == (orders_of(plan), whole(plan.total))
        assert 0 == plan.unused

    def test_more_than_is_needed_at_hand_is_unused(self) -> None:
        plan = best_plan(setting([30, 40], [(1, 100)], opening=75, holding=1))

        assert ([0, 0], 40, 5) == (orders_of(plan), whole(plan.total), plan.unused)
        assert plan.next_order is None

    def test_what_is_at_hand_counts_as_bought_in_the_first_month(self) -> None:
        plan = best_plan(setting([30, 40, 50], [(1, 100)], opening=100, expiry=2))

        assert ([0, 0, 50], 30) == (orders_of(plan), plan.unused)

    def test_a_larger_order_that_costs_less_leaves_a_surplus(self) -> None:
        plan = best_plan(setting([98], TIERS, holding=5))

        assert ([100], 2, 13_500) == (orders_of(plan), plan.months[0].surplus, whole(plan.total))

    def test_orders_are_by_the_ladder_of_their_month(self) -> None:
        dear, cheap = ladder([(1, 300)]), ladder([(1, 100)], valid_from=JANUARY.next().first)

        rising = best_plan(setting([10, 10], [cheap, dear], holding=1))
        falling_ = best_plan(setting([10, 10], [dear, cheap], holding=1))

        assert ([20, 0], [10, 10]) == (orders_of(rising), orders_of(falling_))

    def test_of_plans_that_cost_the_same_the_one_that_orders_less_at_first(self) -> None:
        assert [10, 10, 10] == orders_of(best_plan(setting([10, 10, 10], [(1, 100)])))

    def test_nothing_needed_is_nothing_ordered(self) -> None:
        plan = best_plan(setting([0, 0], TIERS))

        assert ([0, 0], 0) == (orders_of(plan), whole(plan.total))


class TestLimits:
    def test_a_cash_limit_splits_an_order(self) -> None:
        plan = best_plan(setting([100, 100], [(1, 100), (150, 80)], cash=11_000))

        assert [100, 100] == orders_of(plan)

    def test_a_cash_limit_counts_the_cost_of_the_order(self) -> None:
        with pytest.raises(NeedNotMet) as refused:
            best_plan(setting([100], [(1, 100)], cash=10_000, order_cost=1))
        assert ("2026-01", 100, 99, ["cash limit"]) == told(refused.value)

    def test_a_cap_on_stock(self) -> None:
        plan = best_plan(setting([60, 60, 60], [(1, 100), (100, 50)], cap=100))

        assert ([100, 20, 100], 12_000) == (orders_of(plan), whole(plan.total))

    def test_what_is_at_hand_may_be_above_the_cap(self) -> None:
        assert [0, 0, 10] == orders_of(best_plan(setting([60, 60, 40], [(1, 100)], opening=150, cap=40)))

    def test_the_first_month_and_limit_that_fail_are_named(self) -> None:
        with pytest.raises(NeedNotMet) as refused:
            best_plan(setting([10, 10, 50, 90], [(1, 100)], cap=40, cash=100_000, expiry=2))
        assert ("2026-03", 50, 40, ["stock cap"]) == told(refused.value)
        assert (
            "No plan meets the need of 2026-03, 50 credits: there can be 40 at the most. In the way: stock cap."
            == str(refused.value)
        )

    def test_limits_that_are_in_the_way_only_together_are_all_named(self) -> None:
        with pytest.raises(NeedNotMet) as refused:
            best_plan(setting([0, 0, 200], [(1, 100)], cap=150, cash=10_000))
        assert ("2026-03", 200, 150, ["stock cap"]) == told(refused.value)
        with pytest.raises(NeedNotMet) as refused:
            best_plan(setting([0, 0, 200], [(1, 100)], expiry=1, cash=10_000, cap=150))
        assert ("2026-03", 200, 100, ["cash limit", "stock cap", "expiry"]) == told(refused.value)

    def test_a_smallest_order_that_no_cash_is_enough_for(self) -> None:
        with pytest.raises(NeedNotMet) as refused:
            best_plan(setting([5], [(50, 100)], cash=4_999))
        assert ("2026-01", 5, 0, ["cash limit"]) == told(refused.value)


def told(refusal: NeedNotMet) -> tuple[str, int, int, list[str]]:
    return refusal.month, refusal.need, refusal.most, refusal.limits


class TestOutlook:
    def test_the_next_order_says_what_it_covers_and_what_waiting_costs(self) -> None:
        found = outlook(setting(NEEDS, TIERS, holding=2, expiry=3, opening=130))
        following = found.plan.next_order

        assert following
        assert following.order
        assert (Month(2026, 2), 10) == (following.month, following.opening)
        assert Waiting(cost=None, missing=70) == found.waiting

    def test_an_order_before_it_is_needed_can_wait_at_a_cost(self) -> None:
        dearer = ladder([(1, 110)], valid_from=JANUARY.next().first)
        found = outlook(setting([10, 20], [ladder([(1, 100)]), dearer], opening=10, holding=1))

        assert ([20, 0], Month(2026, 2)) == (orders_of(found.plan), found.covers)
        assert Waiting(cost=Fraction(20 * 110 - 20 * 100 - 20), missing=0) == found.waiting

    def test_without_an_order_there_is_nothing_to_wait_with(self) -> None:
        found = outlook(setting([10], TIERS, opening=10))

        assert (None, None) == (found.waiting, found.covers)

    def test_other_needs_may_not_be_met(self) -> None:
        found = outlook(setting([95], [(1, 100)], cap=100))

        less, more = found.others
        assert not isinstance(less, Unmet)
        assert [76] == orders_of(less)
        assert Unmet(month=JANUARY, need=114, most=100, limits=("stock cap",)) == more


class TestSettings:
    @pytest.mark.parametrize(
        ("needs", "reason"),
        [
            ((), "for 0 months"),
            ((("ALDER", ()),), "for 0 months"),
            ((("ALDER", (1,) * (MOST_MONTHS + 1)),), "for 61 months"),
            ((("ALDER", (1, 2)), ("BIRCH", (1,))), "needs of BIRCH are 1, those of ALDER 2"),
            ((("ALDER", (10**9, 1)),), "above 1000000000 credits"),
            ((("ALDER", (5 * 10**8, 5 * 10**8)),), "it could cost more than 9999999999999.99"),
        ],
    )
    def test_what_cannot_be_planned_for(self, needs: tuple[tuple[str, tuple[int, ...]], ...], reason: str) -> None:
        with pytest.raises(PlanUnfit, match=reason):
            Setting(first_month=JANUARY, needs=needs, opening=Opening(quantity=0), ladders=(ladder([(1, 10**7)]),))

    def test_needs_are_those_of_all_members(self) -> None:
        asked = Setting(
            first_month=Month(2026, 12),
            needs=(("ALDER", (1, 2)), ("BIRCH", (10, 20))),
            opening=Opening(quantity=0),
            ladders=(ladder(TIERS),) * 2,
        )

        assert ((11, 22), (Month(2026, 12), Month(2027, 1))) == (asked.totals, asked.months)
        assert (("ALDER", (1, 2)), ("BIRCH", (12, 24))) == asked.scaled_needs(Fraction(6, 5)).needs


class TestCurves:
    """Each operation beside the same over a table of every point."""

    @staticmethod
    def curve(chance: random.Random) -> Curve:
        pieces, at = [], chance.randint(-3, 3)
        for _ in range(chance.randint(1, 5)):
            at += chance.choice([0, 0, 1, 3])
            length = chance.randint(1, 5)
            pieces.append((at, at + length - 1, chance.randint(-9, 9), chance.randint(-3, 3)))
            at += length
        return tuple(pieces)

    @staticmethod
    def least(values: list[int | None]) -> int | None:
        return min((each for each in values if each is not None), default=None)

    def test_what_is_impossible_everywhere_stays_so(self) -> None:
        assert () == falling((), 5) == lower((), ()) == least_in_window((), 1, 2, 5)

    @pytest.mark.parametrize("seed", range(300))
    def test_point_by_point(self, seed: int) -> None:
        chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
        one, other = self.curve(chance), self.curve(chance)
        nearest = chance.randint(0, 4)
        farthest = nearest + chance.randint(0, 6)
        both, sunk = lower(one, other), falling(one, 30)
        moving = least_in_window(one, nearest, farthest, 40)
        for x in range(-8, 41):
            assert self.least([value_at(one, x), value_at(other, x)]) == value_at(both, x)
            window = [value_at(one, each) for each in range(x + nearest, x + farthest + 1)]
            assert x < 0 or self.least(window) == value_at(moving, x)
            before = [value_at(one, each) for each in range(-8, x + 1)]
            assert x > 30 or self.least(before) == value_at(sunk, x)
