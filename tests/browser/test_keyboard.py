"""Lending with the keyboard alone, and where the focus goes when something is refused: with script and without."""

import pytest
from playwright.sync_api import Page, expect
from pool_client.models.entries import Command, Draw, Loan, Purchase

from tests.browser.conftest import DESK, Open
from tests.browser.test_forms import SCRIPT, see_effect
from tests.rest.test_worked_example import EXAMPLE
from tests.served import Served

MOST_STOPS = 60


@pytest.fixture
def stocked(house: Served, pool: str) -> str:
    """A pool whose stock is filled, and ALDER has drawn from it."""
    (_, bought), (_, drawn) = EXAMPLE[1], EXAMPLE[2]
    assert isinstance(bought, Purchase)
    assert isinstance(drawn, Draw)
    house.book(f"{pool} keeper", pool).record_all([Command(body=bought), Command(body=drawn)])
    return pool


def go_to(page: Page, name: str) -> list[str]:
    """Press the tabulator until something of a name has the focus, and give what had it on the way."""
    passed: list[str] = []
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        passed.append(page.evaluate(_NAME))
        if passed[-1] == name:
            assert page.evaluate(_RINGED), f"{name} doesn't show that it has the focus"
            return passed
    raise AssertionError(f"{name} isn't reached: {passed}")


_NAME = """() => {
  const at = document.activeElement;
  return (at.getAttribute("aria-label") || at.labels?.[0]?.firstChild.textContent || at.textContent).trim();
}"""

_RINGED = """() => {
  const style = getComputedStyle(document.activeElement);
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
}"""


@SCRIPT
def test_credits_are_lent_with_the_keyboard_alone(
    house: Served, stocked: str, open_page: Open, *, script: bool
) -> None:
    page = open_page(stocked, size=DESK, script=script)
    page.goto(f"/book/{stocked}")
    assert ["To the content"] == go_to(page, "To the content")
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    assert ["Set it up", "Lend"] == go_to(page, "Lend")
    page.keyboard.press("Enter")
    page.wait_for_url("**/record/loan?*")
    go_to(page, "Who lends")
    page.keyboard.type("ALDER")
    assert ["Who borrows"] == go_to(page, "Who borrows")
    page.keyboard.type("DOGWOOD")
    assert ["Credits"] == go_to(page, "Credits")
    page.keyboard.type("24")
    assert ["Note"] == go_to(page, "Note")
    page.keyboard.type("customer waits")
    if not script:
        go_to(page, "Show what it changes")
        page.keyboard.press("Enter")
    expect(page.locator("#effect")).to_contain_text("ALDER will hold 96 (now 120).")
    go_to(page, "Lend: record it")
    page.keyboard.press("Enter")

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
    found = house.book(f"{stocked} keeper", stocked).entry(number=3).entry
    assert (Loan(lender="ALDER", borrower="DOGWOOD", quantity=24), "customer waits") == (found.body, found.note)


@SCRIPT
def test_the_first_field_to_mend_has_the_focus(stocked: str, open_page: Open, *, script: bool) -> None:
    page = open_page(stocked, script=script)
    page.goto(f"/book/{stocked}/record/loan?lender=ALDER")
    page.get_by_label("Credits", exact=True).fill("many")
    page.get_by_label("Who borrows").select_option("ALDER")
    page.get_by_role("button", name="Show what it changes").click()

    expect(page.get_by_role("alert")).to_contain_text("2 fields need mending")
    expect(page.get_by_label("Who borrows")).to_be_focused()
    expect(page.get_by_label("Who borrows")).to_have_accessible_description("That is the same member twice.")


@SCRIPT
def test_what_the_service_refuses_has_the_focus(stocked: str, open_page: Open, *, script: bool) -> None:
    page = open_page(stocked, script=script)
    # a day to come, of which the effect says nothing
    page.goto(f"/book/{stocked}/record/draw?member=ALDER&quantity=1&on=2027-01-15")
    see_effect(page, script=script)
    page.get_by_role("button", name="Draw: record it").click()

    expect(page.get_by_role("alert")).to_contain_text("Not recorded.")
    expect(page.get_by_role("alert")).to_be_focused()


def test_a_table_that_is_seen_whole_is_no_stop(stocked: str, open_page: Open) -> None:
    page = open_page(stocked, size=DESK)
    page.goto(f"/book/{stocked}/months/2026-11")
    table = page.get_by_role("region", name="Members")
    expect(table).not_to_have_attribute("tabindex", "0")
    page.set_viewport_size({"width": 320, "height": 640})
    expect(table).to_have_attribute("tabindex", "0")
    table.focus()
    page.keyboard.press("ArrowRight")
    # asked again and again from here, as the page's policy lets no text be run in it
    for _ in range(100):
        if page.evaluate("document.activeElement.scrollLeft") > 0:
            break
        page.wait_for_timeout(50)
    else:
        pytest.fail("the table isn't moved by an arrow key")


def test_nothing_moves_and_screens_are_read_in_order(stocked: str, open_page: Open) -> None:
    page = open_page(stocked)
    page.emulate_media(reduced_motion="reduce")
    page.goto(f"/book/{stocked}")
    moving = "[...document.querySelectorAll('*')].filter(e => parseFloat(getComputedStyle(e).transitionDuration) > 0)"

    assert 0 == page.evaluate(f"{moving}.length + document.getAnimations().length")
    assert "en" == page.locator("html").get_attribute("lang")
    assert ["banner", "navigation", "main"] == page.evaluate(
        "[...document.body.querySelectorAll('header, nav, main')].map(e => "
        "({HEADER: 'banner', NAV: 'navigation', MAIN: 'main'})[e.tagName])"
    )
