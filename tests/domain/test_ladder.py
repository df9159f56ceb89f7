"""The price ladder: what orders cost, where more costs less, what is unlawful.

Published cases are of discounts on all units; their figures are from CHECKS of the trade's textbooks, the source named
beside each. Where a source is from memory, it says so."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.errors import AmountOutOfRange, LadderUnlawful
from pool_api.domain.ladder import MOST_TIERS, Ladder, Tier, valid_on
from pool_api.domain.values import Currency
from tests.domain.plans import EUR, ladder, whole

TIERS = ladder([(1, 150), (100, 135), (250, 120), (500, 100)])
"""Own ladder; what orders cost by it is worked by hand."""


def cost(quantity: int, by: Ladder = TIERS) -> Fraction | None:
    order = by.order(quantity)
    return order.cost if order else None


class TestCosts:
    @pytest.mark.parametrize(
        ("quantity", "amount"),
        [(1, 150), (99, 14_850), (100, 13_500), (249, 33_615), (250, 30_000), (499, 59_880), (500, 50_000)],
    )
    def test_an_order_is_priced_as_a_whole_by_the_tier_that_its_size_falls_in(self, quantity: int, amount: int) -> None:
        assert amount == cost(quantity)

    def test_below_the_smallest_order_there_is_no_price(self) -> None:
        least = ladder([(25, 150), (100, 135)])

        assert 25 == least.least
        assert [None, Fraction(3_750)] == [cost(24, least), cost(25, least)]
        assert 25 == least.cheapest(3).quantity
        assert () == least.cheaper(24)

    def test_what_would_cost_more_than_any_amount_has_no_price(self) -> None:
        dear = ladder([(1, 10**10), (1_000, 10**9)])

        assert [Fraction(10**15 - 10**9), None] == [cost(999_999, dear), cost(1_000_000, dear)]
        with pytest.raises(AmountOutOfRange):
            dear.cheapest(1_000_000)

    def test_parts_of_a_cent_are_exact(self) -> None:
        fine = replace(TIERS, tiers=(Tier(1, "7.066667"),))

        assert Fraction(7_066_667 * 3, 10_000) == cost(3, fine)

    @pytest.mark.parametrize(
        ("need", "bought", "amount"),
        [
            (90, 90, 13_500),  # the same as 100 would cost: the smaller one
            (99, 100, 13_500),
            (222, 222, 29_970),
            (223, 250, 30_000),
            (416, 416, 49_920),
            (417, 500, 50_000),
            (430, 500, 50_000),
            (501, 501, 50_100),
        ],
    )
    def test_the_cheapest_order_for_a_need(self, need: int, bought: int, amount: int) -> None:
        found = TIERS.cheapest(need)

        assert (bought, amount) == (found.quantity, whole(found.cost))

    @pytest.mark.parametrize(
        ("need", "bought", "amount"),
        [
            (44, 44, 44_000),
            (45, 45, 45_000),
            (46, 50, 45_000),
            (166, 166, 149_400),
            (167, 200, 150_000),
            (260, 260, 195_000),
        ],
    )
    def test_the_cheapest_order_by_another_ladder(self, need: int, bought: int, amount: int) -> None:
        found = ladder([(1, 1_000), (50, 900), (200, 750)]).cheapest(need)

        assert (bought, amount) == (found.quantity, whole(found.cost))

    def test_two_more_credits_cost_less_in_total(self) -> None:
        assert [(100, 13_500)] == [(each.quantity, whole(each.cost)) for each in TIERS.cheaper(98)]
        assert [(500, 50_000)] == [(each.quantity, whole(each.cost)) for each in TIERS.cheaper(498)]
        assert () == TIERS.cheaper(90)

    def test_each_larger_order_given_costs_less_than_those_before_it(self) -> None:
        steep = ladder([(1, 100), (10, 80), (12, 60), (15, 47)])

        assert [(10, 800), (12, 720), (15, 705)] == [(each.quantity, whole(each.cost)) for each in steep.cheaper(9)]


class TestPublished:
    """With D credits a year, K an order and i of a credit's price a year for keeping one, orders of Q cost
    c·D + K·D/Q + i·c·Q/2 a year, c what each credit of an order of Q costs."""

    @staticmethod
    def a_year(by: Ladder, quantity: int, demand: int, order_cost: int, rate: Fraction) -> Fraction:
        order = by.order(quantity)
        assert order
        unit = order.cost / quantity
        return (unit * demand + Fraction(100 * order_cost * demand, quantity) + rate * unit * quantity / 2) / 100

    @pytest.mark.parametrize(
        ("prices", "demand", "order_cost", "rate", "figures"),
        [
            # Snyder & Shen, Fundamentals of Supply Chain Theory, example 3.6, as in the tests of stockpyl 1.0.2: the
            # optimum 978.60 at 800; the others recomputed. Priced tier by tier it would be 304 (example 3.7), which
            # costs 1,043.41 either way.
            ([(1, 75), (400, 72), (800, 68)], 1_300, 8, "0.3", {304: "1043.4105", 400: "1005.20", 800: "978.60"}),
            # Heizer & Render, Wohl's discount stores; inputs as on quesba.com 48672, results from memory, recomputed
            (
                [(1, 500), (1_000, 480), (2_000, 475)],
                5_000,
                49,
                "0.2",
                {1_000: "24725", 2_000: "24822.5", 700: "25700"},
            ),
            # Nahmias, Weighty Trash Bag Company; from memory, recomputed
            ([(1, 30), (500, 29), (1_000, 28)], 600, 8, "0.2", {400: "204", 500: "198.1", 1_000: "200.8"}),
        ],
    )
    def test_what_orders_cost_a_year(
        self, prices: list[tuple[int, int]], demand: int, order_cost: int, rate: str, figures: dict[int, str]
    ) -> None:
        by = ladder(prices)
        found = {size: self.a_year(by, size, demand, order_cost, Fraction(rate)) for size in figures}
        best = min(range(1, 3_000), key=lambda size: self.a_year(by, size, demand, order_cost, Fraction(rate)))

        assert {size: Fraction(amount) for size, amount in figures.items()} == {
            size: round(amount, 4) for size, amount in found.items()
        }
        assert min(found, key=lambda size: found[size]) == best


class TestLawful:
    @pytest.mark.parametrize(
        ("tiers", "reason"),
        [
            ((), "0 tiers"),
            (tuple(Tier(at + 1, "1") for at in range(MOST_TIERS + 1)), f"{MOST_TIERS + 1} tiers"),
            ((Tier(0, "1"),), "can't begin at 0"),
            ((Tier(10**9 + 1, "1"),), "can't begin at 1000000001"),
            ((Tier(1, "2"), Tier(1, "1")), "from 1 stands after the one from 1"),
            ((Tier(5, "2"), Tier(4, "1")), "from 4 stands after the one from 5"),
            ((Tier(1, "-1"),), "-1 is not a unit price"),
            ((Tier(1, "1.1234567"),), "1.1234567 is not a unit price"),
            ((Tier(1, "1e3"),), "1e3 is not a unit price"),
            ((Tier(1, "1"), Tier(10**9, "10000.01")), "an order of 1000000000 would cost more than any amount"),
        ],
    )
    def test_what_is_no_ladder(self, tiers: tuple[Tier, ...], reason: str) -> None:
        with pytest.raises(LadderUnlawful, match=reason):
            Ladder(valid_from=date(2026, 1, 1), currency=EUR, tiers=tiers)

    def test_prices_need_not_fall_but_it_is_said(self) -> None:
        odd = ladder([(5, 100), (10, 100), (20, 90), (30, 95)])

        assert (
            "from 10 a credit costs 1.00, no less than 1.00 before",
            "from 30 a credit costs 0.95, no less than 0.90 before",
            "orders of fewer than 5 credits have no price",
        ) == odd.doubts()
        assert () == TIERS.doubts()

    def test_the_last_ladder_that_has_begun_counts(self) -> None:
        first, second = replace(TIERS, valid_from=date(2026, 7, 1)), replace(TIERS, valid_from=date(2026, 10, 1))

        assert [None, first, first, second] == [
            valid_on([second, first], day)
            for day in (date(2026, 6, 30), date(2026, 7, 1), date(2026, 9, 30), date(2026, 10, 1))
        ]

    def test_amounts_are_of_the_currency(self) -> None:
        yen = replace(TIERS, currency=Currency("JPY"))

        assert 500 * 1 == cost(500, yen)


steps = st.lists(st.tuples(st.integers(1, 12), st.integers(0, 20)), min_size=1, max_size=5)


@given(steps, st.integers(1, 60))
def test_no_order_of_at_least_a_need_costs_less_and_none_of_the_same_cost_is_smaller(
    widths: list[tuple[int, int]], need: int
) -> None:
    tiers, at = [], 0
    for width, price in widths:
        at += width
        tiers.append((at, price))
    by = ladder(tiers)
    tried = [(order.cost, size) for size in range(need, at + need + 1) if (order := by.order(size))]
    found = by.cheapest(need)

    assert min(tried) == (found.cost, found.quantity)
    asked = by.order(need)
    if asked:
        less = [size for paid, size in sorted(tried, key=lambda each: each[1]) if paid < asked.cost]
        assert less[:1] == [order.quantity for order in by.cheaper(need)][:1]
