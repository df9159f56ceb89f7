"""A pool whose book and vendor's record of September differ, for the tests of what is done about that. Own cases."""

from datetime import date
from decimal import Decimal
from typing import Any

from pool_client.models.directory import Role
from pool_client.models.entries import Loan, Purchase
from pool_client.models.vendor import ColumnProfile, Difference, Match, Reconciliation

from tests.served import Served

MONTH = "2026-09"
PROFILE = ColumnProfile(
    name="norvane",
    day="Booked",
    kind="Action",
    counterparty="Other account",
    quantity="Credits",
    note="Remark",
    balance="Balance",
    amount="Paid",
    kind_words={"sent": "sent", "received": "received", "unlock": "use", "top-up": "purchase"},
)
HEADER = "Booked,Action,Other account,Credits,Remark,Balance,Paid\n"
BOUGHT = "2026-09-02,Top-up,,100,,100,700.00\n"
LENT = "2026-09-03,Sent,nv-cedar,-20,,80,\n"
SEPTEMBER: dict[str, Any] = {"from_day": date(2026, 9, 1), "to_day": date(2026, 9, 30)}


def recorded(service: Served) -> Served:
    """100 credits bought into ALDER's own account and 20 of them lent to CEDAR, who has a clerk; a column profile."""
    book = service.book()
    book.put_column_profile(PROFILE)
    bought = Purchase(into="ALDER", paid_by="ALDER", quantity=100, amount=Decimal("700.00"))
    book.record(bought, effective_on=date(2026, 9, 2))
    book.record(Loan(lender="ALDER", borrower="CEDAR", quantity=20), effective_on=date(2026, 9, 3))
    service.keys["cedar"] = book.make_key(name="counter", role=Role.CLERK, member="CEDAR").secret or ""
    return service


def give(service: Served, member: str, rows: str) -> None:
    """Import an export of September."""
    service.book().import_record((HEADER + rows).encode(), member=member, profile="norvane", **SEPTEMBER)


def september(service: Served) -> Reconciliation:
    """Compare September."""
    return service.book().reconciliation(month=MONTH)


def found(service: Served, quantity: int) -> Difference:
    """Give the difference about so many credits."""
    (one,) = (each for each in september(service).differences if each.quantity == quantity)
    return one


def matched(service: Served, quantity: int) -> Match:
    """Give the match of so many credits."""
    (one,) = (each for each in september(service).matches if each.quantity == quantity)
    return one


def accept(service: Served, difference: Difference, key: str = "keeper", **fields: Any) -> Any:
    """Accept a difference and give the raw answer."""
    asked = {"difference": difference.key, "verdict": "accepted", "reason": "as the vendor shows", "fields": fields}
    return service.send("POST", f"/reconciliations/{MONTH}/decisions", asked, key=key)


def body(service: Served, answer: Any) -> Any:
    """Give the body of the one entry that an accepted difference recorded."""
    assert 201 == answer.status_code, answer.json()
    (number,) = answer.json()["entries"]
    return service.book().entry(number=number).entry
