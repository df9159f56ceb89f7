"""Price lists in a real browser: a file chosen, looked at, put right, entered; a plan's own needs; what is undone; and
that a browser's own complaints are seen. No page of these keeps anybody out."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from playwright.sync_api import FilePayload, Page, ViewportSize, expect
from pool_client.models.buying import Tier
from pool_client.models.catalogue import Item
from pool_client.models.directory import Role
from pool_client.models.entries import Command, Draw, Purchase

from tests.browser.conftest import Open, Scheme
from tests.browser.looks import flaws, picture
from tests.browser.test_forms import SCRIPT, see_effect
from tests.browser.test_second_factor import give_second_factor
from tests.browser.test_walk import LOOKS
from tests.served import FIRST_DAY, Served

LIST = b"Valid from;Order size;Price;Pool price\n01.12.2026;1-49;11,76;9,80\n01.12.2026;51-99;10,92;9,10\n"
ITEMS = b"Item no;Description;Credits;Class\nCAL-S;Calibration, small;12;car\nUNL;Unlock;5;van\nODD;Odd;many;car\n"


@pytest.fixture
def priced(house: Served, pool: str) -> str:
    """A pool with a ladder and a catalogue, in which ALDER holds 60 credits and CEDAR 5."""
    book = house.book(f"{pool} keeper", pool)
    tiers = (Tier(from_credits=1, unit_price=Decimal("10.00")), Tier(from_credits=500, unit_price=Decimal("7.00")))
    book.put_ladder(tiers, valid_from=FIRST_DAY)
    book.put_catalogue((Item(code="CAL-S", name="Calibration", credits=10),), valid_from=FIRST_DAY)
    bought = Purchase(paid_by="ALDER", quantity=100, amount=Decimal("700.00"))
    bodies = (bought, Draw(member="ALDER", quantity=60), Draw(member="CEDAR", quantity=5))
    book.record_all([Command(body=body, effective_on=date(2026, 11, 3)) for body in bodies])
    return pool


def look_at(page: Page, pool: str, place: str, content: bytes) -> None:
    page.goto(f"/book/{pool}/buying/{place}")
    page.get_by_role("link", name="Bring in a file").click()
    page.get_by_label("The file").set_input_files(FilePayload(name="list.csv", mimeType="text/csv", buffer=content))
    if place == "catalogue":
        page.get_by_label("Counts from").fill("2026-12-01")
    page.get_by_role("button", name="See how it is understood").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("is understood")


@SCRIPT
def test_a_price_list_is_put_right_and_entered(house: Served, priced: str, open_page: Open, *, script: bool) -> None:
    page = open_page(priced, script=script)
    look_at(page, priced, "ladders", LIST)
    expect(page.get_by_label("Price", exact=True)).to_have_value("unit_price")
    page.get_by_label("Price", exact=True).select_option("")
    page.get_by_label("Pool price").select_option("unit_price")
    page.get_by_role("button", name="Look again").click()
    expect(page.get_by_role("row", name="51 9.10 10.00")).to_be_visible()
    page.get_by_label("Enter it as it was read, doubts or not").check()
    page.get_by_role("button", name="That is right: enter it").click()

    expect(page.get_by_role("status")).to_contain_text("The ladder is on file.")
    tiers = house.book(f"{priced} keeper", priced).ladder(valid_from=date(2026, 12, 1)).value.tiers
    assert [(1, Decimal("9.80")), (51, Decimal("9.10"))] == [(each.from_credits, each.unit_price) for each in tiers]


@SCRIPT
def test_a_catalogue_is_entered_without_what_is_not_read(
    house: Served, priced: str, open_page: Open, *, script: bool
) -> None:
    page = open_page(priced, script=script)
    look_at(page, priced, "catalogue", ITEMS)
    expect(page.locator("main")).to_contain_text("1 row can't be read.")
    page.get_by_label("Leave out what can't be read").check()
    page.get_by_role("button", name="That is right: enter it").click()

    expect(page.get_by_role("status")).to_contain_text("The catalogue is on file.")
    items = house.book(f"{priced} keeper", priced).catalogue(valid_from=date(2026, 12, 1)).value.items
    assert [("CAL-S", 12), ("UNL", 5)] == [(each.code, each.credits) for each in items]


@SCRIPT
def test_a_plan_is_made_for_stated_needs(house: Served, priced: str, open_page: Open, *, script: bool) -> None:
    page = open_page(priced, script=script)
    page.goto(f"/book/{priced}/buying/plans")
    page.get_by_label("Months, this one included").fill("2")
    page.get_by_role("button", name="State other needs").click()
    cedar = page.get_by_role("group", name="CEDAR")
    cedar.get_by_label("November 2026").fill("30")
    cedar.get_by_label("December 2026").fill("40")
    page.get_by_role("button", name="Make the plan").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("November 2026 to December 2026")

    (made,) = house.book(f"{priced} keeper", priced).order_plans()
    assert (70, None) == (made.need, made.forecast_at)


@SCRIPT
def test_an_entry_is_undone_on_the_day_that_is_chosen(
    house: Served, priced: str, open_page: Open, *, script: bool
) -> None:
    page = open_page(priced, script=script)
    page.goto(f"/book/{priced}/entries/2/undo")
    expect(page.get_by_label("On which day")).to_have_value("2026-11-03")
    page.get_by_label("On which day").fill("2026-11-05")
    page.get_by_label("Credits to undo").fill("20")
    see_effect(page, script=script)
    expect(page.locator("#effect")).to_contain_text("ALDER will hold 40 (now 60).")
    undo = page.get_by_role("button", name="Undo it")
    undo.click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 4.")
    page.go_back()
    undo.click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 4.")

    assert date(2026, 11, 5) == house.book(f"{priced} keeper", priced).entry(number=4).entry.effective_on
    assert 4 == house.book(f"{priced} keeper", priced).positions().number


def test_what_a_browser_finds_wrong_is_not_folded_away(priced: str, open_page: Open) -> None:
    page = open_page(priced)
    page.goto(f"/book/{priced}/buying/plans")
    page.get_by_text("More: limits, another beginning").click()
    cap = page.get_by_label("Most credits at hand")
    # as any constraint that a browser checks
    cap.evaluate("field => field.required = true")
    page.get_by_text("More: limits, another beginning").click()
    expect(cap).to_be_hidden()
    page.get_by_role("button", name="Make the plan").click()

    expect(cap).to_be_visible()
    expect(cap).to_be_focused()


@pytest.mark.parametrize(("size", "scheme"), LOOKS, ids=[f"{size['width']} {scheme}" for size, scheme in LOOKS])
def test_no_page_of_these_keeps_anybody_out(
    house: Served, priced: str, open_page: Open, size: ViewportSize, scheme: Scheme
) -> None:
    page = open_page(priced, size=size, scheme=scheme)
    give_second_factor(house, page)
    house.book("operator", priced).make_key(name="the till", role=Role.READER)
    found = {}
    for name, come in _WAYS.items():
        come(page, priced)
        if wrong := flaws(page):
            found[name] = wrong
        picture(page, f"files-{name}", size, scheme)

    assert {} == found


def _at(path: str) -> Callable[[Page, str], None]:
    def come(page: Page, pool: str) -> None:
        page.goto(f"/book/{pool}{path}")

    return come


def _needs_of_a_plan(page: Page, pool: str) -> None:
    page.goto(f"/book/{pool}/buying/plans")
    page.get_by_label("Months, this one included").fill("3")
    page.get_by_role("button", name="State other needs").click()


def _key_made(page: Page, pool: str) -> None:
    page.goto(f"/book/{pool}/people")
    page.get_by_label("What it is for").fill("the other till")
    page.get_by_role("button", name="Make the key").click()
    expect(page.get_by_role("status")).to_contain_text("it is shown this once")


def _undoing(page: Page, pool: str) -> None:
    page.goto(f"/book/{pool}/entries/2/undo")
    expect(page.locator("#effect")).to_contain_text("ALDER will hold 0 (now 60).")


_WAYS: dict[str, Callable[[Page, str], None]] = {
    "ladder": _at("/buying/ladders/file"),
    "ladder columns": lambda page, pool: look_at(page, pool, "ladders", LIST),
    "catalogue": _at("/buying/catalogue/file"),
    "catalogue columns": lambda page, pool: look_at(page, pool, "catalogue", ITEMS),
    "needs": _needs_of_a_plan,
    "key": _key_made,
    "undo": _undoing,
}
