"""The sheet against its slow twin, before rounding: amounts are so large that a minor unit is nothing beside them."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from hypothesis import given

from pool_api.domain.entries import Entry, Outside, Purchase
from pool_api.domain.pool import LoanPrice, Policy
from tests.domain.journals import Wish, accepted, policies, sheet_of, shops, under, wishes
from tests.domain.slow_twin import Twin, worth

GRAIN = 10**12
"""How much larger amounts are made than those that shops pay."""

ROUNDINGS = 100
"""How many minor units the roundings of a month can make; each makes less than one."""


def enlarged(entries: Iterable[Entry]) -> list[Entry]:
    return [
        replace(each, body=replace(each.body, amount=each.body.amount * GRAIN))
        if isinstance(each.body, Purchase | Outside)
        else each
        for each in entries
    ]


@given(asked=wishes(30, reversals=False), policy=policies)
def test_every_single_credit_costs_what_the_sheet_says(*, asked: list[Wish], policy: Policy) -> None:
    entries = enlarged(accepted(None, asked, under(policy), in_order=True).entries)
    sheet = sheet_of(entries, policy, shops())
    lent = (*sheet.loans_settled, *sheet.loans_carried)
    by_lender = policy.loan_price is LoanPrice.LENDER
    twin = Twin(policy.stock_costing, {each.lender: each.unit_price or Fraction() for each in lent if by_lender})
    twin.play(each.body for each in entries)

    assert (twin.price() if twin.bought else None) == sheet.price
    assert len(twin.stock) == sheet.stock.closing.quantity
    assert abs(worth(twin.stock) - sheet.stock.closing.cost) < ROUNDINGS
    for member in sheet.members:
        assert len(twin.own[member.member]) == member.closing.quantity
        assert abs(twin.draws.get(member.member, Fraction()) - member.draws.cost) < ROUNDINGS
        assert abs(worth(twin.own[member.member]) - member.closing.cost) < ROUNDINGS
    for lender, price in twin.prices.items():
        assert abs(twin.means[lender] - price) < ROUNDINGS, "the price is what the lender's own credits cost"
