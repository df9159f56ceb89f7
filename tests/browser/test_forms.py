"""Forms in a real browser, with script and without: sent twice, by keyboard, without a connection; and invitations."""

import pytest
from playwright.sync_api import Page, expect
from pool_client.models.entries import Command, Draw, Purchase

from tests.browser.conftest import DESK, Open
from tests.browser.test_second_factor import give_second_factor
from tests.rest.test_worked_example import EXAMPLE
from tests.served import Served

SCRIPT = pytest.mark.parametrize("script", [True, False], ids=["script", "no script"])


@pytest.fixture
def stocked(house: Served, pool: str) -> str:
    """A pool whose stock is filled, and ALDER has drawn from it."""
    (_, bought), (_, drawn) = EXAMPLE[1], EXAMPLE[2]
    assert isinstance(bought, Purchase)
    assert isinstance(drawn, Draw)
    house.book(f"{pool} keeper", pool).record_all([Command(body=bought), Command(body=drawn)])
    return pool


def see_effect(page: Page, *, script: bool) -> None:
    """Have the effect shown: it comes by itself with script, by a button without."""
    if not script:
        page.get_by_role("button", name="Show what it changes").click()


@SCRIPT
def test_going_back_and_sending_again_leads_to_the_same_receipt(
    house: Served, stocked: str, open_page: Open, *, script: bool
) -> None:
    page = open_page(stocked, script=script)
    page.goto(f"/book/{stocked}/record/draw?member=BIRCH&quantity=7")
    see_effect(page, script=script)
    record = page.get_by_role("button", name="Draw: record it")
    record.click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
    page.go_back()
    record.click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")

    assert 3 == house.book(f"{stocked} keeper", stocked).positions().number


def test_a_double_tap_records_once(house: Served, stocked: str, open_page: Open) -> None:
    page = open_page(stocked)
    page.goto(f"/book/{stocked}/record/draw?member=BIRCH&quantity=7")
    page.get_by_role("button", name="Draw: record it").dblclick()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
    assert 3 == house.book(f"{stocked} keeper", stocked).positions().number


@SCRIPT
def test_an_invitation_is_made_and_accepted(house: Served, pool: str, open_page: Open, *, script: bool) -> None:
    page = open_page(pool, size=DESK, script=script)
    give_second_factor(house, page)
    page.goto(f"/book/{pool}/people")
    inviting = page.locator("#inviting")
    inviting.get_by_label("Of which member").select_option("CEDAR")
    inviting.get_by_role("button", name="Make the invitation").click()
    link = page.locator(".note code").inner_text()
    page.get_by_role("button", name="Sign out").click()
    page.goto(link)
    field = page.get_by_label("Invitation")
    if script:
        expect(field).not_to_have_value("")
        assert "#" not in page.url
    else:
        field.fill(link.partition("#")[2])
    page.get_by_label("Your name").fill(f"{pool} counter")
    page.get_by_label("Password", exact=True).fill("five words in a row")
    page.get_by_label("The password again").fill("five words in a row")
    page.get_by_role("button", name="Accept").click()

    expect(page.get_by_role("link", name=f"{pool} counter")).to_be_visible()
    assert f"{pool} counter" in {each.name for each in house.book(f"{pool} reader", pool).people()}


def test_everything_is_reached_with_the_keyboard(stocked: str, open_page: Open) -> None:
    page = open_page(stocked)
    page.goto(f"/book/{stocked}/record/draw?member=BIRCH")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
    page.get_by_label("Credits", exact=True).focus()
    page.keyboard.type("7")
    page.get_by_role("button", name="Draw: record it").wait_for()
    page.keyboard.press("Enter")

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")


def test_a_form_without_a_connection_stays_and_is_sent_later(house: Served, stocked: str, open_page: Open) -> None:
    page = open_page(stocked)
    page.goto(f"/book/{stocked}/record/draw?member=BIRCH&quantity=7")
    record = page.get_by_role("button", name="Draw: record it")
    record.wait_for()
    page.get_by_label("Note").fill("for a van")
    record.wait_for()
    expect(page.locator("[name=form_seen]")).not_to_have_value("")
    page.context.set_offline(offline=True)
    record.click()
    expect(page.get_by_role("alert")).to_contain_text("There is no connection, so nothing was sent.")
    expect(page.get_by_label("Note")).to_have_value("for a van")
    page.context.set_offline(offline=False)
    record.click()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
    assert "for a van" == house.book(f"{stocked} keeper", stocked).entry(number=3).entry.note


def test_an_effect_that_cannot_be_shown_is_said_to_be(stocked: str, open_page: Open) -> None:
    page = open_page(stocked)
    page.goto(f"/book/{stocked}/record/draw?member=BIRCH")
    page.route("**/record/draw*", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    page.get_by_label("Credits", exact=True).fill("7")

    expect(page.locator("#effect")).to_contain_text("What it changes can't be shown just now.")
    page.unroute("**/record/draw*")
    page.get_by_role("button", name="Show what it changes").click()
    page.get_by_role("button", name="Draw: record it").click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
