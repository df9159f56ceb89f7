"""Shops that join and leave, and a stock that changes hands, through the client. Own rules and own cases."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from pool_client.errors import Refused
from pool_client.models.directory import Member, Policy, StockFunding
from pool_client.models.entries import (
    Charge,
    Draw,
    Loan,
    Payment,
    Purchase,
    Recordable,
    Relocation,
    WriteOff,
    WriteOffReason,
)

from tests.served import FIRST_DAY, Served, set_up

SEPTEMBER, OCTOBER = "2026-09", "2026-10"
MID, LATER = date(2026, 9, 15), date(2026, 9, 20)


def d(amount: str) -> Decimal:
    return Decimal(amount)


@pytest.fixture
def stocked(service: Served) -> Served:
    """100 credits that ALDER paid at 7.00, of which DOGWOOD drew 10 on 2 September."""
    record(service, Purchase(paid_by="ALDER", quantity=100, amount=d("700.00")), FIRST_DAY)
    record(service, Draw(member="DOGWOOD", quantity=10), date(2026, 9, 2))
    return service


def record(served: Served, body: Recordable, on: date) -> None:
    served.book().record(body, effective_on=on)


def leave(served: Served, code: str, on: date) -> Member:
    read = served.book().member(code=code)
    return served.book().put_member(replace(read.value, left_on=on), tag=read.tag).value


def reason(served: Served, code: str, on: date = MID) -> str:
    with pytest.raises(Refused) as refused:
        leave(served, code, on)
    assert "member-not-clear" == refused.value.code
    return str(refused.value.fields["reason"])


def close(served: Served, month: str) -> None:
    served.book().close(month=month, digest=served.book().settlement(month=month).digest)


class TestLeaving:
    def test_a_member_leaves_once_it_holds_owes_and_is_owed_nothing(self, stocked: Served) -> None:
        assert "it holds 10 credits" == reason(stocked, "DOGWOOD")
        record(stocked, Loan(lender="DOGWOOD", borrower="BIRCH", quantity=4), date(2026, 9, 3))
        record(stocked, Loan(lender="DOGWOOD", borrower="CEDAR", quantity=6, unit_price=d("6.50")), date(2026, 9, 3))
        assert "4 credits are open from DOGWOOD to BIRCH" == reason(stocked, "DOGWOOD")
        close(stocked, SEPTEMBER)
        assert "settlement payment 2026-09-" in reason(stocked, "DOGWOOD", date(2026, 10, 5))

        for each in stocked.book().settlement_payments(unpaid=True):
            paid = Payment(from_member=each.payer, to_member=each.payee, amount=each.amount, pays=each.id)
            record(stocked, paid, date(2026, 10, 3))
        assert date(2026, 10, 5) == leave(stocked, "DOGWOOD", date(2026, 10, 5)).left_on

    def test_what_an_open_month_would_make_it_pay_keeps_it_too(self, stocked: Served) -> None:
        """It hands its credits over at an agreed price, and pays what it still owes for them."""
        record(stocked, Loan(lender="DOGWOOD", borrower="BIRCH", quantity=10, unit_price=d("6.50")), date(2026, 9, 3))
        assert "its due of 2026-09 is -5.00" == reason(stocked, "DOGWOOD")

        record(stocked, Payment(from_member="DOGWOOD", to_member="ALDER", amount=d("5.00")), date(2026, 9, 4))
        leave(stocked, "DOGWOOD", MID)

        with pytest.raises(Refused) as refused:
            record(stocked, Draw(member="DOGWOOD", quantity=1), LATER)
        assert "member-left" == refused.value.code
        close(stocked, SEPTEMBER)
        assert "DOGWOOD" not in {each.member for each in stocked.book().settlement(month=SEPTEMBER).nets}

    def test_what_comes_up_after_it_left_is_settled_with_it_all_the_same(self, stocked: Served) -> None:
        """A dearer purchase of the same month makes what it drew dearer."""
        record(stocked, Loan(lender="DOGWOOD", borrower="BIRCH", quantity=10, unit_price=d("7")), date(2026, 9, 3))
        leave(stocked, "DOGWOOD", MID)
        record(stocked, Purchase(paid_by="ALDER", quantity=100, amount=d("800.00")), LATER)
        read = stocked.book().member(code="DOGWOOD")
        stocked.book().put_member(replace(read.value, name="Dogwood, closed"), tag=read.tag)
        close(stocked, SEPTEMBER)
        asked = next(each for each in stocked.book().settlement_payments() if each.payer == "DOGWOOD")
        assert d("5.00") == asked.amount

        paid = Payment(from_member="DOGWOOD", to_member=asked.payee, amount=asked.amount, pays=asked.id)
        record(stocked, paid, date(2026, 10, 3))

        assert asked.id not in {each.id for each in stocked.book().settlement_payments(unpaid=True)}
        with pytest.raises(Refused) as refused:
            record(stocked, replace(paid, pays=None), date(2026, 10, 3))
        assert "member-left" == refused.value.code

    def test_who_left_during_the_month_bears_what_was_lost_before_and_finances_nothing(
        self, bare_service: Served
    ) -> None:
        set_up(bare_service, policy=Policy(stock_funding=StockFunding.SHARES))
        record(bare_service, Purchase(paid_by="ALDER", quantity=100, amount=d("700.00")), FIRST_DAY)
        record(bare_service, WriteOff(holder="stock", quantity=4, reason=WriteOffReason.LOST), date(2026, 9, 5))
        record(bare_service, Charge(from_member="ALDER", to_member="DOGWOOD", amount=d("7.00"), reason="shelf"), LATER)
        leave(bare_service, "DOGWOOD", LATER)
        bare_service.book().put_member(Member(code="ELM", name="Elm Workshop", joined_on=MID))
        record(bare_service, WriteOff(holder="stock", quantity=4, reason=WriteOffReason.LOST), date(2026, 9, 25))

        sheet = {each.member: each.due.stock_write_offs for each in bare_service.book().sheet(month=SEPTEMBER).members}

        assert {"ALDER": d("-14"), "BIRCH": d("-14"), "CEDAR": d("-14"), "DOGWOOD": d("-7"), "ELM": d("-7")} == sheet
        carried = bare_service.book().settlement(month=SEPTEMBER).carried
        assert ["ALDER", "BIRCH", "CEDAR", "ELM"] == [each.member for each in carried]

    @pytest.mark.parametrize("days", [{"joined_on": date(2026, 10, 1)}, {"left_on": MID}, {"left_on": None}])
    def test_other_days_of_a_member_change_nothing_of_a_closed_month(
        self, service: Served, days: dict[str, date | None]
    ) -> None:
        """DOGWOOD bears its part of what was lost, or nothing, as when the month was closed."""
        if days == {"left_on": None}:
            leave(service, "DOGWOOD", MID)
        record(service, Purchase(paid_by="ALDER", quantity=100, amount=d("700.00")), FIRST_DAY)
        record(service, WriteOff(holder="stock", quantity=10, reason=WriteOffReason.LOST), LATER)
        close(service, SEPTEMBER)
        for each in service.book().settlement_payments():
            paid = Payment(from_member=each.payer, to_member=each.payee, amount=each.amount, pays=each.id)
            record(service, paid, date(2026, 10, 3))
        before = service.book().sheet(month=SEPTEMBER)

        read = service.book().member(code="DOGWOOD")
        service.book().put_member(replace(read.value, **days), tag=read.tag)  # type: ignore[arg-type]

        assert before.members == service.book().sheet(month=SEPTEMBER).members
        assert service.book().verification().sound


class TestCustodian:
    def test_the_stock_goes_to_another_and_the_first_may_leave(self, service: Served) -> None:
        terms = service.book().terms()
        service.client().put_pool(replace(terms.value, custodian="CEDAR"), tag=terms.tag)
        record(service, Purchase(paid_by="ALDER", quantity=100, amount=d("700.00")), FIRST_DAY)
        assert "the stock is in its vendor account; record a relocation" == reason(service, "CEDAR")

        record(service, Relocation(from_member="CEDAR", to_member="BIRCH", quantity=100), date(2026, 9, 10))
        leave(service, "CEDAR", MID)

        assert "BIRCH" == service.book().positions().custodian
        with pytest.raises(Refused) as refused:
            record(service, Relocation(from_member="CEDAR", to_member="ALDER", quantity=100), LATER)
        assert "not-custodian" == refused.value.code
        sheet = service.book().sheet(month=SEPTEMBER)
        assert (100, d("700.00")) == (sheet.stock.closing.quantity, sheet.stock.closing.cost)
