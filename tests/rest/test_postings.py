"""A month as double entry over HTTP: it ties to the statement to the cent, under the holder's own account codes."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from pool_client.errors import Missing, NotAllowed, Refused
from pool_client.models.bookkeeping import AccountCodes, Postings
from pool_client.models.entries import Charge, Draw, Payment, Use

from tests.rest.test_worked_example import MONTH, d, record_example
from tests.served import SHOPS, Served


@pytest.fixture
def closed(service: Served) -> Served:
    """The worked example, closed."""
    record_example(service)
    book = service.book()
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    return service


def moved(found: Postings) -> dict[str, Decimal]:
    return {each.role: each.debit - each.credit for each in found.accounts}


def sides(found: Postings) -> list[dict[str, Decimal]]:
    """Give each transaction's amounts by role, debits above 0."""
    nothing = Decimal()
    return [
        {one.role: (one.debit or nothing) - (one.credit or nothing) for one in each.postings}
        for each in found.transactions
    ]


def test_the_ledger_of_a_shop_of_the_worked_example(closed: Served) -> None:
    found = closed.book().postings(month=MONTH, holder="BIRCH")

    assert ("closed", "EUR") == (found.state, found.currency)
    assert [
        (date(2026, 9, 3), 4, "draw from stock"),
        (date(2026, 9, 9), 12, "use of CAL-M on job J-2"),
        (date(2026, 9, 30), None, "loans settled with DOGWOOD"),
        (date(2026, 9, 30), None, "settlement of 2026-09"),
    ] == [(each.on, each.entry, each.text) for each in found.transactions]
    assert [
        {"credits": d("1060.00"), "pool": d("-1060.00")},
        {"used": d("777.33"), "credits": d("-777.33")},
        {"pool": d("98.93"), "lending": d("0.01"), "credits": d("-98.94")},
        {"pool": d("961.07"), "settlement": d("-961.07")},
    ] == sides(found)
    assert {
        "credits": d("183.73"),
        "pool": d("0.00"),
        "settlement": d("-961.07"),
        "used": d("777.33"),
        "lending": d("0.01"),
    } == moved(found)


@pytest.mark.parametrize("holder", SHOPS)
def test_the_accounts_end_where_the_statement_does(closed: Served, holder: str) -> None:
    statement = closed.book().statement(month=MONTH, member=holder)

    accounts = moved(closed.book().postings(month=MONTH, holder=holder))

    assert statement.closing.own.cost == accounts["credits"]
    assert statement.carried_forward == accounts.get("pool", d("0.00"))
    assert -statement.lending_gain == accounts.get("lending", d("0.00"))
    to_come = sum((each.amount if each.direction == "to expect" else -each.amount) for each in statement.payments)
    assert to_come == accounts["settlement"]


def test_the_stock_books_what_it_holds_against_what_it_owes(closed: Served) -> None:
    found = closed.book().postings(month=MONTH, holder="stock")

    assert {"credits": d("1342.67"), "pool": d("-1342.67")} == moved(found)
    assert "draw by ALDER" in [each.text for each in found.transactions]


def test_an_open_month_is_booked_as_far_as_it_has_come(service: Served) -> None:
    record_example(service)
    found = service.book().postings(month=MONTH, holder="ALDER")

    assert ("open", d("2602.00")) == (found.state, moved(found)["pool"])
    assert "settlement" not in moved(found)


def test_a_payment_of_a_settlement_and_what_is_reversed_later_are_booked_in_their_month(closed: Served) -> None:
    book = closed.book()
    book.record(
        Payment(from_member="BIRCH", to_member="ALDER", amount=d("961.07"), pays="2026-09-1"),
        effective_on=date(2026, 10, 5),
    )
    closed.send("POST", "/reversals", {"entry": 12, "quantity": 10, "effective_on": "2026-10-06"})

    found = book.postings(month="2026-10", holder="BIRCH")

    assert [
        (16, "payment from BIRCH to ALDER for 2026-09-1"),
        (17, "reversal of entry 12: use of CAL-M on job J-2"),
    ] == [(each.entry, each.text) for each in found.transactions]
    assert [
        {"settlement": d("961.07"), "bank": d("-961.07")},
        {"credits": d("70.67"), "used": d("-70.67")},
    ] == sides(found)


def test_the_codes_that_a_holder_has_stated_stand_on_its_postings(closed: Served) -> None:
    clerk = closed.book("clerk")
    made = clerk.put_account_codes(AccountCodes(holder="ALDER", credits="1400", pool="1500/7"))

    assert made == clerk.account_codes(holder="ALDER")
    codes = {each.role: each.account for each in clerk.postings(month=MONTH, holder="ALDER").accounts}
    assert {"credits": "1400", "pool": "1500/7", "settlement": "SETTLEMENT", "bank": "BANK", "used": "USED"} == codes
    assert {"CREDITS"} == {
        each.account for each in closed.book().postings(month=MONTH, holder="BIRCH").accounts if each.role == "credits"
    }


def test_codes_that_were_never_stated_are_not_there_and_the_stock_can_have_some(service: Served) -> None:
    with pytest.raises(Missing):
        service.book().account_codes(holder="stock")

    service.book().put_account_codes(AccountCodes(holder="stock", credits="S-1"))

    assert "S-1" == service.book("reader").account_codes(holder="stock").value.credits


@pytest.mark.parametrize("code", ["=1+1", "", "a b", "x" * 21])
def test_a_code_is_a_short_word(service: Served, code: str) -> None:
    assert 422 == service.send("PUT", "/account-codes/ALDER", {"credits": code}).status_code


def test_a_clerk_reads_its_own_books_only(closed: Served) -> None:
    clerk = closed.book("clerk")

    assert clerk.postings(month=MONTH, holder="ALDER").transactions
    for holder in ("BIRCH", "stock"):
        with pytest.raises(NotAllowed):
            clerk.postings(month=MONTH, holder=holder)
        with pytest.raises(NotAllowed):
            clerk.put_account_codes(AccountCodes(holder=holder))
    assert closed.book("reader").postings(month=MONTH, holder="stock").transactions


def test_the_csv_has_a_line_for_each_posting_and_no_formula(service: Served) -> None:
    record_example(service)
    book = service.book()
    charge = Charge(from_member="ALDER", to_member="BIRCH", amount=d("12.50"), reason="=1+1")
    book.record(charge, effective_on=date(2026, 9, 10))
    book.record(Draw(member="ALDER", quantity=1), effective_on=date(2026, 9, 11))
    book.record(Use(member="ALDER", quantity=1, item="=cmd", job="J-9"), effective_on=date(2026, 9, 11))

    text = book.postings_csv(month=MONTH, holder="ALDER")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))

    assert text.startswith('"transaction","day","entry","text","account","role","debit","credit","currency"\r\n')
    assert [("15", "2026-09-10", "CHARGES", "12.50", ""), ("15", "2026-09-10", "POOL", "", "12.50")] == [
        (row["entry"], row["day"], row["account"], row["debit"], row["credit"]) for row in rows if row["entry"] == "15"
    ]
    assert not [row for row in rows if row["text"].startswith(("=", "+", "-", "@"))]
    for transaction in {row["transaction"] for row in rows}:
        own = [row for row in rows if row["transaction"] == transaction]
        debits, credits = (sum(Decimal(row[side] or 0) for row in own) for side in ("debit", "credit"))
        assert debits == credits > 0
    answer = service.send("GET", f"/months/{MONTH}/postings/ALDER", Accept="text/csv")
    assert f'attachment; filename="postings-riverside-ALDER-{MONTH}.csv"' == answer.headers["content-disposition"]
    with pytest.raises(Refused):
        book.record(Draw(member="ALDER", quantity=1_000_000))
