"""Whose a vendor account is, day by day, when the journal is compared with the record and differences are mended.

Own cases.
"""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client.models.directory import Handle, Member
from pool_client.models.entries import Loan, Purchase, Relocation, Use
from pool_client.models.vendor import ColumnProfile, Reconciliation

from tests.served import FIRST_DAY, POOL, Served

PROFILE = ColumnProfile(
    name="norvane",
    day="Booked",
    kind="Action",
    counterparty="Other account",
    quantity="Credits",
    balance="Balance after",
    amount="Paid",
    kind_words={"sent": "sent", "received": "received", "unlock": "use", "top-up": "purchase"},
)
HEADER = "Booked,Action,Other account,Credits,Balance after,Paid\n"
SEPTEMBER = {"from_day": date(2026, 9, 1), "to_day": date(2026, 9, 30)}
OCTOBER = {"from_day": date(2026, 10, 1), "to_day": date(2026, 10, 31)}


@pytest.fixture
def recorded(service: Served) -> Served:
    """100 credits bought into ALDER's own account, 20 of them lent to CEDAR, in September; a column profile."""
    book = service.book()
    book.put_column_profile(PROFILE)
    bought = Purchase(into="ALDER", paid_by="ALDER", quantity=100, amount=Decimal("700.00"))
    book.record(bought, effective_on=date(2026, 9, 2))
    book.record(Loan(lender="ALDER", borrower="CEDAR", quantity=20), effective_on=date(2026, 9, 3))
    return service


def give(served: Served, member: str, rows: str, *, from_day: date | None = None, to_day: date | None = None) -> None:
    served.book().import_record(
        (HEADER + rows).encode(), member=member, profile="norvane", from_day=from_day, to_day=to_day
    )


def rename(served: Served, member: str, *handles: Handle) -> None:
    found = served.book().member(code=member)
    changed = Member(code=member, name=found.value.name, joined_on=found.value.joined_on, handles=handles)
    served.book().put_member(changed, tag=found.tag)


def september(served: Served) -> Reconciliation:
    return served.book().reconciliation(month="2026-09")


def accept(served: Served, month: str, **fields: str) -> Any:
    (difference,) = served.book().reconciliation(month=month).differences
    asked = {"difference": difference.key, "verdict": "accepted", "reason": "as the vendor shows", "fields": fields}
    return served.send("POST", f"/reconciliations/{month}/decisions", asked)


def test_an_export_without_rows_that_tells_one_end_of_its_days_covers_nothing(recorded: Served) -> None:
    give(recorded, "CEDAR", "", from_day=date(2026, 9, 1))

    assert ((), ()) == (september(recorded).differences, september(recorded).proof)


def test_an_account_that_is_spelled_otherwise_since_is_the_same_account(recorded: Served) -> None:
    give(recorded, "CEDAR", "2026-09-03,Received,nv-alder,20,20,\n", **SEPTEMBER)

    rename(recorded, "CEDAR", Handle(handle="NV-Cedar", since=FIRST_DAY))

    (proof,) = september(recorded).proof
    assert ("NV-Cedar", "CEDAR", True) == (proof.account, proof.member, proof.balanced)


def test_the_record_of_an_account_that_is_nobodys_now_is_left_out_and_said_to_be(recorded: Served) -> None:
    give(recorded, "CEDAR", "2026-09-03,Received,nv-alder,20,20,\n", **SEPTEMBER)

    rename(recorded, "CEDAR", Handle(handle="nv-cedar-2", since=FIRST_DAY))

    assert () == september(recorded).proof
    assert ["The record of nv-cedar is left out: no member has or had this vendor account."] == list(
        september(recorded).limits
    )


def test_two_members_can_not_have_one_account_in_two_spellings(recorded: Served) -> None:
    found = recorded.send("GET", "/members/BIRCH")
    changed = {**found.json(), "handles": [{"handle": "NV-CEDAR", "since": "2026-09-01"}]}
    del changed["code"]

    refused = recorded.send("PUT", "/members/BIRCH", changed, If_Match=found.headers["etag"])

    assert (409, "handle-taken") == (refused.status_code, refused.json()["code"])


def test_a_use_is_recorded_for_whose_the_account_was_on_its_day(recorded: Served) -> None:
    give(recorded, "CEDAR", "2026-09-03,Received,nv-alder,20,20,\n2026-09-10,Unlock,,-5,15,\n", **SEPTEMBER)
    rename(
        recorded,
        "CEDAR",
        Handle(handle="nv-cedar", since=FIRST_DAY),
        Handle(handle="nv-cedar-2", since=date(2026, 10, 1)),
    )
    rename(
        recorded,
        "DOGWOOD",
        Handle(handle="nv-dogwood", since=FIRST_DAY),
        Handle(handle="nv-cedar", since=date(2026, 10, 1)),
    )

    mended = accept(recorded, "2026-09", item="DYNO", job="J-1")

    assert 201 == mended.status_code, mended.json()
    recorded_use = recorded.book().entry(number=mended.json()["entries"][0]).entry.body
    assert Use(member="CEDAR", quantity=5, item="DYNO", job="J-1") == recorded_use


def test_a_purchase_goes_into_the_stock_in_the_account_of_its_custodian_on_that_day(service: Served) -> None:
    terms = service.send("GET", f"/v1/pools/{POOL}")
    changed = {**terms.json(), "custodian": "ALDER"}
    del changed["id"]
    assert 200 == service.send("PUT", f"/v1/pools/{POOL}", changed, If_Match=terms.headers["etag"]).status_code
    book = service.book()
    book.put_column_profile(PROFILE)
    book.record(
        Purchase(into="stock", paid_by="ALDER", quantity=10, amount=Decimal("70.00")), effective_on=date(2026, 9, 2)
    )
    book.record(Relocation(from_member="ALDER", to_member="BIRCH", quantity=10), effective_on=date(2026, 9, 20))
    give(service, "BIRCH", "2026-10-05,Top-up,,50,60,350.00\n", **OCTOBER)

    mended = accept(service, "2026-10", paid_by="ALDER")

    assert 201 == mended.status_code, mended.json()
    purchase = Purchase(into="stock", paid_by="ALDER", quantity=50, amount=Decimal("350.00"))
    assert purchase == book.entry(number=mended.json()["entries"][0]).entry.body


@pytest.mark.parametrize(
    "fields",
    [
        {"quantity": "x"},
        {"lender": "nobody"},
        {"into": "nobody"},
        {"amount": "NaN"},
        {"amount": "Infinity"},
        {"amount": "1E+20000000"},
        {"paid_by": "nobody"},
        {"effective_on": "2026-9-5"},
    ],
    ids=lambda fields: "-".join(*fields.items()),
)
def test_what_a_mend_did_not_ask_for_or_cannot_read_is_refused(recorded: Served, fields: dict[str, str]) -> None:
    give(recorded, "ALDER", "2026-09-20,Top-up,,50,130,350.00\n", **SEPTEMBER)
    found = [each for each in september(recorded).differences if each.mend and "paid_by" in each.mend.asks]
    asked = {"difference": found[0].key, "verdict": "accepted", "reason": "bought", "fields": fields}

    refused = recorded.send("POST", "/reconciliations/2026-09/decisions", asked)

    assert (422, "invalid-request") == (refused.status_code, refused.json()["code"])
    assert 2 == recorded.book().verification().entries
