"""Why a figure is what it is, over HTTP and through the client: the worked example's figures, down to the entries."""

from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import partial

import pytest
from pool_client.errors import Missing, PoolError
from pool_client.models.entries import Charge, Command
from pool_client.models.explanations import Explanation

from tests.rest.test_worked_example import MONTH, record_example
from tests.served import Served

DAY = date(2026, 9, 20)


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


def charge(from_member: str, to_member: str, amount: int) -> Charge:
    return Charge(from_member=from_member, to_member=to_member, amount=Decimal(amount), reason="a joint invoice")


def operands(explanation: Explanation) -> list[tuple[str, str, str | tuple[int, ...] | None]]:
    return [
        (each.role, str(each.value.shown), each.figure or each.name or each.entries) for each in explanation.operands
    ]


def test_a_loan_is_explained_down_to_the_purchases_that_made_its_price(example: Served) -> None:
    found = example.book().explanation(month=MONTH, figure="loans.BIRCH.DOGWOOD.amount")

    chain = {each.figure: each for each in found.items}
    assert "loans.BIRCH.DOGWOOD.amount" == found.items[0].figure
    assert ("98.93 = 7.0667 × 14, rounded half up", "7.0667 = 4,240.00 / 600") == (
        found.items[0].says,
        chain["price"].says,
    )
    assert [("plus", "3450.00", (2,)), ("plus", "790.00", (9,))] == operands(chain["stock.bought.cost"])
    assert ("open", 14) == (found.state, found.computed_at)


def test_what_is_exact_computes_again_without_the_service(example: Served) -> None:
    (found,) = example.book().explanation(month=MONTH, figure="members.DOGWOOD.unit_cost", depth=0).items

    cost, quantity = (Fraction(each.value.exact) for each in found.operands)
    assert Fraction(92_493, 124) == cost / quantity == Fraction(found.value.exact)
    assert "7.4591" == str(found.value.shown)


def test_apportioned_parts_say_what_rounding_left_over(example: Served) -> None:
    (found,) = example.book().explanation(month=MONTH, figure="members.CEDAR.spent.cost", depth=0).items

    assert (
        "282.66 = 565.33 × 40 / 80, rounded down, and no unit more: 2 left over for the largest remainders, "
        "this is number 3"
    ) == found.says


def test_figures_are_listed_in_order_and_by_the_beginnings_of_their_names(example: Served) -> None:
    book = example.book()

    loans = [each.figure for each in book.figures(month=MONTH, under="loans.BIRCH.DOGWOOD", limit=2)]
    every = [each.figure for each in book.figures(month=MONTH)]
    assert [f"loans.BIRCH.DOGWOOD.{each}" for each in ("amount", "cost", "quantity")] == loans
    assert sorted(every) == every
    assert len(set(every)) == len(every)
    assert {"price", "members.ALDER.due.total", "settlement.payments.3.amount"} < set(every)
    assert ["price"] == [each.figure for each in book.figures(month=MONTH, under="price")]
    assert [] == list(book.figures(month=MONTH, under="pric"))


def test_every_figure_that_is_listed_is_explained(example: Served) -> None:
    book = example.book()
    for figure in book.figures(month=MONTH):
        found = book.explanation(month=MONTH, figure=figure.figure, depth=0).items[0]

        assert figure.value == found.value
        assert found.says.startswith(f"{figure.value.shown:,} = ")


def test_the_explanations_of_a_closed_month_are_those_that_it_closed_with(example: Served) -> None:
    book = example.book()
    before = [book.explanation(month=MONTH, figure=f"settlement.{part}.ALDER") for part in ("nets", "carried")]
    entry = book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    member = book.member(code="CEDAR")
    example.send("PUT", "/members/CEDAR", {"name": "Cedar", "joined_on": "2026-09-01", "share": 3}, if_match=member.tag)

    after = [book.explanation(month=MONTH, figure=f"settlement.{part}.ALDER") for part in ("nets", "carried")]
    assert [each.items for each in before] == [each.items for each in after]
    assert ("closed", entry.number) == (after[0].state, after[0].computed_at)


def test_the_next_month_goes_back_to_what_the_month_before_left(example: Served) -> None:
    (found,) = example.book().explanation(month="2026-10", figure="stock.opening.cost", depth=0).items

    assert [("plus", "1342.67", "stock.closing.cost")] == operands(found)
    assert "month_before" == found.operands[0].origin


def test_a_figure_that_is_not_there_is_answered_with_names_that_are_near(example: Served) -> None:
    with pytest.raises(Missing) as refused:
        example.book().explanation(month=MONTH, figure="members.BIRCH.due")

    assert ("figure-not-found", "members.BIRCH.due.brought_forward") == (
        refused.value.code,
        refused.value.fields["near"][0],
    )
    assert 404 == example.send("GET", "/months/2030-01/explanations/price").status_code
    assert 422 == example.send("GET", f"/months/{MONTH}/explanations/no%20name").status_code
    assert 422 == example.send("GET", f"/months/{MONTH}/explanations/price?depth=21").status_code


def test_a_chain_is_given_in_parts_that_make_the_whole(example: Served) -> None:
    book = example.book()
    ask = partial(book.explanation, month=MONTH, figure="members.DOGWOOD.due.total")
    whole = ask(depth=20, limit=200)
    parts = [ask(depth=20, limit=7)]
    while parts[-1].next is not None:
        parts.append(ask(depth=20, limit=7, cursor=parts[-1].next))

    assert whole.next is None
    assert list(whole.items) == [each for part in parts for each in part.items]
    assert [7] * (len(parts) - 1) == [len(part.items) for part in parts[:-1]]
    with pytest.raises(PoolError) as refused:
        ask(depth=19, cursor=parts[0].next)
    assert "cursor-invalid" == refused.value.code


def test_a_long_sum_states_its_first_operands_and_lists_all(example: Served) -> None:
    book, name = example.book(), "members.BIRCH.due.charges_from_it"
    book.record_all([Command(body=charge("BIRCH", "CEDAR", amount), effective_on=DAY) for amount in range(1, 151)])

    first = book.explanation(month=MONTH, figure=name).items[0]
    listed = list(book.operands(month=MONTH, figure=name, limit=60))
    assert (100, 50) == (len(first.operands), first.more_operands)
    assert first.says.endswith("− 100.00 and 50 more")
    assert listed[:100] == list(first.operands)
    assert Decimal(-11_325) == first.value.shown == -sum(each.value.shown for each in listed)
    with pytest.raises(Missing):
        example.book("clerk").operands(month=MONTH, figure=name).__next__()


def test_figures_follow_the_book(example: Served) -> None:
    """What is kept of them is kept while the month is the same: not after an entry of it."""
    book, name = example.book(), "members.BIRCH.due.charges_to_it"
    assert "0.00 = nothing" == book.explanation(month=MONTH, figure=name).items[0].says
    book.record(charge("CEDAR", "BIRCH", 5), effective_on=DAY)
    assert "5.00 = 5.00" == book.explanation(month=MONTH, figure=name).items[0].says

    before = book.explanation(month=MONTH, figure="settlement.nets.BIRCH")
    book.record(charge("CEDAR", "BIRCH", 5), effective_on=DAY.replace(month=10))
    after = book.explanation(month=MONTH, figure="settlement.nets.BIRCH")
    assert before.items == after.items
    assert before.computed_at < after.computed_at


def test_a_clerk_sees_what_its_own_statement_is_made_of(example: Served) -> None:
    clerk = example.book("clerk")

    names = [each.figure for each in clerk.figures(month=MONTH)]
    assert {"members.ALDER.due.draws", "entries.3.cost", "settlement.nets.ALDER"} < set(names)
    assert not [each for each in names if "BIRCH" in each and "ALDER" not in each]
    chain = clerk.explanation(month=MONTH, figure="members.ALDER.due.draws", depth=9).items
    assert ["members.ALDER.due.draws", "entries.3.cost"] == [each.figure for each in chain]
    assert ("total", "4240.00", "stock.available.cost") == operands(chain[1])[0]
    with pytest.raises(Missing) as refused:
        clerk.explanation(month=MONTH, figure="members.BIRCH.due.draws")
    assert "figure-not-found" == refused.value.code
