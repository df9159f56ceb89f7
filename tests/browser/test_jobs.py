"""What people come for, from start to end in a real browser, with script and without."""

from decimal import Decimal

import pytest
from playwright.sync_api import Page, expect
from pool_client.models.entries import Command, Draw, Loan, Purchase

from tests.browser.conftest import DESK, Open
from tests.browser.test_second_factor import give_second_factor
from tests.rest.test_worked_example import EXAMPLE, MONTH
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
def test_credits_are_lent_in_two_taps_and_a_number(
    house: Served, stocked: str, open_page: Open, *, script: bool
) -> None:
    page = open_page(stocked, script=script)
    page.get_by_role("link", name="ALDER lends").click()
    page.get_by_label("Credits", exact=True).fill("24")
    see_effect(page, script=script)
    expect(page.locator("#effect")).to_contain_text("ALDER will hold 96 (now 120).")
    expect(page.locator("#effect")).to_contain_text("This loan is worth about 165.60")
    page.get_by_role("button", name="Lend: record it").click()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 3.")
    found = house.book(f"{stocked} keeper", stocked).entry(number=3).entry
    assert found.body == Loan(lender="ALDER", borrower="BIRCH", quantity=24)
    expect(page.locator("main")).to_contain_text(found.hash)


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
def test_a_use_is_recorded_and_undone(house: Served, stocked: str, open_page: Open, *, script: bool) -> None:
    page = open_page(stocked, script=script)
    page.get_by_role("link", name="ALDER uses credits").click()
    page.get_by_label("Credits", exact=True).fill("10")
    page.get_by_label("Item").fill("CAL-M")
    page.get_by_label("Job").fill("A-17")
    page.get_by_label("Charged to the customer").fill("120.50")
    see_effect(page, script=script)
    # 10 credits at 3450.00 / 500
    expect(page.locator("#effect")).to_contain_text("They cost about 69.00")
    expect(page.locator("#effect")).to_contain_text("The job earns about 51.50.")
    page.get_by_role("button", name="Use: record it").click()
    page.get_by_role("link", name="Undo").click()
    page.get_by_label("Why").fill("another car")
    see_effect(page, script=script)
    # the effect is shown anew once the note is typed, with the same words
    expect(page.locator('[name="form_seen"]')).not_to_have_value("")
    expect(page.locator("#effect")).to_contain_text("ALDER will hold 120 (now 110).")
    page.get_by_role("button", name="Undo it").click()

    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 4.")
    held = {each.member: each.held for each in house.book(f"{stocked} keeper", stocked).positions().members}
    assert 120 == held["ALDER"]


@SCRIPT
def test_a_month_is_looked_into_closed_and_paid(house: Served, pool: str, open_page: Open, *, script: bool) -> None:
    book = house.book(f"{pool} keeper", pool)
    day = house.clock.at.date()
    book.record_all([Command(body=body, effective_on=day.replace(month=9, day=on)) for on, body in EXAMPLE])
    page = open_page(pool, size=DESK, script=script)
    page.get_by_role("link", name="Months").click()
    page.get_by_role("link", name="September 2026").click()
    page.get_by_role("link", name="Why BIRCH's due is −961.07").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Why −961.07?")
    page.get_by_role("link", name="BIRCH: due, draws").click()
    page.go_back()
    page.get_by_role("link", name="September 2026").click()
    page.get_by_role("link", name="Settlement").click()
    page.get_by_label("Close it though differences with the vendor's record are open").check()
    page.get_by_role("button", name="Close the month").click()
    expect(page.get_by_role("status")).to_contain_text("Recorded as entry 15.")
    page.goto(f"/book/{pool}")
    page.get_by_role("link", name="Tick off: BIRCH has paid ALDER").click()
    see_effect(page, script=script)
    page.get_by_role("button", name="Enter: record it").click()
    expect(page.locator("main")).to_contain_text("BIRCH paid ALDER 961.07")

    assert [Decimal("961.07")] == [each.paid for each in book.settlement(month=MONTH).payments if each.payer == "BIRCH"]


def test_a_statement_is_taken_along(house: Served, pool: str, open_page: Open) -> None:
    book = house.book(f"{pool} keeper", pool)
    day = house.clock.at.date()
    book.record_all([Command(body=body, effective_on=day.replace(month=9, day=on)) for on, body in EXAMPLE])
    page = open_page(pool, size=DESK)
    page.goto(f"/book/{pool}/months/{MONTH}/statements/BIRCH")
    with page.expect_download() as downloading:
        page.get_by_role("link", name="PDF, to print and sign").click()

    assert f"statement-{MONTH}-BIRCH.pdf" == downloading.value.suggested_filename


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
