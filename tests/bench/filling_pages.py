"""What the pages show beside entries: ladder, catalogues, the vendor's record, orders, requests, needs, people; entered
through the client, as anybody would, into a book that is filled already."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from pool_client import Book
from pool_client.models.buying import Tier
from pool_client.models.catalogue import Item
from pool_client.models.directory import Handle, Role
from pool_client.models.entries import Draw, Entry, Loan, Return, Use
from pool_client.models.vendor import ColumnProfile, ImportMade

from tests.bench.filling import MONTH, NOW
from tests.served import Served, join

ON_FILE = ("SHOP-000", "SHOP-001", "SHOP-002", "SHOP-003")
"""Members who have handed in the vendor's record of their accounts."""
CUSTODIAN = "SHOP-004"
COMMITTED, ASKED, PEOPLE, HANDED, ITEMS = 8, 5, 6, 4, 180
COMING = "2026-12"
EARLIER, LATER = date(2026, 10, 1), date(2026, 10, 15)
"""The days that the catalogues are valid from."""

_LEFT_OUT = 25
"""Every so manieth row isn't in the vendor's record."""
_PROFILE = ColumnProfile(
    name="vendor",
    day="Booked",
    kind="Action",
    counterparty="Other account",
    quantity="Credits",
    note="Remark",
    kind_words={"sent": "sent", "received": "received", "unlock": "use"},
)


def furnish(served: Served) -> dict[str, str]:
    """Enter all of it, and give what addresses of pages name: a round, a plan, an import, a file of the vendor's."""
    book = served.book()
    _enter_accounts(book)
    for day, dearer in ((EARLIER, 0), (LATER, 1)):
        book.put_catalogue([_item(number, dearer) for number in range(1, ITEMS + 1)], valid_from=day)
    tiers = [Tier(from_credits=10**power, unit_price=Decimal(11 - 2 * power)) for power in range(4)]
    book.put_ladder(tiers, valid_from=MONTH.first)
    taken = [_import(book, member) for member in ON_FILE]
    _hand_differences(book)
    for number in range(PEOPLE):
        join(served, f"somebody {number}", f"somebody {number}", role=Role.CLERK, member="SHOP-003")
        book.invite(role=Role.CLERK, member="SHOP-003", note="at the counter")
    book.put_need(250, member="SHOP-003", month=COMING, reason="a contract")
    for number in range(ASKED):
        book.ask(member=f"SHOP-{20 + number:03d}", quantity=3, needed_by=NOW + timedelta(hours=4))
    opened = book.open_round(deadline=NOW + timedelta(days=3)).round_id
    for number in range(COMMITTED):
        book.put_commitment(round_id=opened, member=f"SHOP-{number:03d}", quantity=40 + number)
    plan = book.plan_orders(12, order_cost=Decimal(20), holding_cost=Decimal("0.05")).plan_id
    return {"round": opened, "plan": plan, "import_id": taken[0].import_id, "file": _file(book, ON_FILE[0])}


def _enter_accounts(book: Book) -> None:
    for member in book.members():
        handles = (Handle(handle=_handle(member.code), since=MONTH.first),)
        book.put_member(replace(member, handles=handles), tag=book.member(code=member.code).tag)
    book.put_column_profile(_PROFILE)


def _handle(member: str) -> str:
    return f"nv-{member.lower()}"


def _item(number: int, dearer: int) -> Item:
    return Item(code=f"TUNE-{number}", name=f"Tuning of kind {number}", credits=1 + number % 24 + dearer)


def _import(book: Book, member: str) -> ImportMade:
    content = _file(book, member).encode()
    return book.import_record(
        content, member=member, profile=_PROFILE.name, from_day=MONTH.first, to_day=date(2026, 10, 31)
    )


def _file(book: Book, member: str) -> str:
    """Give an account's record as the vendor exports it, with some rows left out and nothing of reversals."""
    rows = (row for entry in book.entries(member=member, limit=200) for row in _rows(entry, member))
    kept = [row for at, row in enumerate(rows) if at % _LEFT_OUT]
    return "\n".join(["Booked,Action,Other account,Credits,Remark", *kept, ""])


def _rows(entry: Entry, member: str) -> Iterator[str]:
    match entry.body:
        case Use(quantity=quantity):
            yield f"{entry.effective_on},Unlock,,{-quantity},{entry.note}"
        case Draw(quantity=quantity):
            yield f"{entry.effective_on},Received,{_handle(CUSTODIAN)},{quantity},{entry.note}"
        case (
            Loan(lender=giver, borrower=taker, quantity=quantity)
            | Return(borrower=giver, lender=taker, quantity=quantity)
        ):
            gives = giver == member
            other, change = (taker, -quantity) if gives else (giver, quantity)
            said = f"{_handle(other)},{change},{entry.note}"
            yield f"{entry.effective_on},{'Sent' if gives else 'Received'},{said}"


def _hand_differences(book: Book) -> None:
    found = book.reconciliation(month=str(MONTH))
    for each in found.differences[:HANDED]:
        book.hand(month=str(MONTH), difference=each.key, member=ON_FILE[0], word="what was this?")
