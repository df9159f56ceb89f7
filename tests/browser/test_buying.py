"""The third job in a real browser, on a phone and on a desk: a joint order from its plan to its draws."""

from decimal import Decimal

import pytest
from playwright.sync_api import Page, ViewportSize, expect
from pool_client import Book
from pool_client.models.buying import Tier
from pool_client.models.entries import Command, Draw, Purchase

from tests.browser.conftest import DESK, PATIENCE_MS, PHONE, Open
from tests.browser.test_jobs import SCRIPT, see_effect
from tests.rest.test_worked_example import EXAMPLE
from tests.served import FIRST_DAY, Served

STEPS = ((1, "10.00"), (100, "9.00"), (500, "6.90"))


def book_of(house: Served, pool: str) -> Book:
    return house.book(f"{pool} keeper", pool)


@pytest.fixture
def laddered(house: Served, pool: str) -> str:
    """A pool with two months of history, and a ladder."""
    book, day = book_of(house, pool), house.clock.at.date()
    book.record_all([Command(body=body, effective_on=day.replace(month=9, day=on)) for on, body in EXAMPLE])
    tiers = tuple(Tier(from_credits=quantity, unit_price=Decimal(price)) for quantity, price in STEPS)
    book.put_ladder(tiers, valid_from=FIRST_DAY)
    return pool


def plan(page: Page, pool: str) -> None:
    """Have a plan made from what needs are forecast."""
    page.goto(f"/book/{pool}")
    if page.get_by_role("link", name="More").is_visible():
        page.get_by_role("link", name="More").click()
    page.get_by_role("link", name="Buying").last.click()
    page.get_by_role("link", name="Order plans").click()
    page.get_by_label("Months, this one included").fill("6")
    page.get_by_role("button", name="Make the plan").click()
    expect(page.get_by_role("img", name="Orders, needs and what is left over")).to_be_visible(timeout=PATIENCE_MS)


@SCRIPT
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_joint_order_is_planned_answered_and_placed(
    house: Served, laddered: str, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    page = open_page(laddered, size=size, script=script)
    plan(page, laddered)
    page.get_by_role("link", name="Joint orders").click()
    page.get_by_label("Members answer until").fill("2026-11-20T18:00")
    page.get_by_role("button", name="Open it").click()
    expect(page.get_by_role("status")).to_contain_text("It is open.")
    page.goto(f"/book/{laddered}")
    page.get_by_role("link", name="Answer for ALDER").click()
    page.get_by_label("Credits", exact=True).fill("480")
    see_effect(page, script=script)
    # 480 at 9.00 cost 4,320.00, 500 at 6.90 cost 3,450.00
    expect(page.locator("#effect")).to_contain_text("20 credits more would cost 870.00 less in total.")
    page.get_by_role("button", name="Commit").click()
    expect(page.get_by_role("status")).to_contain_text("The answer is on file.")
    page.get_by_label("For whom").select_option("BIRCH")
    page.get_by_label("Credits", exact=True).fill("20")
    see_effect(page, script=script)
    expect(page.locator("#effect")).to_contain_text("500 credits at 6.90 each, 3,450.00 in all")
    page.get_by_role("button", name="Commit").click()
    expect(page.get_by_role("status")).to_contain_text("The answer is on file.")
    page.get_by_role("link", name="Close it: preview the purchase").click()
    page.get_by_label("Who paid").select_option("CEDAR")
    page.get_by_label("didn't answer").check()
    page.get_by_role("button", name="Record the purchase and the draws").click()
    expect(page.get_by_role("status")).to_contain_text("Closed")

    book = book_of(house, laddered)
    assert [
        Purchase(paid_by="CEDAR", into="stock", quantity=500, amount=Decimal("3450.00")),
        Draw(member="ALDER", quantity=480),
        Draw(member="BIRCH", quantity=20),
    ] == [book.entry(number=number).entry.body for number in (15, 16, 17)]
