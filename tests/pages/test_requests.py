"""Requests for credits on the pages: asked, lent in one step, withdrawn, and what each role sees of them."""

from decimal import Decimal

import httpx
import pytest
from pool_client.models.entries import Command, Loan, Purchase
from pool_client.models.requests import RequestState

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser
from tests.pages.conftest import signed_in
from tests.served import POOL, Served

HOME = f"/book/{POOL}"
REQUESTS = f"{HOME}/requests"
ASKING = "#asking"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def holding(service: Served) -> Served:
    """ALDER holds 30 and BIRCH 24."""
    service.book().record_all(
        [
            Command(body=Purchase(paid_by=member, into=member, quantity=quantity, amount=Decimal(quantity)))
            for member, quantity in (("ALDER", 30), ("BIRCH", 24))
        ]
    )
    return service


def ask(browser: Browser, member: str, quantity: str) -> Browser:
    said = {"member": member, "quantity": quantity, "needed_by": "2026-11-10T17:30", "note": "at the counter"}
    return browser.go(REQUESTS).send(said, form=ASKING)


def test_credits_are_asked_for_and_lent_from_the_first_page(holding: Served, keeper: Browser) -> None:
    ask(keeper, "CEDAR", "24")

    assert "Asked. Whoever holds enough can lend it now." in keeper.says
    assert "CEDAR needs 24 credits By 10 Nov 2026, 17:30" in keeper.says

    keeper.go(HOME)
    assert "ALDER – holds 30, then 6" in keeper.says
    keeper.send({"lender": "BIRCH"}, form="form[action$='/loan']")

    assert "BIRCH lent CEDAR 24 credits" in keeper.says
    assert Loan(lender="BIRCH", borrower="CEDAR", quantity=24) == holding.book().entry(number=3).entry.body
    assert "Nobody asks for credits just now." in keeper.go(REQUESTS).says
    assert "BIRCH, entry 3" in keeper.says


def test_lending_twice_by_the_same_form_lends_once(holding: Served, keeper: Browser) -> None:
    ask(keeper, "CEDAR", "24").go(HOME)
    before = keeper.answer
    keeper.send({"lender": "BIRCH"}, form="form[action$='/loan']")
    receipt = keeper.path
    keeper.answer = before
    keeper.send({"lender": "BIRCH"}, form="form[action$='/loan']")

    assert receipt == keeper.path
    assert 3 == holding.book().positions().number


def test_somebody_who_was_slower_is_told(holding: Served, keeper: Browser) -> None:
    ask(keeper, "CEDAR", "24")
    request = next(iter(holding.book().credit_requests())).request_id
    holding.book().take_up(request_id=request, lender="ALDER")
    keeper.send({"lender": "BIRCH"}, form="form[action$='/loan']")

    assert 409 == keeper.answer.status_code
    assert "Not recorded." in keeper.says
    assert 3 == holding.book().positions().number


def test_a_clerk_lends_for_its_own_member_and_sees_what_that_does(
    holding: Served, pages: httpx.Client, keeper: Browser
) -> None:
    ask(keeper, "CEDAR", "24")
    clerk = signed_in(holding, pages, "clerk")

    assert "ALDER will hold 6 (now 30)." in clerk.says
    assert not clerk.page.css("select[name=lender]")
    clerk.send({}, form="form[action$='/loan']")
    assert "ALDER lent CEDAR 24 credits" in clerk.says


def test_whoever_holds_too_few_is_offered_no_button(holding: Served, pages: httpx.Client, keeper: Browser) -> None:
    ask(keeper, "CEDAR", "31")

    assert "Nobody holds enough to lend that many." in keeper.says
    assert not keeper.page.css("form[action$='/loan']")
    # what a clerk's member can't serve the service doesn't tell it
    assert "CEDAR needs" not in signed_in(holding, pages, "clerk").says


def test_what_one_asked_for_is_withdrawn(holding: Served, pages: httpx.Client) -> None:
    clerk = signed_in(holding, pages, "clerk")
    ask(clerk, "ALDER", "5").send({}, form="form[action$='/withdrawal']")

    assert "Withdrawn." in clerk.says
    assert [RequestState.WITHDRAWN] == [each.state for each in holding.book().credit_requests(ended=True)]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"member": "ELM"}, "ELM is not one of the choices."),
        ({"quantity": "0"}, "A whole number of credits, from 1."),
        ({"needed_by": ""}, "This is needed."),
        ({"needed_by": "soon"}, "A day and a time"),
    ],
)
def test_what_doesn_t_fit_is_said_at_its_field(
    holding: Served, keeper: Browser, said: dict[str, str], told: str
) -> None:
    fitting = {"member": "CEDAR", "quantity": "4", "needed_by": "2026-11-10T17:30"}
    keeper.go(REQUESTS).send({**fitting, **said}, form=ASKING)

    assert 422 == keeper.answer.status_code
    assert told in keeper.says
    assert [] == list(holding.book().credit_requests())


def test_a_request_for_what_has_passed_is_refused(service: Served, keeper: Browser) -> None:
    keeper.go(REQUESTS).send({"member": "CEDAR", "quantity": "4", "needed_by": "2026-11-09T17:30"}, form=ASKING)

    assert 400 <= keeper.answer.status_code < 500
    assert "Not recorded." in keeper.says
    assert [] == list(service.book().credit_requests())


def test_a_reader_has_nothing_to_press(holding: Served, pages: httpx.Client, keeper: Browser) -> None:
    ask(keeper, "CEDAR", "24")
    reader = signed_in(holding, pages, "reader").go(REQUESTS)

    assert "CEDAR needs 24 credits" in reader.says
    assert not reader.page.css("main form")
