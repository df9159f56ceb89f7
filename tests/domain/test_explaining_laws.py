"""What holds of every explanation of every month, under every policy: it computes to its figure, it rests on figures
and entries that are there, and it never rests on itself."""

from collections.abc import Iterator
from dataclasses import fields
from graphlib import TopologicalSorter
from itertools import chain

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import Json, Opening
from pool_api.domain.explaining import Figures, Origin, Value
from pool_api.domain.explaining.of_loans import lent_anew, name_of
from pool_api.domain.layers import Costed
from pool_api.domain.pool import LoanPrice, LoansAtClose, PaymentPlan, Policy, SavingRule, StockCosting, StockFunding
from pool_api.domain.sheets import Due, MemberSheet, Sheet
from tests.domain.explained import explained_months, recomputed, settlement_of
from tests.domain.journals import Rules, Wish, accepted, openings, under, wishes

policies = st.builds(
    Policy,
    stock_costing=st.sampled_from(StockCosting),
    loan_price=st.sampled_from(LoanPrice),
    loans_at_close=st.sampled_from(LoansAtClose),
    stock_funding=st.sampled_from(StockFunding),
    payment_plan=st.sampled_from(PaymentPlan),
    smallest_payment=st.sampled_from((0, 1, 500, 3_000)),
    no_payments_between=st.sampled_from(((), (("ALDER", "BIRCH"), ("BIRCH", "CEDAR"), ("CEDAR", "DOGWOOD")))),
    saving_rule=st.sampled_from(SavingRule),
)
all_settling = st.builds(under, policies) | st.builds(under, policies, policies, policies)
"""As all_rules, and with every way to settle."""


@given(opening=openings, asked=wishes(75), rules=all_settling, in_order=st.booleans())
def test_every_explanation_computes_to_its_figure(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    journal = accepted(opening, asked, rules, in_order=in_order)
    before: Figures | None = None
    for _, _, figures in explained_months(journal, rules):
        numbers = {each.number for each in journal.entries}
        for name in figures.names(None):
            found = figures.explain(name)
            assert found.value == recomputed(found), found
            for each in found.operands:
                assert numbers.issuperset(each.entries)
                if each.origin is Origin.FIGURE:
                    assert each.figure is not None
                    assert each.value == figures.explain(each.figure).value, (found, each)
                if each.origin is Origin.MONTH_BEFORE and each.figure is not None and each.value:
                    assert before is not None
                    assert each.value == before.explain(each.figure).value, (found, each)
                assert each.origin is not Origin.ENTRIES or each.entries
        before = figures


@given(opening=openings, asked=wishes(75), rules=all_settling)
def test_no_figure_rests_on_itself_but_in_simultaneous_equations(
    *, opening: Opening | None, asked: list[Wish], rules: Rules
) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    for _, _, figures in explained_months(journal, rules):
        rests_on = {
            name: [each.figure for each in figures.explain(name).operands if each.origin is Origin.FIGURE]
            for name in figures.names(None)
        }
        for name in [name for name in rests_on if name.startswith("lending.")]:
            del rests_on[name]
        assert set(rests_on) <= set(TopologicalSorter(rests_on).static_order())


@given(opening=openings, asked=wishes(75), rules=all_settling)
def test_every_number_of_sheet_and_settlement_is_a_figure(
    *, opening: Opening | None, asked: list[Wish], rules: Rules
) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    for sheet, settlement, figures in explained_months(journal, rules):
        said = chain(
            _of_stock(sheet),
            _of_loans(sheet),
            *map(_of_member, sheet.members),
            _of_settlement(settlement_of(sheet, settlement)),
            ((f"warnings.{place}.size", each.size) for place, each in enumerate(sheet.warnings, start=1)),
        )
        for name, value in said:
            assert value is None or value == figures.explain(name).value


def _of_stock(sheet: Sheet) -> Iterator[tuple[str, Value | None]]:
    yield "price", sheet.price
    for part in ("opening", "bought", "back", "withdrawn", "available", "closing"):
        there = getattr(sheet.stock, part)
        yield from ((f"stock.{part}.quantity", there.quantity), (f"stock.{part}.cost", there.cost))
    yield from ((f"entries.{number}.cost", cost) for number, cost in sheet.costs.items())
    for number, shares in sheet.shares.items():
        yield from ((f"entries.{number}.shares.{member}", share) for member, share in shares.items())


def _of_loans(sheet: Sheet) -> Iterator[tuple[str, Value | None]]:
    for each in (*sheet.loans_returned, *lent_anew(sheet)):
        name = name_of(sheet, each)
        yield from ((f"{name}.quantity", each.quantity), (f"{name}.amount", each.amount), (f"{name}.cost", each.cost))
    for left in (*sheet.open_loans, *sheet.carried_settled):
        name = f"left.{left.lender}.{left.borrower}"
        yield from ((f"{name}.quantity", left.quantity), (f"{name}.amount", left.value))
    for each in sheet.loans_agreed:
        yield from ((f"entries.{each.entry}.amount", each.amount), (f"entries.{each.entry}.cost", each.cost))


def _of_settlement(settlement: Json) -> Iterator[tuple[str, Value | None]]:
    for part in ("carried", "small", "nets"):
        yield from ((f"settlement.{part}.{member}", amount) for member, amount in map(dict.values, settlement[part]))
    for place, payment in enumerate(settlement["payments"], start=1):
        yield f"settlement.payments.{place}.amount", payment["amount"]


def _of_member(member: MemberSheet) -> Iterator[tuple[str, Value | None]]:
    for field in fields(member):
        value, name = getattr(member, field.name), f"members.{member.member}.{field.name}"
        if isinstance(value, Costed):
            yield from ((f"{name}.quantity", value.quantity), (f"{name}.cost", value.cost))
        elif isinstance(value, Due):
            yield from ((f"{name}.{line.name}", getattr(value, line.name)) for line in fields(Due))
            yield f"{name}.total", value.total
        elif not isinstance(value, str):
            yield name, value
