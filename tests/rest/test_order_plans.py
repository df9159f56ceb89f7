"""Order plans through the client: made from what the book has, kept as they were, read by everyone. Own cases."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client.errors import Missing, NotAllowed, Refused
from pool_client.models.buying import Needs, OrderPlan, Tier, Waiting
from pool_client.models.entries import Draw, Purchase

from tests.served import Served

FIRST = date(2026, 9, 1)
NEEDS = [Needs(member="ALDER", credits=(20, 30, 100, 40)), Needs(member="BIRCH", credits=(10, 10, 50, 20))]
COSTS: dict[str, Any] = {"order_cost": Decimal("5.00"), "holding_cost": Decimal("0.10")}


def d(amount: str) -> Decimal:
    return Decimal(amount)


@pytest.fixture
def laddered(service: Served) -> Served:
    """A pool with a ladder: 1: 10.00, 50: 9.00, 200: 7.50."""
    steps = ((1, "10.00"), (50, "9.00"), (200, "7.50"))
    made = tuple(Tier(from_credits=quantity, unit_price=d(price)) for quantity, price in steps)
    service.book().put_ladder(made, valid_from=FIRST)
    return service


def ordered(plan: OrderPlan) -> list[int]:
    return [each.order.quantity if each.order else 0 for each in plan.months]


class TestMaking:
    def test_the_cheapest_plan_with_the_next_order_on_top(self, laddered: Served) -> None:
        plan = laddered.book().plan_orders(NEEDS, **COSTS)

        assert ([280, 0, 0, 0], d("2157.00")) == (ordered(plan), plan.costs.total)
        assert (d("2100.00"), d("5.00"), d("52.00")) == (plan.costs.credits, plan.costs.ordering, plan.costs.holding)
        assert plan.next_order
        assert ("2026-11", "2027-02") == (plan.next_order.month, plan.next_order.covers_through)
        assert (280, 200, d("7.50"), d("2100.00")) == (
            plan.next_order.order.quantity, plan.next_order.order.from_credits,
            plan.next_order.order.unit_price, plan.next_order.order.amount,
        )  # fmt: skip
        assert Waiting(missing=30) == plan.next_order.waiting
        assert ("2026-11", "2027-02", 280) == (plan.first_month, plan.last_month, plan.need)
        assert [(250, d("25.00")), (210, d("21.00")), (60, d("6.00")), (0, d("0.00"))] == [
            (each.closing, each.holding) for each in plan.months
        ]

    def test_needs_a_fifth_off_either_way(self, laddered: Served) -> None:
        less, more = laddered.book().plan_orders(NEEDS, **COSTS).other_needs

        assert (80, "planned", 224) == (less.percent, less.state, less.order and less.order.quantity)
        assert (120, "planned", 336) == (more.percent, more.state, more.order and more.order.quantity)

    def test_all_that_the_pool_has_is_at_hand(self, laddered: Served) -> None:
        book = laddered.book()
        book.record(Purchase(paid_by="ALDER", quantity=100, amount=d("900.00")), effective_on=FIRST)
        book.record(Draw(member="BIRCH", quantity=30), effective_on=FIRST)

        plan = book.plan_orders(NEEDS, **COSTS)

        assert (100, 70, 30, 2) == (
            plan.opening.quantity, plan.opening.stock, plan.opening.held, plan.opening.entry,
        )  # fmt: skip
        assert 180 <= sum(ordered(plan)) <= 200
        stated = book.plan_orders(NEEDS, opening=280, **COSTS)
        assert ([0] * 4, None, None) == (ordered(stated), stated.next_order, stated.opening.entry)

    def test_the_order_of_the_needs_changes_nothing(self, laddered: Served) -> None:
        book = laddered.book()
        one, other = (book.plan_orders(each, **COSTS) for each in (NEEDS, NEEDS[::-1]))

        assert (one.needs, one.months) == (other.needs, other.months)

    def test_months_have_the_ladder_that_counts_as_they_begin(self, laddered: Served) -> None:
        book = laddered.book()
        book.put_ladder((Tier(from_credits=1, unit_price=d("2.00")),), valid_from=date(2026, 11, 20))
        book.put_ladder((Tier(from_credits=1, unit_price=d("3.00")),), valid_from=date(2027, 1, 1))

        plan = book.plan_orders(NEEDS, **COSTS)

        days = [FIRST, date(2026, 11, 20), date(2027, 1, 1), date(2027, 1, 1)]
        assert days == [each.ladder for each in plan.months]
        assert [30, 250, 0, 0] == ordered(plan)

    def test_limits_are_kept(self, laddered: Served) -> None:
        plan = laddered.book().plan_orders(NEEDS, stock_cap=160, cash_limit=d("1400.00"), expiry=2, **COSTS)

        assert all(each.opening + quantity <= 160 for each, quantity in zip(plan.months, ordered(plan), strict=True))
        assert all(each.order is None or each.order.amount <= d("1395.00") for each in plan.months)
        assert (160, d("1400.00"), 2) == (plan.stock_cap, plan.cash_limit, plan.expiry)

    def test_fractions_of_a_cent_are_reckoned_exactly(self, laddered: Served) -> None:
        plan = laddered.book().plan_orders(NEEDS, order_cost=d("5.00"), holding_cost=d("0.000125"))

        assert (d("0.07"), d("0.000125")) == (plan.costs.holding, plan.holding_cost)


class TestKeeping:
    def test_a_plan_stays_as_it_was_made_for_everyone(self, laddered: Served) -> None:
        book = laddered.book()
        made = book.plan_orders(NEEDS, **COSTS)
        book.put_ladder(
            (Tier(from_credits=1, unit_price=d("1.00")),), valid_from=FIRST, tag=book.ladder(valid_from=FIRST).tag
        )
        other = book.plan_orders(NEEDS, **COSTS)

        for key in ("keeper", "clerk", "reader"):
            assert made == laddered.book(key).order_plan(plan_id=made.plan_id)
            assert [other.plan_id, made.plan_id] == [each.plan_id for each in laddered.book(key).order_plans(limit=1)]
        assert other.costs.total < made.costs.total

    def test_a_request_that_is_repeated_makes_one_plan(self, laddered: Served) -> None:
        book = laddered.book()
        one = book.plan_orders(NEEDS, idempotency_key="one-plan-only", **COSTS)
        again = book.plan_orders(NEEDS, idempotency_key="one-plan-only", **COSTS)

        assert one == again
        assert 1 == len(list(book.order_plans()))
        with pytest.raises(Refused) as refused:
            book.plan_orders(NEEDS, opening=5, idempotency_key="one-plan-only", **COSTS)
        assert ("key-reused", 422) == (refused.value.code, refused.value.status)

    def test_a_plan_that_is_not_there(self, laddered: Served) -> None:
        with pytest.raises(Missing):
            laddered.book().order_plan(plan_id="00000001")

    @pytest.mark.parametrize("key", ["clerk", "reader"])
    def test_the_keeper_plans(self, laddered: Served, key: str) -> None:
        with pytest.raises(NotAllowed):
            laddered.book(key).plan_orders(NEEDS)


class TestSavings:
    """ALDER needs 190 and BIRCH 90; together 280 in one order for 2,157.00, costs of ordering and keeping included."""

    def test_each_member_s_saving_beside_ordering_alone(self, laddered: Served) -> None:
        made = laddered.book().plan_orders(NEEDS, **COSTS)
        alone = [laddered.book().plan_orders([each], **COSTS).costs.total for each in NEEDS]

        for key in ("keeper", "clerk", "reader"):
            alder, birch = laddered.book(key).plan_savings(plan_id=made.plan_id, limit=1)
            assert ("ALDER", 190, 0, alone[0], d("1463.68")) == (
                alder.member, alder.need, alder.at_hand, alder.alone, alder.share,
            )  # fmt: skip
            assert ("BIRCH", 90, alone[1], d("693.32")) == (birch.member, birch.need, birch.alone, birch.share)
            assert made.costs.total == alder.share + birch.share
            assert alder.saving == alder.alone - alder.share

    def test_of_a_plan_that_is_not_there(self, laddered: Served) -> None:
        with pytest.raises(Missing):
            list(laddered.book().plan_savings(plan_id="00000001"))


class TestRefusing:
    @pytest.mark.parametrize(
        ("needs", "more", "code"),
        [
            ([Needs(member="ELM", credits=(1,))], {}, "unknown-member"),
            ([Needs(member="ALDER", credits=(1,)), Needs(member="BIRCH", credits=(1, 2))], {}, "plan-unfit"),
            ([Needs(member="ALDER", credits=(1,)), Needs(member="ALDER", credits=(2,))], {}, "plan-unfit"),
            ([Needs(member="ALDER", credits=(10**9, 10**9))], {}, "plan-unfit"),
            (NEEDS, {"first_month": "2026-10"}, "plan-unfit"),
            (NEEDS, {"stock_cap": 100}, "need-not-met"),
            (NEEDS, {"order_cost": d("1.001")}, "amount-too-precise"),
        ],
    )
    def test_what_cannot_be_planned_leaves_nothing(
        self, laddered: Served, needs: list[Needs], more: dict[str, Any], code: str
    ) -> None:
        with pytest.raises(Refused) as refused:
            laddered.book().plan_orders(needs, **more)
        assert code == refused.value.code
        assert [] == list(laddered.book().order_plans())

    def test_the_month_and_the_limit_that_fail_are_told(self, laddered: Served) -> None:
        body = {"needs": [{"member": "ALDER", "credits": [10, 90, 200]}], "stock_cap": 90}

        told = laddered.send("POST", "/order-plans", body).json()

        assert (409, "2027-01", 200, 90, ["stock cap"]) == tuple(
            told[name] for name in ("status", "month", "need", "most", "limits")
        )

    def test_without_a_ladder_there_is_no_plan(self, service: Served) -> None:
        with pytest.raises(Refused) as refused:
            service.book().plan_orders(NEEDS)
        assert ("no-ladder", 409) == (refused.value.code, refused.value.status)

    @pytest.mark.parametrize(
        "body",
        [
            {"months": 0},
            {"needs": []},
            {"needs": [{"member": "ALDER", "credits": []}]},
            {"needs": [{"member": "ALDER", "credits": [-1]}]},
            {"needs": [{"member": "ALDER", "credits": [1.5]}]},
            {"needs": [{"member": "ALDER", "credits": [1] * 61}]},
            {"needs": [{"member": "ALDER", "credits": [1]}], "expiry": 0},
            {"needs": [{"member": "ALDER", "credits": [1]}], "holding_cost": "-1"},
            {"needs": [{"member": "ALDER", "credits": [1]}], "cash_limit": 5},
            {"needs": [{"member": "ALDER", "credits": [1]}], "forecast": True},
        ],
    )
    def test_a_request_of_another_form_is_refused(self, laddered: Served, body: dict[str, Any]) -> None:
        told = laddered.send("POST", "/order-plans", body)

        assert (422, "invalid-request") == (told.status_code, told.json()["code"])
