"""The third job in a real browser, on a phone and on a desk: a joint order from its plan to its draws; and every page
of buying and cost keeps nobody out."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from playwright.sync_api import Page, ViewportSize, expect
from pool_client import Book
from pool_client.models.buying import Tier
from pool_client.models.catalogue import Item
from pool_client.models.entries import Command, Draw, Purchase

from tests.browser.conftest import DESK, PATIENCE_MS, PHONE, Open, Scheme
from tests.browser.test_jobs import SCRIPT, see_effect
from tests.browser.test_walk import LOOKS, flaws, picture
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


@pytest.fixture
def asked(house: Served, laddered: str) -> tuple[str, tuple[str, ...]]:
    """A pool in which something of every kind waits, with the addresses of its pages of buying."""
    book = book_of(house, laddered)
    items = (Item(code="CAL-S", name="Calibration, small", credits=12), Item(code="CAL-M", name="More", credits=20))
    for since in (FIRST_DAY, date(2026, 11, 1)):
        book.put_catalogue(items[: 1 + (since > FIRST_DAY)], valid_from=since)
    made = book.open_round(deadline=house.clock.at + timedelta(days=3), note="for December").round_id
    for member, quantity in (("ALDER", 120), ("BIRCH", 60)):
        book.put_commitment(round_id=made, member=member, quantity=quantity)
    book.ask(member="CEDAR", quantity=14, needed_by=house.clock.at + timedelta(hours=5), note="customer waiting")
    book.put_need(40, member="CEDAR", month="2026-12", reason="a contract")
    planned = book.plan_orders(12, holding_cost=Decimal("0.05"), order_cost=Decimal(20)).plan_id
    paths = (
        "",
        "/requests",
        "/buying",
        f"/buying/rounds/{made}",
        f"/buying/rounds/{made}/close",
        "/buying/needs",
        "/buying/needs/CEDAR/2026-12",
        "/buying/plans",
        f"/buying/plans/{planned}",
        "/buying/ladders?quantity=95",
        "/buying/ladders/new",
        f"/buying/ladders/{FIRST_DAY}/change",
        "/buying/catalogue",
        "/buying/catalogue/2026-11-01/changes",
        "/cost",
    )
    return laddered, paths


@pytest.mark.parametrize(("size", "scheme"), LOOKS, ids=[f"{size['width']} {scheme}" for size, scheme in LOOKS])
def test_no_page_of_buying_keeps_anybody_out(
    asked: tuple[str, tuple[str, ...]], open_page: Open, size: ViewportSize, scheme: Scheme
) -> None:
    pool, paths = asked
    page = open_page(pool, size=size, scheme=scheme)
    found = {}
    for path in (f"/book/{pool}{each}" for each in paths):
        answer = page.goto(path)
        assert answer is not None
        assert answer.ok, path
        if wrong := [*flaws(page), *_undrawn(page)]:
            found[path] = wrong
        picture(page, path, size, scheme)

    assert {} == found


def _undrawn(page: Page) -> list[str]:
    """Give the pictures that didn't come."""
    found: list[str] = page.evaluate("[...document.images].filter(each => !each.naturalWidth).map(each => each.src)")
    return found
