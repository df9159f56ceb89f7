"""Recording on the pages: the effect before, the receipt after, and each form once."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import httpx
import pytest
from pool_client.models.catalogue import Item
from pool_client.models.entries import Draw, Loan, Purchase, Use

from tests.pages.browsing import Browser, filled_in
from tests.pages.conftest import signed_in
from tests.served import FIRST_DAY, POOL, Served

HOME = f"/book/{POOL}"


@pytest.fixture
def stocked(service: Served) -> Served:
    book = service.book()
    book.record(Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00")))
    book.record(Draw(member="ALDER", quantity=120))
    return service


def lend(keeper: Browser, quantity: str = "24") -> Browser:
    lending = keeper.go(f"{HOME}/record/loan?lender=ALDER")
    return lending.send({"borrower": "BIRCH", "quantity": quantity}, button="effect")


@pytest.mark.usefixtures("stocked")
def test_the_first_page_tells_who_holds_what(keeper: Browser) -> None:
    keeper.go("/")

    assert keeper.path == HOME
    assert "Stock 380 credits" in keeper.says
    assert "ALDER Alder Workshop 120 credits" in keeper.says


def test_a_loan_is_recorded_after_its_effect_was_shown(stocked: Served, keeper: Browser) -> None:
    lend(keeper)

    # 24 credits at 3450.00 / 500 each
    assert "ALDER will hold 96 (now 120)." in keeper.says
    assert "This loan is worth about 165.60 at ALDER's blended cost of 6.9000 a credit." in keeper.says
    assert stocked.book().positions().open_loans == ()

    keeper.send({}, button="record")

    entry = stocked.book().entry(number=3).entry
    assert entry.body == Loan(lender="ALDER", borrower="BIRCH", quantity=24)
    assert "Recorded as entry 3." in keeper.says
    assert entry.hash in keeper.says


def test_what_is_changed_after_its_effect_was_shown_is_shown_again(stocked: Served, keeper: Browser) -> None:
    lend(keeper).send({"quantity": "25"}, button="record")

    assert "ALDER will hold 95 (now 120)." in keeper.says
    assert stocked.book().positions().number == 2


def test_a_note_that_is_written_after_the_effect_was_shown_is_recorded_with_it(
    stocked: Served, keeper: Browser
) -> None:
    lend(keeper).send({"note": "customer waiting"}, button="record")

    assert "customer waiting" == stocked.book().entry(number=3).entry.note


def test_a_form_sent_twice_is_recorded_once(stocked: Served, keeper: Browser) -> None:
    lend(keeper)
    sent = {**filled_in(keeper.one("main form")), "step": "record"}
    path = keeper.path
    receipts = [keeper.post(path, sent).path for _ in range(2)]

    assert receipts[0] == receipts[1]
    assert stocked.book().positions().number == 3


def test_a_form_that_was_recorded_and_then_changed_asks_again(stocked: Served, keeper: Browser) -> None:
    lend(keeper)
    old = filled_in(keeper.one("main form"))
    path = keeper.path
    keeper.send({}, button="record")
    keeper.post(path, {**old, "quantity": "30", "step": "effect"}).send({}, button="record")

    assert "This form was recorded before" in keeper.says
    assert stocked.book().positions().number == 3

    keeper.send({}, button="record")

    assert stocked.book().entry(number=4).entry.body == Loan(lender="ALDER", borrower="BIRCH", quantity=30)


@pytest.mark.usefixtures("stocked")
def test_what_cannot_be_is_said_before(keeper: Browser) -> None:
    lend(keeper, "121")

    assert "ALDER holds 120 credits, which is 1 too few." in keeper.says
    assert not keeper.page.css('button[value="record"]')


def test_what_the_book_refuses_is_said_and_can_be_mended(stocked: Served, keeper: Browser) -> None:
    lend(keeper)
    stocked.book().record(Loan(lender="ALDER", borrower="CEDAR", quantity=110))
    keeper.send({}, button="record")

    assert keeper.answer.status_code == 409
    assert "Not recorded." in keeper.one('[role="alert"]').text()

    keeper.send({"quantity": "10"}, button="effect").send({}, button="record")

    assert stocked.book().entry(number=4).entry.body == Loan(lender="ALDER", borrower="BIRCH", quantity=10)


@pytest.mark.usefixtures("stocked")
@pytest.mark.parametrize("quantity", ["", "0", "-3", "2.5", "1e3", "many", "1000000001"])
def test_a_number_that_is_none_is_told_beside_its_field(keeper: Browser, quantity: str) -> None:
    lend(keeper, quantity)

    assert keeper.answer.status_code == 422
    assert keeper.one("#quantity").attributes["aria-invalid"] == "true"
    assert keeper.one("#quantity-wrong").text() == "A whole number of credits, from 1."


def test_an_entry_is_undone_in_part(stocked: Served, keeper: Browser) -> None:
    keeper.go(f"{HOME}/entries/2/undo").send({"quantity": "20", "note": "counted twice"}, button="effect")
    keeper.send({}, button="record")

    assert "Entry 2 undone: 20 credits." in keeper.says
    keeper.go(f"{HOME}/entries/2")

    assert "Undone 20 credits" in keeper.says
    assert "Entry 2 undone: 20 credits: counted twice" in keeper.says
    assert stocked.book().positions().stock == 400


@pytest.mark.usefixtures("stocked")
def test_the_other_side_disputes(keeper: Browser) -> None:
    lend(keeper).send({}, button="record")
    keeper.send({"member": "BIRCH", "verdict": "disputed", "note": "it was 20"})

    assert "BIRCH disputed entry 3: it was 20" in keeper.says


@pytest.mark.usefixtures("stocked")
def test_entries_are_found(keeper: Browser) -> None:
    keeper.go(f"{HOME}/entries?kind=draw&member=ALDER&text=&job=&from_day=&to_day=")

    assert "ALDER drew 120 credits from stock" in keeper.says
    assert "ALDER paid" not in keeper.says


def test_what_people_write_stays_text(stocked: Served, keeper: Browser) -> None:
    note = '<script>alert(1)</script> "&'
    stocked.book().record(Draw(member="BIRCH", quantity=1), note=note)

    assert note in keeper.go(f"{HOME}/entries/3").says
    assert not keeper.page.css("main script")


def offered(page: Browser, field: str) -> set[str | None]:
    return {each.attributes.get("value") for each in page.page.css(f"#{field} option")} - {""}


def test_whom_a_form_names_is_in_the_pool_on_its_day_and_who_has_left_may_still_be_paid(
    service: Served, keeper: Browser
) -> None:
    dogwood, today = service.book().member(code="DOGWOOD"), service.clock.at.date()
    service.book().put_member(replace(dogwood.value, left_on=today), tag=dogwood.tag)
    everybody = {"ALDER", "BIRCH", "CEDAR", "DOGWOOD"}

    assert offered(keeper.go(f"{HOME}/record/draw"), "member") == everybody

    service.clock.at += timedelta(days=1)

    assert offered(keeper.go(f"{HOME}/record/draw"), "member") == everybody - {"DOGWOOD"}
    assert offered(keeper.go(f"{HOME}/record/draw?on={today}"), "member") == everybody
    assert offered(keeper.go(f"{HOME}/record/draw?on=soon"), "member") == everybody - {"DOGWOOD"}
    assert offered(keeper.go(f"{HOME}/record/payment"), "to_member") == everybody


def test_a_clerk_acts_for_its_own_shop(stocked: Served, pages: httpx.Client) -> None:
    stocked.book().record(Draw(member="BIRCH", quantity=50))
    clerk = signed_in(stocked, pages, "clerk").go(HOME)

    assert ["ALDER draws from stock", "ALDER lends", "ALDER uses credits"] == [
        each.attributes["aria-label"] for each in clerk.page.css(".cards .doing a[href*='?member='], [href*='lender=']")
    ]
    for kind, own in (("draw", "member"), ("loan", "lender"), ("use", "member"), ("purchase", "paid_by")):
        assert "ALDER" == filled_in(clerk.go(f"{HOME}/record/{kind}").one("main form"))[own]
    # CEDAR holds nothing, and comes first of those who do
    assert "CEDAR" == filled_in(clerk.go(f"{HOME}/record/loan").one("main form"))["borrower"]


def test_a_reader_is_offered_nothing_to_record(stocked: Served, pages: httpx.Client) -> None:
    reader = signed_in(stocked, pages, "reader").go(HOME)

    assert "Stock 380 credits" in reader.says
    assert not reader.page.css("main a[href*='/record']")


def test_the_only_open_loan_is_what_comes_back(stocked: Served, keeper: Browser) -> None:
    stocked.book().record(Loan(lender="ALDER", borrower="BIRCH", quantity=24))
    told = filled_in(keeper.go(f"{HOME}/record/return").one("main form"))
    assert ("BIRCH", "ALDER", "24") == (told["borrower"], told["lender"], told["quantity"])

    stocked.book().record(Loan(lender="ALDER", borrower="CEDAR", quantity=9))
    told = filled_in(keeper.go(f"{HOME}/record/return").one("main form"))
    assert ("", "", "") == (told["borrower"], told["lender"], told["quantity"])
    told = filled_in(keeper.go(f"{HOME}/record/return?borrower=CEDAR").one("main form"))
    assert ("CEDAR", "ALDER", "9") == (told["borrower"], told["lender"], told["quantity"])


def test_the_catalogue_says_how_many_credits_an_item_takes(stocked: Served, keeper: Browser) -> None:
    stocked.book().put_catalogue((Item(code="CAL-M", name="Calibration", credits=14),), valid_from=FIRST_DAY)
    using = {"item": "CAL-M", "job": "A-17", "price": "120.00"}
    keeper.go(f"{HOME}/record/use?member=ALDER").send(using, button="effect")

    assert "14" == keeper.one("#quantity").attributes["value"]
    assert "ALDER will hold 106 (now 120)." in keeper.says
    keeper.send({}, button="record")

    used = Use(member="ALDER", quantity=14, item="CAL-M", job="A-17", price=Decimal("120.00"))
    assert used == stocked.book().entry(number=3).entry.body
    # 14 credits at 3450.00 / 500
    assert "What job A-17 comes to Credits 14 They cost 96.60 Charged 120.00 Earned 23.40" in keeper.says


def test_an_item_that_is_not_listed_needs_its_credits(stocked: Served, keeper: Browser) -> None:
    keeper.go(f"{HOME}/record/use?member=ALDER").send({"item": "X-1", "job": "A-17"}, button="effect")

    assert "A whole number of credits, from 1." == keeper.one("#quantity-wrong").text()
    assert 2 == stocked.book().positions().number


def test_the_whole_book_is_checked(stocked: Served, keeper: Browser) -> None:
    keeper.go(f"{HOME}/entries")
    (link,) = [each for each in keeper.page.css("main a") if each.text() == "Check the whole book"]
    keeper.go(link.attributes["href"] or "")

    assert "It holds." in keeper.says
    assert stocked.book().entry(number=2).entry.hash in keeper.says


def test_a_clerk_does_not_check_the_whole_book(stocked: Served, pages: httpx.Client) -> None:
    clerk = signed_in(stocked, pages, "clerk").go(f"{HOME}/entries")

    assert "Check the whole book" not in clerk.says
    assert 403 == clerk.go(f"{HOME}/entries/verification").answer.status_code
