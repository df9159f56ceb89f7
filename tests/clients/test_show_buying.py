"""What people are shown of ladders, orders and plans."""

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

from pool_client import show_buying
from pool_client.calls import buying
from pool_client.calls.call import Answer, Call
from pool_client.models.buying import OtherNeeds, PlanOpening, PlanSaving, Waiting
from pool_client.table import Table, plain

from tests.clients.document import OPERATIONS, answer_schema, sample
from tests.clients.samples import DAY


def given(call: Call[Any]) -> Any:
    """Give what a call would give of a service that says all it can."""
    told = sample(answer_schema(OPERATIONS[call.method, call.path]) or {}, full=True)
    return call.understand(Answer(status=200, headers={"etag": '"3"'}, content=json.dumps(told).encode()))


def lines(tables: list[Table]) -> str:
    return "\n".join(line for table in tables for line in plain(table))


PLAN = given(buying.order_plan("riverside", plan_id="00000003"))
PRICE = given(buying.order_price("riverside", quantity=48))
LADDER = given(buying.ladder("riverside", valid_from=DAY)).value


def test_a_ladder_has_its_doubts() -> None:
    assert "Doubt: from 10 a credit costs more." in lines(
        show_buying.ladders([replace(LADDER, doubts=("from 10 a credit costs more",))])
    )


def test_no_ladder_is_said_as_such() -> None:
    assert "Price ladders" == lines(show_buying.ladders([]))


def test_a_version_without_tiers_withdrew_its_ladder() -> None:
    (version,) = given(buying.ladder_versions("riverside", valid_from=DAY)).items

    assert "Withdrawn." in lines(show_buying.versions([replace(version, tiers=None)]))
    assert "Withdrawn." not in lines(show_buying.versions([version]))


def test_what_more_credits_would_save_is_said() -> None:
    (cheaper,) = PRICE.cheaper
    found = replace(PRICE, quantity=48, cheaper=(replace(cheaper, more=2, saves=Decimal("15.40")),))

    assert "2 more credits would cost 15.40 less in total." in lines(show_buying.order_price(found))
    assert "would cost" not in lines(show_buying.order_price(replace(PRICE, cheaper=())))


def test_below_the_smallest_order_there_is_no_price() -> None:
    found = replace(PRICE, quantity=3, order=None, cheaper=())

    assert "Orders of 3 have no price; the smallest one that is sold is shown." in lines(show_buying.order_price(found))


def test_a_purchase_without_a_ladder_has_dashes() -> None:
    (check,) = given(buying.purchase_checks("riverside", month="2026-11")).items
    bare = replace(check, order=None, difference=None, undone=0, order_number=None)

    assert 5 == lines(show_buying.purchase_checks([bare])).count("–")


def test_waiting_costs_or_is_impossible() -> None:
    def said(waiting: Waiting) -> str:
        return lines(show_buying.order_plan(replace(PLAN, next_order=replace(PLAN.next_order, waiting=waiting))))

    month = PLAN.next_order.month
    assert f"Ordering nothing in {month} would cost 12.50 more, at the least." in said(
        Waiting(missing=0, cost=Decimal("12.50"))
    )
    assert f"It can't wait: 70 credits would be missing in {month}." in said(Waiting(missing=70))
    assert "It can't wait: a later need could no longer be met within the limits." in said(Waiting(missing=0))


def test_where_what_is_at_hand_is_from() -> None:
    found = replace(PLAN, unused=7, opening=PlanOpening(quantity=90, entry=15, stock=60, held=30))

    assert "At hand: 90 credits as of entry 15, 60 in stock and 30 with members." in lines(
        show_buying.order_plan(found)
    )
    assert "Of these 7 are used by no need in time." in lines(show_buying.order_plan(found))
    stated = replace(PLAN, unused=0, opening=PlanOpening(quantity=90))
    assert "At hand: 90 credits, as stated." in lines(show_buying.order_plan(stated))
    assert "by no need" not in lines(show_buying.order_plan(stated))


def test_nothing_to_order_is_said_as_such() -> None:
    assert "Nothing has to be ordered." in lines(show_buying.order_plan(replace(PLAN, next_order=None)))


def test_needs_that_cannot_be_met_are_told_with_what_is_in_the_way() -> None:
    unmet = OtherNeeds(percent=120, state="unmet", month="2027-01", need=240, most=90, limits=("stock cap",))
    planned = OtherNeeds(percent=80, state="planned", total=Decimal("12.00"))
    said = lines(show_buying.order_plan(replace(PLAN, other_needs=(planned, unmet))))

    assert "2027-01: 240 can't be met (stock cap)" in said
    assert "80 %" in said


def test_who_would_do_better_alone_is_named() -> None:
    good, bad = (
        PlanSaving(member=member, need=9, at_hand=0, alone=Decimal(alone), share=Decimal("50.00"), saving=Decimal(more))
        for member, alone, more in (("ALDER", "80.00", "30.00"), ("BIRCH", "49.00", "-1.00"))
    )

    said = lines(show_buying.plan_savings([good, bad]))
    assert "Together 100.00, alone 129.00: saves 29.00." in said
    assert "Better off alone: BIRCH." in said
    assert "Better off alone" not in lines(show_buying.plan_savings([good]))
