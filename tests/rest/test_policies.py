"""Policies through the client: agreed from a month on, changed, frozen, and what each makes of a month. Own cases."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import product

import pytest
from pool_client.errors import Missing, NotAllowed, Refused, Stale
from pool_client.models.directory import LoanPrice, LoansAtClose, PaymentPlan, Policy, PolicyFrom, StockCosting
from pool_client.models.entries import Draw, Loan, Payment, Purchase, Return, Reversal, WriteOff, WriteOffReason
from pool_client.models.months import CarriedLoan

from tests.rest.test_worked_example import record_example
from tests.served import POOL, Served, set_up

SEPTEMBER, OCTOBER, NOVEMBER = "2026-09", "2026-10", "2026-11"
CARRY = PolicyFrom(from_month=OCTOBER, loans_at_close=LoansAtClose.CARRY)


def d(amount: str) -> Decimal:
    return Decimal(amount)


def close(served: Served, month: str) -> None:
    book = served.book()
    book.close(month=month, digest=book.settlement(month=month).digest, accept_warnings=True)


class TestAgreeing:
    def test_a_pool_has_the_policy_that_it_began_with_until_another_is_agreed(self, service: Served) -> None:
        book = service.book()
        assert (PolicyFrom(from_month=SEPTEMBER),) == book.policies()

        made = book.put_policy(CARRY)

        assert CARRY == made.value == book.policy(month=OCTOBER).value
        assert (PolicyFrom(from_month=SEPTEMBER), CARRY) == book.policies()
        assert [LoansAtClose.SETTLE, LoansAtClose.CARRY, LoansAtClose.CARRY] == [
            book.sheet(month=month).policy.loans_at_close for month in (SEPTEMBER, OCTOBER, NOVEMBER)
        ]

    def test_one_that_is_there_is_changed_by_its_tag_alone(self, service: Served) -> None:
        book = service.book()
        tag = book.put_policy(CARRY).tag
        with pytest.raises(Refused) as refused:
            book.put_policy(CARRY)
        assert ("already-there", 428) == (refused.value.code, refused.value.status)

        fifo = replace(CARRY, stock_costing=StockCosting.FIFO)
        assert fifo == book.put_policy(fifo, tag=tag).value
        with pytest.raises(Stale):
            book.put_policy(CARRY, tag=tag)

    def test_the_first_one_is_that_of_the_pool_s_terms(self, service: Served) -> None:
        book = service.book()
        lender = PolicyFrom(from_month=SEPTEMBER, loan_price=LoanPrice.LENDER)

        changed = book.put_policy(lender, tag=book.policy(month=SEPTEMBER).tag)

        terms = book.terms()
        assert (LoanPrice.LENDER, changed.tag) == (terms.value.policy.loan_price, terms.tag)
        assert (lender,) == book.policies()

    def test_a_month_without_one_of_its_own_has_none_to_read(self, service: Served) -> None:
        with pytest.raises(Missing) as refused:
            service.book().policy(month=OCTOBER)
        assert "not-found" == refused.value.code

    def test_a_copy_at_hand_is_current_until_it_changes(self, service: Served) -> None:
        tag = service.book().put_policy(CARRY).tag

        assert 304 == service.send("GET", "/policies/2026-10", if_none_match=tag).status_code

    @pytest.mark.parametrize(
        ("policy", "code"),
        [
            (PolicyFrom(from_month="2026-08"), "before-pool-began"),
            (PolicyFrom(from_month=OCTOBER, payment_plan=PaymentPlan.HUB), "no-hub"),
        ],
    )
    def test_what_cannot_be_agreed(self, service: Served, policy: PolicyFrom, code: str) -> None:
        with pytest.raises(Refused) as refused:
            service.book().put_policy(policy)
        assert code == refused.value.code
        assert (PolicyFrom(from_month=SEPTEMBER),) == service.book().policies()

    @pytest.mark.parametrize("key", ["clerk", "reader"])
    def test_only_the_keeper_agrees_one(self, service: Served, key: str) -> None:
        with pytest.raises(NotAllowed) as refused:
            service.book(key).put_policy(CARRY)
        assert "not-permitted" == refused.value.code
        assert (PolicyFrom(from_month=SEPTEMBER),) == service.book(key).policies()

    def test_a_hub_plan_agreed_for_later_keeps_its_hub(self, service: Served) -> None:
        keeper = service.client("keeper")
        terms = keeper.book(POOL).terms()
        named = keeper.put_pool(replace(terms.value, keeper_member="ALDER"), tag=terms.tag)
        keeper.book(POOL).put_policy(PolicyFrom(from_month=OCTOBER, payment_plan=PaymentPlan.HUB))

        with pytest.raises(Refused) as refused:
            keeper.put_pool(replace(named.value, keeper_member=None), tag=named.tag)
        assert "no-hub" == refused.value.code


class TestFreezing:
    def test_a_closed_month_keeps_its_policy_and_the_open_ones_may_get_another(self, service: Served) -> None:
        record_example(service)
        book = service.book()
        close(service, SEPTEMBER)
        before = book.sheet(month=SEPTEMBER)
        moving = PolicyFrom(from_month=SEPTEMBER, stock_costing=StockCosting.MOVING_AVERAGE)

        with pytest.raises(Refused) as refused:
            book.put_policy(moving, tag=book.policy(month=SEPTEMBER).tag)
        assert "policy-frozen" == refused.value.code
        terms = book.terms()
        with pytest.raises(Refused) as refused:
            service.client("keeper").put_pool(
                replace(terms.value, policy=Policy(smallest_payment=d("1"))), tag=terms.tag
            )
        assert "policy-frozen" == refused.value.code
        book.put_policy(replace(moving, from_month=OCTOBER))

        assert before == book.sheet(month=SEPTEMBER)
        assert StockCosting.MOVING_AVERAGE == book.sheet(month=OCTOBER).policy.stock_costing

    def test_a_reopened_month_may_get_another_policy_and_is_then_costed_by_it(self, service: Served) -> None:
        record_example(service)
        book = service.book()
        close(service, SEPTEMBER)
        book.reopen(month=SEPTEMBER, reason="the shops had agreed otherwise")

        book.put_policy(
            PolicyFrom(from_month=SEPTEMBER, stock_costing=StockCosting.FIFO), tag=book.policy(month=SEPTEMBER).tag
        )
        close(service, SEPTEMBER)

        assert d("1411.00") == book.sheet(month=SEPTEMBER).stock.closing.cost

    def test_a_preview_under_another_policy_is_out_of_date(self, service: Served) -> None:
        record_example(service)
        book = service.book()
        digest = book.settlement(month=SEPTEMBER).digest
        book.put_policy(
            PolicyFrom(from_month=SEPTEMBER, stock_costing=StockCosting.FIFO), tag=book.policy(month=SEPTEMBER).tag
        )

        with pytest.raises(Stale) as stale:
            book.close(month=SEPTEMBER, digest=digest)
        assert "preview-stale" == stale.value.code


class TestCarrying:
    def test_loans_stay_open_are_given_back_and_the_rest_is_settled(self, bare_service: Served) -> None:
        set_up(bare_service, policy=Policy(loans_at_close=LoansAtClose.CARRY))
        record_example(bare_service)
        book = bare_service.book()
        carried = CarriedLoan(lender="BIRCH", borrower="DOGWOOD", quantity=14, value=d("98.93"))
        assert carried == book.sheet(month=SEPTEMBER).open_loans[0]
        before = book.positions().open_loans
        close(bare_service, SEPTEMBER)
        assert before == book.positions().open_loans
        assert {"ALDER", "BIRCH", "CEDAR", "DOGWOOD"} == {each.member for each in book.settlement(month=SEPTEMBER).nets}

        book.record(Return(borrower="DOGWOOD", lender="BIRCH", quantity=5), effective_on=date(2026, 10, 1))
        returned = book.sheet(month=OCTOBER)
        assert [("DOGWOOD", "BIRCH", 5, d("35.33"))] == [
            (each.lender, each.borrower, each.quantity, each.amount) for each in returned.loans_returned
        ]
        assert replace(carried, quantity=9, value=d("63.60")) == returned.open_loans[0]
        book.put_policy(PolicyFrom(from_month=OCTOBER))
        statement = book.statement(month=OCTOBER, member="BIRCH")
        assert [(9, d("63.60"))] == [(each.quantity, each.amount) for each in statement.carried_settled]
        assert [(5, d("35.33"))] == [(each.quantity, each.amount) for each in statement.loans_returned]
        close(bare_service, OCTOBER)

        assert () == book.positions().open_loans
        assert d("63.60") == book.sheet(month=OCTOBER).members[1].due.loans_from_it
        assert book.verification().sound

    def test_a_loan_carried_on_is_reversed_and_the_journal_says_that_it_was_open(self, bare_service: Served) -> None:
        set_up(bare_service, policy=Policy(loans_at_close=LoansAtClose.CARRY))
        record_example(bare_service)
        close(bare_service, SEPTEMBER)
        book = bare_service.book()

        asked = {"entry": 6, "quantity": 4, "effective_on": "2026-10-02", "reference": "mistake-1"}
        made = bare_service.send("POST", "/reversals", asked)
        again = bare_service.send("POST", "/reversals", asked)

        assert {"entry": 6, "quantity": 4, "still_open": True} == made.json()["body"]
        assert (201, made.json()) == (again.status_code, again.json())
        told = book.entry(number=made.json()["number"]).entry.body
        assert told == Reversal(entry=6, quantity=4, still_open=True)
        assert [("BIRCH", "DOGWOOD", 10), ("CEDAR", "DOGWOOD", 30)] == [
            (each.lender, each.borrower, each.quantity) for each in book.positions().open_loans
        ]
        october = book.sheet(month=OCTOBER)
        assert CarriedLoan(lender="BIRCH", borrower="DOGWOOD", quantity=10, value=d("70.66")) == october.open_loans[0]
        assert all(not each.due.reversals for each in october.members)
        assert book.verification().sound


class TestLendersPrice:
    def test_loans_without_a_supply_keep_the_month_from_closing_until_they_have_one(self, bare_service: Served) -> None:
        """CEDAR lent on the 2nd what it drew on 1 October."""
        set_up(bare_service, policy=Policy(loan_price=LoanPrice.LENDER))
        book = bare_service.book()
        book.record(Purchase(paid_by="ALDER", quantity=50, amount=d("400.00")), effective_on=date(2026, 9, 1))
        book.record(Draw(member="CEDAR", quantity=10), effective_on=date(2026, 10, 1))
        lent = book.record(Loan(lender="CEDAR", borrower="BIRCH", quantity=10), effective_on=date(2026, 9, 2))
        digest = book.settlement(month=SEPTEMBER).digest

        obstacle = book.sheet(month=SEPTEMBER).obstacle
        assert obstacle is not None
        assert ("no-supply", True) == (obstacle.code, "CEDAR" in obstacle.detail)
        with pytest.raises(Refused) as refused:
            book.close(month=SEPTEMBER, digest=digest, accept_warnings=True)
        assert ("no-supply", "CEDAR") == (refused.value.code, refused.value.fields["lenders"])

        book.record(Reversal(entry=lent.number), effective_on=date(2026, 9, 2))
        assert book.sheet(month=SEPTEMBER).obstacle is None
        close(bare_service, SEPTEMBER)

    def test_a_month_without_any_price_says_so(self, service: Served) -> None:
        book = service.book()
        own = Purchase(into="BIRCH", paid_by="BIRCH", quantity=10, amount=d("70.00"))
        book.record(own, effective_on=date(2026, 9, 1))
        book.record(Loan(lender="BIRCH", borrower="CEDAR", quantity=4), effective_on=date(2026, 9, 2))

        obstacle = book.sheet(month=SEPTEMBER).obstacle
        assert obstacle is not None
        assert "no-price" == obstacle.code
        lender = PolicyFrom(from_month=SEPTEMBER, loan_price=LoanPrice.LENDER)
        book.put_policy(lender, tag=book.policy(month=SEPTEMBER).tag)
        assert [d("28.00")] == [each.amount for each in book.sheet(month=SEPTEMBER).loans_settled]
        close(service, SEPTEMBER)


@pytest.mark.parametrize("at_close", LoansAtClose)
def test_a_month_without_supply_takes_the_last_price(bare_service: Served, at_close: LoansAtClose) -> None:
    """All that is drawn in September costs 8.00; in October the stock is empty."""
    set_up(bare_service, policy=Policy(loans_at_close=at_close))
    book = bare_service.book()
    book.record(Purchase(paid_by="ALDER", quantity=50, amount=d("400.00")), effective_on=date(2026, 9, 1))
    book.record(Draw(member="BIRCH", quantity=50), effective_on=date(2026, 9, 2))
    close(bare_service, SEPTEMBER)
    book.record(Loan(lender="BIRCH", borrower="CEDAR", quantity=5), effective_on=date(2026, 10, 2))

    sheet = book.sheet(month=OCTOBER)

    assert [d("40.00")] == [each.amount for each in (*sheet.loans_settled, *sheet.loans_carried)]
    close(bare_service, OCTOBER)


@pytest.mark.parametrize(("costing", "price", "at_close"), list(product(StockCosting, LoanPrice, LoansAtClose)))
def test_under_every_policy_a_closed_month_can_be_put_right(
    bare_service: Served, costing: StockCosting, price: LoanPrice, at_close: LoansAtClose
) -> None:
    """Every kind of entry of the closed month is reversed in the next, and nothing gets lost."""
    set_up(bare_service, policy=Policy(stock_costing=costing, loan_price=price, loans_at_close=at_close))
    record_example(bare_service)
    book, september = bare_service.book(), date(2026, 9, 20)
    lost = WriteOff(holder="stock", quantity=3, reason=WriteOffReason.LOST)
    book.record(lost, effective_on=september)
    book.record(replace(lost, holder="DOGWOOD"), effective_on=september)
    book.record(Payment(from_member="BIRCH", to_member="ALDER", amount=d("5.00")), effective_on=september)
    close(bare_service, SEPTEMBER)
    for number in (15, 16, 17, 14, 10, 8, 7, 6, 13):
        book.record(Reversal(entry=number), effective_on=date(2026, 10, 2))
    book.record(Reversal(entry=2, quantity=5), effective_on=date(2026, 10, 2))

    sheet = book.sheet(month=OCTOBER)
    assert sheet.stock.closing.cost == sum(each.due.total for each in sheet.members)
    held = {each.member: each.held for each in book.positions().members}
    assert held == {each.member: each.closing.quantity for each in sheet.members}
    close(bare_service, OCTOBER)
    assert at_close is LoansAtClose.CARRY or () == book.positions().open_loans
    assert book.verification().sound
