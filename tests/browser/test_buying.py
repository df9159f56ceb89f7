"""Every page of buying and cost in a real browser keeps nobody out."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from playwright.sync_api import Page, ViewportSize
from pool_client.models.catalogue import Item

from tests.browser.conftest import Open, Scheme
from tests.browser.test_walk import LOOKS, flaws, picture
from tests.browser.walking import give_history
from tests.served import FIRST_DAY, Served


@pytest.fixture
def asked(house: Served, pool: str) -> tuple[str, tuple[str, ...]]:
    """A pool in which something of every kind waits, with the addresses of its pages of buying."""
    book = house.book(f"{pool} keeper", pool)
    give_history(book)
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
    return pool, paths


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
