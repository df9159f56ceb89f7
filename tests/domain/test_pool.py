"""What a pool has agreed: which policy counts for a month, and how policies are written down. Own rules."""

import json
from dataclasses import replace
from datetime import date

import pytest

from pool_api.domain.pool import (
    Handle,
    LoanPrice,
    LoansAtClose,
    Member,
    PaymentPlan,
    Policy,
    Pool,
    StockCosting,
    StockFunding,
)
from pool_api.domain.values import Currency, Month

FIRST, FIFO, CARRY = Policy(), Policy(stock_costing=StockCosting.FIFO), Policy(loans_at_close=LoansAtClose.CARRY)
POOL = Pool(
    id="riverside",
    name="Riverside",
    vendor="Norvane",
    currency=Currency("EUR"),
    time_zone="Europe/Vienna",
    began_on=date(2026, 9, 15),
    policies={Month(2027, 1): FIFO, Month(2026, 11): CARRY, Month(2026, 8): FIFO},
)


@pytest.mark.parametrize(
    ("month", "policy"),
    [
        (Month(2026, 9), FIRST),
        (Month(2026, 10), FIRST),
        (Month(2026, 11), CARRY),
        (Month(2026, 12), CARRY),
        (Month(2027, 1), FIFO),
        (Month(2031, 1), FIFO),
    ],
)
def test_the_last_policy_agreed_from_a_month_on_counts_for_it(month: Month, policy: Policy) -> None:
    assert policy == POOL.policy_of(month)


def test_policies_stand_in_the_order_of_their_months_from_the_first_of_the_pool_on() -> None:
    """One agreed for a month before the pool began, while its first day could still change, counts for nothing."""
    assert [(Month(2026, 9), FIRST), (Month(2026, 11), CARRY), (Month(2027, 1), FIFO)] == [*POOL.agreed().items()]


def test_a_policy_is_read_back_as_it_was_written_down() -> None:
    policy = Policy(
        stock_costing=StockCosting.MOVING_AVERAGE,
        loan_price=LoanPrice.LENDER,
        loans_at_close=LoansAtClose.CARRY,
        stock_funding=StockFunding.SHARES,
        payment_plan=PaymentPlan.HUB,
        smallest_payment=500,
    )

    assert policy == Policy.from_json(json.loads(json.dumps(policy.as_json())))


def test_a_rule_that_came_up_later_is_the_usual_one_in_an_older_policy() -> None:
    older = {name: each for name, each in FIFO.as_json().items() if name != "loans_at_close"}

    assert FIFO == Policy.from_json(older)


@pytest.mark.parametrize(
    ("day", "there"),
    [(date(2026, 9, 14), False), (date(2026, 9, 15), True), (date(2026, 10, 2), True), (date(2026, 10, 3), False)],
)
def test_a_member_is_in_the_pool_on_its_first_and_its_last_day(day: date, there: bool) -> None:
    member = Member(code="ALDER", name="Alder", joined_on=date(2026, 9, 15), left_on=date(2026, 10, 2))

    assert there is member.is_in(day)


def test_an_account_is_a_members_until_the_next_one_or_until_it_leaves() -> None:
    member = Member(
        code="ALDER",
        name="Alder",
        joined_on=date(2026, 9, 15),
        handles=(
            Handle(since=date(2026, 11, 1), handle="third"),
            Handle(since=date(2026, 9, 1), handle="first"),
            Handle(since=date(2026, 10, 1), handle="second"),
        ),
    )
    left = replace(member, left_on=date(2026, 10, 20))

    assert [
        ("first", date(2026, 9, 15), date(2026, 9, 30)),
        ("second", date(2026, 10, 1), date(2026, 10, 31)),
        ("third", date(2026, 11, 1), None),
    ] == [*member.accounts()]
    assert [
        ("first", date(2026, 9, 15), date(2026, 9, 30)),
        ("second", date(2026, 10, 1), date(2026, 10, 20)),
    ] == [*left.accounts()]
    assert [] == [*replace(member, handles=()).accounts()]
