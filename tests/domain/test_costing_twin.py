"""The sheet against its slow twin, before rounding: amounts are so large that a minor unit is nothing beside them."""

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import Entry, Outside, Purchase
from pool_api.domain.pool import Policy, StockCosting
from tests.domain.journals import Wish, accepted, sheet_of, shops, under, wishes
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


@given(asked=wishes(30, reversals=False), costing=st.sampled_from(StockCosting))
def test_every_single_credit_costs_what_the_sheet_says(*, asked: list[Wish], costing: StockCosting) -> None:
    entries = enlarged(accepted(None, asked, under(Policy(stock_costing=costing)), in_order=True).entries)
    sheet = sheet_of(entries, Policy(stock_costing=costing), shops())
    twin = Twin(costing)
    twin.play(each.body for each in entries)

    assert (twin.price() if twin.bought else None) == sheet.price
    assert len(twin.stock) == sheet.stock.closing.quantity
    assert abs(worth(twin.stock) - sheet.stock.closing.cost) < ROUNDINGS
    for member in sheet.members:
        assert len(twin.own[member.member]) == member.closing.quantity
        assert abs(twin.draws.get(member.member, Fraction()) - member.draws.cost) < ROUNDINGS
        assert abs(worth(twin.own[member.member]) - member.closing.cost) < ROUNDINGS
