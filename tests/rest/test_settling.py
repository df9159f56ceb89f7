"""Settling over HTTP: what is asked for, paid in part, overpaid and undone; and pairs that can't pay each other. Own
cases, all of the pool's worked example: BIRCH owes ALDER 961.07, DOGWOOD owes ALDER 491.21 and CEDAR 243.72."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client import Book
from pool_client.errors import Refused
from pool_client.models.directory import PaymentPlan
from pool_client.models.entries import Payment, Reversal
from pool_client.models.months import PlannedPayment

from tests.rest.test_worked_example import record_example
from tests.served import Served

SEPTEMBER = "2026-09"
OCTOBER_5 = date(2026, 10, 5)
d = Decimal


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


@pytest.fixture
def settled(example: Served) -> Served:
    """The worked example, September closed."""
    book = example.book()
    book.close(month=SEPTEMBER, digest=book.settlement(month=SEPTEMBER).digest)
    return example


def pay(amount: str, **more: Any) -> Payment:
    return Payment(from_member="BIRCH", to_member="ALDER", amount=d(amount), pays="2026-09-1", **more)


def listed(book: Book, **wanted: Any) -> list[tuple[str, Decimal, Decimal]]:
    return [(each.id, each.paid, each.unpaid) for each in book.settlement_payments(**wanted)]


def dues(book: Book, month: str) -> dict[str, Decimal]:
    return {
        each.member: each.due.payments_received + each.due.payments_made for each in book.sheet(month=month).members
    }


def refusal(book: Book, payment: Payment, **more: Any) -> str:
    with pytest.raises(Refused) as refused:
        book.record(payment, **more)
    return refused.value.code


# --- what is asked for -----------------------------------------------------------------------------------------------


def test_what_is_unpaid_has_its_age_since_the_end_of_its_month(settled: Served) -> None:
    book = settled.book()
    book.record(pay("961.07"))
    assert [None, 41, 41] == [each.age_days for each in book.settlement_payments()]  # from 30 September to 10 November

    settled.clock.pass_days(20)
    assert [61, 61] == [each.age_days for each in book.settlement_payments(unpaid=True)]


def test_payments_are_found_by_state_member_and_month(settled: Served) -> None:
    book = settled.book()
    book.record(pay("961.07"))

    assert ["2026-09-2", "2026-09-3"] == [name for name, _, _ in listed(book, unpaid=True)]
    assert ["2026-09-1"] == [name for name, _, _ in listed(book, unpaid=False)]
    assert ["2026-09-3"] == [name for name, _, _ in listed(book, member="CEDAR")]
    assert ["2026-09-2", "2026-09-3"] == [name for name, _, _ in listed(book, member="DOGWOOD", month=SEPTEMBER)]
    assert [] == listed(book, month="2026-10")


def test_a_page_goes_on_where_the_last_one_ended(settled: Served) -> None:
    pages = [*paged(settled, "/settlement-payments?limit=1")]

    assert [["2026-09-1"], ["2026-09-2"], ["2026-09-3"]] == pages
    assert [["2026-09-1", "2026-09-2"], ["2026-09-3"]] == [*paged(settled, "/settlement-payments?limit=2")]


def paged(served: Served, address: str) -> Iterator[list[str]]:
    after = ""
    while True:
        page = served.send("GET", address + after).json()
        yield [each["id"] for each in page["items"]]
        if "next" not in page:
            return
        after = f"&cursor={page['next']}"


def test_a_clerk_sees_its_own_only(settled: Served) -> None:
    clerk = settled.book("clerk")  # of ALDER

    assert ["2026-09-1", "2026-09-2"] == [name for name, _, _ in listed(clerk)]
    assert [] == listed(clerk, member="CEDAR")


def test_what_is_too_small_to_pay_is_brought_forward(example: Served) -> None:
    book = example.book()
    change_policy(example, smallest_payment=d("300.00"))
    preview = book.settlement(month=SEPTEMBER)

    # CEDAR's 243.72 is carried, and BIRCH, who owes most, carries as much
    assert {"BIRCH": d("-243.72"), "CEDAR": d("243.72")} == {each.member: each.amount for each in preview.small}
    book.close(month=SEPTEMBER, digest=preview.digest)
    brought = {each.member: each.due.brought_forward for each in book.sheet(month="2026-10").members}
    assert {"ALDER": d("1149.72"), "BIRCH": d("-243.72"), "CEDAR": d("436.67"), "DOGWOOD": 0} == brought


# --- paid in part, overpaid, undone ----------------------------------------------------------------------------------


def test_more_than_is_left_is_refused_until_it_is_accepted(settled: Served) -> None:
    book = settled.book()
    book.record(pay("900.00"))

    assert "more-than-unpaid" == refusal(book, pay("100.00"))
    over = book.record(pay("100.00", accept_overpayment=True))

    assert isinstance(over.body, Payment)
    assert (d("38.93"), "2026-09-1") == (over.body.beyond, over.body.pays)
    assert ("2026-09-1", d("961.07"), d("0.00")) == listed(book)[0]
    assert "paid-in-full" == refusal(book, pay("0.01", accept_overpayment=True))
    assert book.verification().sound


@pytest.mark.parametrize("asked", [pay("1000.00", accept_overpayment=True), pay("5.00", accept_overpayment=True)])
def test_an_accepted_overpayment_is_found_again_by_its_reference(settled: Served, asked: Payment) -> None:
    """What went beyond, if anything did, was found when it was recorded: whoever repeats the request can't know it."""
    book = settled.book()
    first = book.record(asked, reference="bank line 7")

    assert first == book.record(asked, reference="bank line 7")
    assert "reference-taken" == refusal(book, replace(asked, amount=d("1000.01")), reference="bank line 7")


def test_what_goes_beyond_counts_in_the_dues_of_its_month(settled: Served) -> None:
    book = settled.book()
    book.record(pay("1000.00", accept_overpayment=True), effective_on=OCTOBER_5)

    assert {"ALDER": d("-38.93"), "BIRCH": d("38.93"), "CEDAR": 0, "DOGWOOD": 0} == dues(book, "2026-10")
    october = book.sheet(month="2026-10")
    assert october.stock.closing.cost == sum(each.due.total for each in october.members)
    [line] = [each for each in book.statement(month="2026-10", member="BIRCH").lines if each.kind == "payment"]
    assert "payment from BIRCH to ALDER for 2026-09-1, 38.93 of it beyond what was asked for" == line.what


def test_a_payment_that_is_undone_is_asked_for_again(settled: Served) -> None:
    book = settled.book()
    part = book.record(pay("500.00"))
    whole = book.record(pay("500.00", accept_overpayment=True))

    book.record(Reversal(entry=part.number))

    # what the second one went beyond stays in the dues: it was really paid
    assert ("2026-09-1", d("461.07"), d("500.00")) == listed(book)[0]
    assert d("38.93") == dues(book, "2026-11")["BIRCH"]
    book.record(Reversal(entry=whole.number))
    assert ("2026-09-1", d("0.00"), d("961.07")) == listed(book)[0]
    assert 0 == dues(book, "2026-11")["BIRCH"]
    assert book.verification().sound


def test_an_overpayment_undone_in_a_later_month_leaves_the_dues_of_that_month(settled: Served) -> None:
    book = settled.book()
    over = book.record(pay("1000.00", accept_overpayment=True), effective_on=OCTOBER_5)
    book.close(month="2026-10", digest=book.settlement(month="2026-10").digest)

    book.record(Reversal(entry=over.number))

    assert d("38.93") == dues(book, "2026-10")["BIRCH"]
    reversals = {each.member: each.due.reversals for each in book.sheet(month="2026-11").members}
    assert {"ALDER": d("38.93"), "BIRCH": d("-38.93"), "CEDAR": 0, "DOGWOOD": 0} == reversals
    assert ("2026-09-1", d("0.00"), d("961.07")) == listed(book)[0]
    assert book.verification().sound


def test_a_month_reopens_once_all_its_payments_are_undone(settled: Served) -> None:
    book = settled.book()
    over = book.record(pay("1000.00", accept_overpayment=True))
    with pytest.raises(Refused, match="payment 2026-09-1 of its settlement is recorded"):
        book.reopen(month=SEPTEMBER, reason="a purchase was missing")

    book.record(Reversal(entry=over.number))
    book.reopen(month=SEPTEMBER, reason="a purchase was missing")
    assert [] == listed(book)

    book.close(month=SEPTEMBER, digest=book.settlement(month=SEPTEMBER).digest)
    assert ("2026-09-1", d("0.00"), d("961.07")) == listed(book)[0]
    book.record(pay("961.07"))
    assert book.verification().sound


# --- pairs that can't pay each other ---------------------------------------------------------------------------------


def change_policy(served: Served, **terms: Any) -> None:
    found = served.book().terms()
    keeper = terms.pop("keeper_member", found.value.keeper_member)
    changed = replace(found.value, keeper_member=keeper, policy=replace(found.value.policy, **terms))
    served.client().put_pool(changed, tag=found.tag)


def payments(found: tuple[PlannedPayment, ...]) -> list[tuple[str, str, Decimal]]:
    return [(each.payer, each.payee, each.amount) for each in found]


def test_pairs_are_kept_in_order_and_once(example: Served) -> None:
    change_policy(example, no_payments_between=(("DOGWOOD", "ALDER"), ("CEDAR", "BIRCH"), ("ALDER", "DOGWOOD")))

    pairs = (("ALDER", "DOGWOOD"), ("BIRCH", "CEDAR"))
    assert pairs == example.book().terms().value.policy.no_payments_between
    assert pairs == example.book().sheet(month=SEPTEMBER).policy.no_payments_between


@pytest.mark.parametrize(("code", "pair"), [("same-member", ("ALDER", "ALDER")), ("unknown-member", ("ALDER", "ELM"))])
def test_a_pair_is_of_two_members(service: Served, code: str, pair: tuple[str, str]) -> None:
    with pytest.raises(Refused) as refused:
        change_policy(service, no_payments_between=(pair,))
    assert code == refused.value.code


def test_a_plan_keeps_pairs_apart_and_says_who_passes_money_on(example: Served) -> None:
    book = example.book()
    change_policy(example, no_payments_between=(("ALDER", "BIRCH"),))

    found = book.settlement(month=SEPTEMBER)

    # CEDAR is owed 243.72 only: what BIRCH owes beyond that passes through it
    assert [
        ("BIRCH", "CEDAR", d("961.07")),
        ("CEDAR", "ALDER", d("717.35")),
        ("DOGWOOD", "ALDER", d("734.93")),
    ] == payments(found.payments)
    assert (("CEDAR",), (), 3, True) == (found.go_betweens, found.unpayable, found.lower_bound, found.proven)
    book.close(month=SEPTEMBER, digest=found.digest)
    final = book.settlement(month=SEPTEMBER)
    assert (found.payments, ("CEDAR",)) == (
        tuple(replace(e, id=None, paid=None) for e in final.payments),
        final.go_betweens,
    )


def test_a_hub_plan_keeps_pairs_apart(example: Served) -> None:
    change_policy(
        example,
        keeper_member="ALDER",
        payment_plan=PaymentPlan.HUB,
        no_payments_between=(("ALDER", "BIRCH"),),
    )

    found = example.book().settlement(month=SEPTEMBER)

    assert [
        ("BIRCH", "CEDAR", d("961.07")),
        ("CEDAR", "ALDER", d("717.35")),
        ("DOGWOOD", "ALDER", d("734.93")),
    ] == payments(found.payments)


def test_a_month_without_any_plan_says_so_and_does_not_close(example: Served) -> None:
    book = example.book()
    change_policy(example, no_payments_between=(("ALDER", "BIRCH"), ("BIRCH", "CEDAR"), ("BIRCH", "DOGWOOD")))

    found = book.settlement(month=SEPTEMBER)

    everybody = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD")
    assert ((), everybody, False) == (found.payments, found.unpayable, found.proven)
    with pytest.raises(Refused, match="ALDER, BIRCH, CEDAR, DOGWOOD could pay") as refused:
        book.close(month=SEPTEMBER, digest=found.digest)
    assert "no-payment-plan" == refused.value.code
    assert "open" == book.months()[0].state

    change_policy(example, no_payments_between=())
    assert "close" == book.close(month=SEPTEMBER, digest=book.settlement(month=SEPTEMBER).digest).kind


def test_the_keepers_member_passes_on_what_nobody_else_can(service: Served) -> None:
    book = service.book()
    service.send(
        "POST",
        "/charges",
        {
            "from_member": "BIRCH",
            "to_member": "ALDER",
            "amount": "9.00",
            "reason": "courier",
            "effective_on": "2026-09-05",
        },
    )
    change_policy(service, keeper_member="CEDAR", no_payments_between=(("ALDER", "BIRCH"),))

    found = book.settlement(month=SEPTEMBER)

    assert [("BIRCH", "CEDAR", d("9.00")), ("CEDAR", "ALDER", d("9.00"))] == payments(found.payments)
    assert ("CEDAR",) == found.go_betweens
