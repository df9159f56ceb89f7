"""The vendor's record in a real browser: a file dropped, looked at, taken; mended, undone, confirmed, signed off."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from playwright.sync_api import FilePayload, Page, expect
from pool_client.models.entries import Command, Draw, Purchase

from tests.browser.conftest import Open
from tests.browser.test_forms import SCRIPT
from tests.served import Served

MONTH = "2026-09"
HEADER = b"Booked,Action,Other account,Credits,Remark,Balance after\n"
EXPORT = HEADER + (
    b"2026-09-02,Top-up,,+100,,100\n"
    b"2026-09-03,Sent,nv-birch,-25,,75\n"
    b"2026-09-04,Sent,nv-birch,-15,the rest,60\n"
    b"2026-09-05,Sent,nv-dogwood,-7,for a van,53\n"
    b"2026-09-09,Sent,nv-cedar,-3,,50\n"
    b"2026-09-10,Gift,nv-cedar,-1,,49\n"
)


@pytest.fixture
def kept(house: Served, pool: str) -> str:
    """A pool whose stock is in ALDER's account: 100 bought, BIRCH drew 40, and ALDER 20 within its own account."""
    keeper = house.client(f"{pool} keeper")
    terms = keeper.book(pool).terms()
    keeper.put_pool(replace(terms.value, custodian="ALDER"), tag=terms.tag)
    bodies = (
        (2, Purchase(paid_by="ALDER", quantity=100, amount=Decimal("700.00"))),
        (3, Draw(member="BIRCH", quantity=40)),
        (4, Draw(member="ALDER", quantity=20)),
    )
    commands = [Command(body=body, effective_on=date(2026, 9, day)) for day, body in bodies]
    keeper.book(pool).record_all(commands)
    return pool


def look_at_file(page: Page, pool: str, content: bytes = EXPORT) -> None:
    page.goto(f"/book/{pool}/vendor")
    page.get_by_role("link", name="Bring in a file", exact=True).click()
    page.get_by_label("The file").set_input_files(FilePayload(name="export.csv", mimeType="text/csv", buffer=content))
    page.get_by_label("Whose account it is").select_option("ALDER")
    page.get_by_role("button", name="See how it is understood").click()


@SCRIPT
def test_a_month_is_matched_mended_and_signed_off(house: Served, kept: str, open_page: Open, *, script: bool) -> None:
    page, book = open_page(kept, script=script), house.book(f"{kept} keeper", kept)
    look_at_file(page, kept)
    expect(page.get_by_label("Credits", exact=True)).to_have_value("quantity")
    page.get_by_label("“gift”").select_option("ignored")
    page.get_by_role("button", name="That is right: take it").click()
    expect(page.get_by_role("status")).to_contain_text("5 new rows, 0 on file already")
    page.get_by_role("link", name="Compare September 2026").click()

    mend = page.get_by_role("button", name="Mend it: The vendor shows 7 credits")
    page.locator("li.card", has=mend).get_by_text("Change it first").click()
    page.locator("li.card", has=mend).get_by_label("What it was").select_option("draw")
    mend.click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 4.")
    page.get_by_role("button", name="Undo entry 4").click()
    expect(page.get_by_role("status")).to_contain_text("Undone by entry 5.")

    page.get_by_role("button", name="Mend it: The vendor shows 3 credits").click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 6.")
    page.get_by_role("button", name="Confirm: 40 credits").click()
    expect(page.get_by_role("status")).to_contain_text("Nothing moves it now")
    page.get_by_label("Although not all is decided and confirmed").check()
    page.get_by_role("button", name="Sign it off").click()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 7.")
    found = book.reconciliation(month=MONTH)
    assert found.sign_off is not None
    assert (7, False) == (found.sign_off.entry, found.sign_off.changed)
