"""What people are shown: the figures, what is absent, and what they have to know besides."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client import show, show_books
from pool_client.calls import bookkeeping, reading
from pool_client.calls.call import Answer, Call
from pool_client.models.directory import PolicyFrom
from pool_client.models.entries import Entry, Opening, OpeningMember
from pool_client.models.months import Costed, MemberAmount, SheetWarning, UnitCost
from pool_client.models.statements import Blended
from pool_client.table import Table, plain

from tests.clients.document import OPERATIONS, answer_schema, sample
from tests.clients.samples import DAY

NOTHING = Costed(quantity=0, cost=Decimal("0.00"))
SOME = Costed(quantity=1_500, cost=Decimal("10600.00"))


def given(call: Call[Any]) -> Any:
    """Give what a call would give of a service that says all it can."""
    told = sample(answer_schema(OPERATIONS[call.method, call.path]) or {}, full=True)
    return call.understand(Answer(status=200, headers={}, content=json.dumps(told).encode()))


def lines(tables: list[Table]) -> list[str]:
    return [line for table in tables for line in plain(table)]


SHEET = given(reading.sheet("riverside", month="2026-11"))
SETTLEMENT = given(reading.settlement("riverside", month="2026-11"))
STATEMENT = given(reading.statement("riverside", month="2026-11", member="DOGWOOD"))
POSITIONS = given(reading.positions("riverside"))
ENTRY: Entry = given(reading.entry("riverside", number=42)).entry


def test_figures_have_their_thousands_set_off_and_what_is_absent_is_a_dash() -> None:
    member = replace(
        SHEET.members[0], available=SOME, uses=NOTHING, lending_gain=Decimal("0.00"), blended_unit_cost=None
    )
    row = show.sheet(replace(SHEET, members=(member,)))[0].rows[0]

    assert ("ALDER", "1,500 / 10,600.00", "–") == row[:3]
    assert ("–", "–") == (row[4], row[6])


def test_a_sheet_says_whether_it_can_still_change_and_where_its_price_comes_from() -> None:
    price = UnitCost(shown=Decimal("7.0667"), exact="2120/3")

    assert "Month 2026-11 (open, as far as it has come)" == show.sheet(replace(SHEET, state="open"))[0].title
    assert "Month 2026-11 (closed)" == show.sheet(replace(SHEET, state="closed"))[0].title
    assert "Pool price 7.0667 = 2120/3 minor units." in lines(show.sheet(replace(SHEET, pool_price=price)))
    assert not any("Pool price" in line for line in lines(show.sheet(replace(SHEET, pool_price=None))))


def test_a_sheet_tells_its_warnings_and_loans_where_there_are_some() -> None:
    warning = SheetWarning(rule="below_zero", on=date(2026, 11, 3), holder="BIRCH", size=24)
    lists = ("loans_settled", "loans_agreed", "loans_carried", "loans_returned", "carried_settled", "open_loans")
    bare = replace(SHEET, **dict.fromkeys(lists, ()), warnings=(), saving=None)

    assert "Warning: BIRCH below zero by 24 on 2026-11-03." in lines(show.sheet(replace(SHEET, warnings=(warning,))))
    assert [
        *("Loans settled", "Loans carried on", "Returned of earlier loans"),
        *("Settled of earlier loans", "Open loans", "Saving shared by one unit price"),
    ] == [table.title for table in show.sheet(SHEET)[1:]]
    assert 1 == len(show.sheet(bare))


def test_a_sheet_tells_what_keeps_its_month_from_being_closed() -> None:
    assert f"Can't be closed: {SHEET.obstacle.detail}" in lines(show.sheet(SHEET))
    assert not any("Can't be closed" in line for line in lines(show.sheet(replace(SHEET, obstacle=None))))


@pytest.mark.parametrize(("proven", "words"), [(True, "no plan has fewer"), (False, "no plan has fewer than 1")])
def test_a_settlement_says_how_good_its_plan_is(proven: bool, words: str) -> None:
    payments = show.settlement(replace(SETTLEMENT, proven=proven, lower_bound=1))[1]

    assert f"1 payments; {words}" == payments.title
    assert f"Digest: {SETTLEMENT.digest}" in payments.words
    assert {*SETTLEMENT.cautions} <= {*payments.words}


def test_policies_name_pairs_apart_as_they_are_written() -> None:
    pairs = (("ALDER", "BIRCH"), ("ALDER", "CEDAR"))
    told = [PolicyFrom(from_month="2026-11"), PolicyFrom(from_month="2026-12", no_payments_between=pairs)]

    assert ("no payments between", "–", "ALDER+BIRCH, ALDER+CEDAR") in show.policies(told)[0].rows


def test_a_settlement_says_who_passes_money_on_and_who_is_stuck() -> None:
    passed_on = replace(SETTLEMENT, go_betweens=("CEDAR", "DOGWOOD"), unpayable=())
    stuck = replace(SETTLEMENT, go_betweens=(), unpayable=("ALDER", "BIRCH"))

    assert "Both pay and receive: CEDAR, DOGWOOD." in lines(show.settlement(passed_on))
    assert "No payments are planned: ALDER, BIRCH can't pay or be paid as the pool's pairs stand." in lines(
        show.settlement(stuck)
    )


def test_a_settlement_brings_forward_what_is_carried_and_what_is_small() -> None:
    def amounts(**given: str) -> tuple[MemberAmount, ...]:
        return tuple(MemberAmount(member=member, amount=Decimal(amount)) for member, amount in given.items())

    found = replace(
        SETTLEMENT,
        carried=amounts(ALDER="1250.00", BIRCH="300.00"),
        small=amounts(ALDER="-0.40", CEDAR="0.40"),
        nets=amounts(BIRCH="12.00"),
    )

    assert (
        ("ALDER", "1,249.60", "–"),
        ("BIRCH", "300.00", "12.00"),
        ("CEDAR", "0.40", "–"),
    ) == show.settlement(found)[0].rows


def test_a_statement_says_how_its_blended_unit_cost_came_about() -> None:
    draws = Costed(quantity=60, cost=Decimal("424.00"))
    blended = Blended(
        from_={"draws": draws, "loans_to_it": Costed(quantity=44, cost=Decimal("310.93"))},
        available=Costed(quantity=104, cost=Decimal("734.93")),
        uses=NOTHING,
        unit_cost=Decimal("7.0666"),
    )
    shown = lines(show.statement(replace(STATEMENT, blended=blended)))

    cost = "Blended unit cost 7.0666 over 104 credits that cost 734.93"
    assert f"{cost}: draws 60 / 424.00, loans to it 44 / 310.93." in shown
    nothing = Blended(from_={}, available=NOTHING, uses=NOTHING)
    assert "Blended unit cost – over 0 credits that cost 0.00." in lines(
        show.statement(replace(STATEMENT, blended=nothing))
    )


def test_a_statement_tells_loans_dues_payments_and_what_it_rests_on() -> None:
    shown = show.statement(replace(STATEMENT, too_small_to_pay=Decimal("-0.40")))

    assert [
        *("Loans settled", "Loans carried on", "Returned of earlier loans"),
        *("Settled of earlier loans", "Open loans", "Due", "Payments"),
    ] == [table.title for table in shown[1:]]
    assert ("too small to pay", "-0.40") == shown[-2].rows[-1]
    assert ("to make", "BIRCH", "961.07", "0.00") == shown[-1].rows[0]
    assert {f"Rests on entry 14, hash {'0' * 64}.", *STATEMENT.cautions} == {*shown[-1].words}
    lists = ("loans", "loans_carried", "loans_returned", "carried_settled", "open_loans")
    assert 3 == len(show.statement(replace(STATEMENT, **dict.fromkeys(lists, ()))))


def test_a_payment_file_is_shown_to_be_compared_with_what_is_left_out_where_there_is_something() -> None:
    found = given(bookkeeping.payment_file("riverside", month="2026-11", member="ALDER"))
    tables = show_books.payment_file(found)

    assert ["From", "Left out"] == [tables[0].title.split()[0], tables[1].title]
    assert (found.transfers[0].to.iban, str(found.transfers[0].to.changed_at)) == tables[0].rows[0][3:5]
    assert {f"Name: {found.name}", *found.cautions} == {*tables[0].words}
    assert 1 == len(show_books.payment_file(replace(found, left_out=())))


def test_postings_are_shown_a_line_each_and_what_the_accounts_moved_by() -> None:
    found = given(bookkeeping.postings("riverside", month="2026-11", holder="ALDER"))
    posting = replace(found.transactions[0].postings[0], account="1400", debit=Decimal("1060.00"), credit=None)
    at_the_end = replace(found.transactions[0], entry=None, postings=(posting,))
    tables = show_books.postings(replace(found, transactions=(at_the_end,)))

    assert ("–", "1400", "1,060.00", "–") == (tables[0].rows[0][0], *tables[0].rows[0][3:])
    assert found.cautions[-1] in tables[1].words


def test_positions_tell_of_which_day_they_are() -> None:
    assert show.positions(replace(POSITIONS, as_of=None))[0].title.startswith("Positions now (")
    assert show.positions(replace(POSITIONS, as_of=DAY))[0].title.startswith("Positions at the end of 2026-11-03 (")
    assert "Stock: 3 credits, in the vendor account of nobody named." in lines(
        show.positions(replace(POSITIONS, stock=3, custodian=None))
    )


def test_a_receipt_is_one_line() -> None:
    assert [
        "Recorded as entry 42 of 2026-11-03: loan, lender BIRCH, borrower DOGWOOD, quantity 24, unit price 7.5."
    ] == lines(show.recorded(ENTRY))


def test_an_entry_says_only_what_fits_into_a_line() -> None:
    opening = Opening(members=(OpeningMember(member="DOGWOOD"),), stock_quantity=10, stock_cost=Decimal(70))

    assert "stock quantity 10, stock cost 70" == show.entries([replace(ENTRY, body=opening)])[0].rows[0][3]


def test_a_verification_says_in_words_whether_the_book_holds() -> None:
    found = given(reading.verification("riverside"))

    assert ("Every number, hash and projection holds.",) == show.verification(replace(found, sound=True))[0].words
    assert ("The journal does not hold.",) == show.verification(replace(found, sound=False))[0].words
