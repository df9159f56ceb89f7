"""Closing over HTTP: a close that is repeated under its key, and who finances what is left in the stock. Own cases."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from pool_client.models.directory import Member, StockFunding
from pool_client.models.entries import Draw, Purchase, WriteOff, WriteOffReason

from tests.rest.test_vendor_accounts import PROFILE, give
from tests.served import FIRST_DAY, POOL, Served

SEPTEMBER_30 = date(2026, 9, 30)


@pytest.fixture
def bought(service: Served) -> Served:
    """100 credits in stock, 10 of them drawn, in September."""
    purchase = Purchase(into="stock", paid_by="ALDER", quantity=100, amount=Decimal("700.00"))
    service.book().record(purchase, effective_on=FIRST_DAY)
    service.book().record(Draw(member="CEDAR", quantity=10), effective_on=date(2026, 9, 3))
    return service


def close(served: Served, digest: str, key: str) -> tuple[int, str | None, object]:
    answer = served.send("POST", "/months/2026-09/close", {"digest": digest}, idempotency_key=key)
    return answer.status_code, answer.headers.get("idempotency-replayed"), answer.json()


def test_a_close_that_is_repeated_is_answered_as_before_whatever_came_since(bought: Served) -> None:
    book = bought.book()
    digest = book.settlement(month="2026-09").digest
    status, _, entry = close(bought, digest, "close-of-september")
    assert 201 == status

    book.put_column_profile(PROFILE)
    give(bought, "BIRCH", "2026-09-20,Top-up,,50,50,350.00\n", from_day=FIRST_DAY, to_day=SEPTEMBER_30)
    assert book.reconciliation(month="2026-09").undecided
    assert (201, "true", entry) == close(bought, digest, "close-of-september")

    book.reopen(month="2026-09", reason="an invoice came late")
    book.record(Draw(member="CEDAR", quantity=1), effective_on=SEPTEMBER_30)
    assert digest != book.settlement(month="2026-09").digest
    assert (201, "true", entry) == close(bought, digest, "close-of-september")
    assert (409, None) == close(bought, digest, "another-key-of-september")[:2]


def test_a_key_of_another_close_is_refused(bought: Served) -> None:
    digest = bought.book().settlement(month="2026-09").digest
    close(bought, digest, "close-of-september")

    status, _, answer = close(bought, "0" * 64, "close-of-september")

    assert isinstance(answer, dict)
    assert (422, "key-reused") == (status, answer["code"])


def test_a_member_that_joins_later_finances_nothing_of_a_month_before(bought: Served) -> None:
    found = bought.client("keeper").book(POOL).terms()
    shares = replace(found.value, policy=replace(found.value.policy, stock_funding=StockFunding.SHARES))
    bought.client("keeper").put_pool(shares, tag=found.tag)
    bought.book().put_member(Member(code="ELM", name="Elm Workshop", joined_on=date(2026, 11, 1)))

    carried = bought.book().settlement(month="2026-09").carried

    assert ["ALDER", "BIRCH", "CEDAR", "DOGWOOD"] == [each.member for each in carried]
    assert "ELM" in {each.member for each in bought.book().settlement(month="2026-11").carried}


def test_who_bore_what_was_lost_of_the_stock_stays_as_it_was_at_the_close(bought: Served) -> None:
    book = bought.book()
    book.record(WriteOff(holder="stock", quantity=8, reason=WriteOffReason.EXPIRED), effective_on=SEPTEMBER_30)
    close(bought, book.settlement(month="2026-09").digest, "close-of-september")
    sheet = book.sheet(month="2026-09")
    assert {Decimal("-14.00")} == {each.due.stock_write_offs for each in sheet.members}

    found = book.member(code="BIRCH")
    book.put_member(replace(found.value, share=5), tag=found.tag)
    book.put_member(Member(code="ELM", name="Elm Workshop", joined_on=FIRST_DAY))

    assert sheet.members == book.sheet(month="2026-09").members
    assert [] == list(book.verification().findings)
