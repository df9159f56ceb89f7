"""What a month would be under another policy, over HTTP and through the client; the book and its sheets stay put."""

from dataclasses import replace
from decimal import Decimal

import pytest
from pool_client.errors import Refused
from pool_client.models.directory import LoanPrice, Member, PaymentPlan, StockCosting, StockFunding
from pool_client.models.explanations import Comparison

from tests.rest.test_worked_example import MONTH, d, record_example
from tests.served import FIRST_DAY, Served


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


def of(found: Comparison, member: str, figure: str) -> tuple[Decimal, Decimal, Decimal]:
    each = next(each for each in found.members if each.member == member)
    return (getattr(each.present, figure), getattr(each.alternative, figure), getattr(each.difference, figure))


def test_another_costing_stands_beside_the_month_s_own_with_the_difference(example: Served) -> None:
    """The design's figures: ALDER's draw costs 848.00 or first in first out 828.00, the closing stock 1,411.00."""
    found = example.book().comparison(month=MONTH, stock_costing=StockCosting.FIFO)

    assert (StockCosting.MONTH_AVERAGE, StockCosting.FIFO) == (
        found.present.policy.stock_costing,
        found.alternative.policy.stock_costing,
    )
    assert (d("1342.67"), d("1411.00")) == (found.present.closing_stock, found.alternative.closing_stock)
    assert (d("2602.00"), d("2622.00"), d("20.00")) == of(found, "ALDER", "due")
    alder = found.members[0]
    costs = [each.blended_unit_cost for each in (alder.present, alder.alternative, alder.difference)]
    assert ["7.0667", "6.9000", "-0.1667"] == [str(each.shown) for each in costs if each]
    assert (3, 3) == (found.present.payments, found.alternative.payments)


def test_another_funding_gives_the_nets_of_the_design(example: Served) -> None:
    found = example.book().comparison(month=MONTH, stock_funding=StockFunding.SHARES)

    assert [d("2266.33"), d("-1296.74"), d("101.00"), d("-1070.59")] == [each.alternative.net for each in found.members]
    assert [d("1452.28"), d("-961.07"), d("243.72"), d("-734.93")] == [each.present.net for each in found.members]


def test_several_rules_change_together(example: Served) -> None:
    """First in first out CEDAR's credits cost 6.90 each, at which it is then paid for the 30 that it lent."""
    found = example.book().comparison(
        month=MONTH, stock_costing=StockCosting.FIFO, loan_price=LoanPrice.LENDER, smallest_payment=d("300")
    )

    assert (d("436.67"), d("445.00"), d("8.33")) == of(found, "CEDAR", "due")
    assert (d("-0.01"), d("0.00"), d("0.01")) == of(found, "BIRCH", "lending_gain")
    assert (3, 2, d("0.00")) == (found.present.payments, found.alternative.payments, of(found, "CEDAR", "net")[1])
    assert (d("0.00"), d("300.00")) == (
        found.present.policy.smallest_payment,
        found.alternative.policy.smallest_payment,
    )


def test_members_may_be_kept_from_paying_each_other_or_allowed_to(example: Served) -> None:
    """CEDAR is owed 243.72 only, so what BIRCH owes ALDER beyond that would pass through it."""
    apart = example.book().comparison(month=MONTH, no_payments_between=(("DOGWOOD", "ALDER"), ("BIRCH", "ALDER")))
    free = example.book().comparison(month=MONTH, no_payments_between=())

    assert (("ALDER", "BIRCH"), ("ALDER", "DOGWOOD")) == apart.alternative.policy.no_payments_between
    assert ((), 3) == (apart.present.policy.no_payments_between, apart.alternative.payments)
    assert free.present == free.alternative


@pytest.mark.parametrize(("code", "pair"), [("same-member", ("ALDER", "ALDER")), ("unknown-member", ("ALDER", "ELM"))])
def test_a_pair_kept_apart_is_of_two_members(example: Served, code: str, pair: tuple[str, str]) -> None:
    with pytest.raises(Refused) as refused:
        example.book().comparison(month=MONTH, no_payments_between=(pair,))
    assert code == refused.value.code


def test_nothing_moves_by_comparing(example: Served) -> None:
    book = example.book()
    before = (book.sheet(month=MONTH), book.settlement(month=MONTH), book.verification().head)

    book.comparison(month=MONTH, stock_costing=StockCosting.MOVING_AVERAGE, stock_funding=StockFunding.SHARES)

    assert before == (book.sheet(month=MONTH), book.settlement(month=MONTH), book.verification().head)


def test_a_closed_month_stands_beside_the_policy_that_its_close_froze(example: Served) -> None:
    book = example.book()
    preview = book.settlement(month=MONTH)
    book.close(month=MONTH, digest=preview.digest)

    found = book.comparison(month=MONTH, stock_costing=StockCosting.FIFO)
    same = book.comparison(month=MONTH)
    later = book.comparison(month="2026-10", stock_costing=StockCosting.FIFO)

    assert "closed" == found.state
    assert [each.amount for each in preview.nets] == [each.present.net for each in found.members]
    assert d("2622.00") == of(found, "ALDER", "due")[1]
    assert all(each.present == each.alternative for each in same.members)
    assert (d("1342.67"), d("1342.67")) == (later.present.closing_stock, later.alternative.closing_stock)


def test_policies_that_cannot_be_are_refused(example: Served) -> None:
    send, path = example.send, f"/months/{MONTH}/comparison"

    with pytest.raises(Refused) as refused:
        example.book().comparison(month=MONTH, payment_plan=PaymentPlan.HUB)
    assert "no-hub" == refused.value.code
    queries = ["stock_costing=lifo", "smallest_payment=-1", "smallest_payment=1.005", "smallest_payment=1e3"]
    pairs = ("", "ALDER", "ALDER.BIRCH,", "ALDER.BIRCH,none", "ALDER+BIRCH", "alder.birch")
    for query in queries + [f"no_payments_between={each}" for each in pairs]:
        assert 422 == send("GET", f"{path}?{query}").status_code
    assert 400 == send("GET", f"{path}?stock_cost=fifo").status_code
    assert 404 == send("GET", "/months/2030-01/comparison").status_code
    assert 403 == send("GET", path, key="clerk").status_code


def test_a_closed_month_is_compared_with_the_hub_that_its_close_froze(example: Served) -> None:
    """ALDER and CEDAR are owed, BIRCH and DOGWOOD owe: through any of them three payments, through ELM four."""
    book = example.book()
    book.put_member(Member(code="ELM", name="Elm", joined_on=FIRST_DAY))
    hub_of(example, "ALDER")
    before = book.settlement(month=MONTH)
    hub_of(example, "ELM")
    assert before.digest != book.settlement(month=MONTH).digest, "another hub is another preview"
    assert 4 == book.comparison(month=MONTH, payment_plan=PaymentPlan.HUB).alternative.payments

    hub_of(example, "ALDER")
    book.close(month=MONTH, digest=before.digest)
    hub_of(example, "ELM")
    assert 3 == book.comparison(month=MONTH, payment_plan=PaymentPlan.HUB).alternative.payments
    assert book.verification().findings == ()


def hub_of(served: Served, member: str) -> None:
    terms = served.book().terms()
    served.client("keeper").put_pool(replace(terms.value, keeper_member=member), tag=terms.tag)


def test_a_closed_month_is_compared_among_the_shares_that_its_close_froze(service: Served) -> None:
    book = service.book()
    agreed = book.policy(month=MONTH)
    book.put_policy(replace(agreed.value, stock_funding=StockFunding.SHARES), tag=agreed.tag)
    record_example(service)
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    alder = book.member(code="ALDER")
    book.put_member(replace(alder.value, share=5), tag=alder.tag)

    found = book.comparison(month=MONTH)

    assert found.present == found.alternative
    assert [each.present for each in found.members] == [each.alternative for each in found.members]
