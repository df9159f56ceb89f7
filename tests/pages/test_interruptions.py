"""What is filled in isn't lost, and is recorded once: while the service is away, and through signing in again."""

from collections.abc import Iterator
from copy import copy
from dataclasses import dataclass
from decimal import Decimal
from typing import cast

import httpx
import pytest
from pool_client.models.entries import Draw, Loan, Purchase
from pool_web.kept import Kept, unpacked
from pool_web.peers import Inside
from pool_web.session import COOKIE
from pool_web.site import create_site

from tests.pages.browsing import ADDRESS, Browser, filled_in
from tests.pages.conftest import signed_in
from tests.served import PASSWORD, POOL, InProcess, Served, code_of, join, second_factor

HOME = f"/book/{POOL}"
INES = {"name": "Ines Walder", "password": PASSWORD}
DOWN, LOST, UP = "down", "answers are lost", "up"


@dataclass
class Line(httpx.AsyncBaseTransport):
    """The way from the pages to the service: it is up, or down, or lets questions through and loses the answers to
    what records."""

    service: httpx.AsyncBaseTransport
    state: str = UP

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        if self.state == DOWN:
            raise httpx.ConnectError("refused", request=request)
        answer = await self.service.handle_async_request(request)
        if self.state == LOST and request.method == "POST":
            raise httpx.ReadError("cut", request=request)
        return answer


class Apart(httpx.BaseTransport):
    """Takes requests to pages that reach the service over a line."""

    def __init__(self, served: Served) -> None:
        self._front = copy(cast("InProcess", served.http._transport))
        self.line = Line(Inside(self._front._asgi.app))
        http = httpx.AsyncClient(transport=self.line)
        site = create_site(api="http://service.internal", http=http, now=served.clock.now)
        self._front._asgi = httpx.ASGITransport(site, raise_app_exceptions=False)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        return self._front.handle_request(request)


@pytest.fixture
def apart(service: Served) -> Apart:
    book = service.book()
    book.record(Purchase(paid_by="ALDER", quantity=500, amount=Decimal("3450.00")))
    book.record(Draw(member="ALDER", quantity=120))
    return Apart(service)


@pytest.fixture
def line(apart: Apart) -> Line:
    return apart.line


@pytest.fixture
def pages(apart: Apart) -> Iterator[httpx.Client]:
    with httpx.Client(transport=apart, base_url=ADDRESS) as http:
        yield http


def lending(browser: Browser) -> Browser:
    """Fill in that ALDER lends BIRCH 24, and have its effect shown."""
    filled = {"borrower": "BIRCH", "quantity": "24", "note": "for the red van"}
    return browser.go(f"{HOME}/record/loan?lender=ALDER").send(filled, button="effect")


@pytest.mark.parametrize("state", [DOWN, LOST])
def test_what_is_sent_while_the_service_is_away_is_kept_and_recorded_once(
    service: Served, keeper: Browser, line: Line, state: str
) -> None:
    lending(keeper)
    line.state = state
    keeper.send({}, button="record")

    assert 503 == keeper.answer.status_code
    assert "The book can't be reached" in keeper.says
    assert "Quantity 24" in keeper.says
    assert "Note for the red van" in keeper.says
    assert "Sending it again is safe" in keeper.says
    assert service.book().positions().number == (3 if state == LOST else 2)

    keeper.send({}, form="#again")
    assert 503 == keeper.answer.status_code
    line.state = UP
    keeper.send({}, form="#again")

    assert "Recorded as entry 3." in keeper.says
    assert 3 == service.book().positions().number
    entry = service.book().entry(number=3).entry
    assert (Loan(lender="ALDER", borrower="BIRCH", quantity=24), "for the red van") == (entry.body, entry.note)


def test_a_page_that_the_service_is_away_for_is_asked_for_again(keeper: Browser, line: Line) -> None:
    line.state = DOWN
    keeper.go(f"{HOME}/entries?kind=draw&member=ALDER")

    assert 503 == keeper.answer.status_code
    line.state = UP
    keeper.go(keeper.one("main a.button.main").attributes["href"] or "")
    assert "ALDER drew 120 credits from stock" in keeper.says
    assert "ALDER paid" not in keeper.says


@pytest.fixture
def ines(service: Served, pages: httpx.Client) -> Browser:
    """The browser of a keeper who has signed in by name."""
    join(service, "Ines Walder", "ines")
    return Browser(pages).go("/sign-in").send(INES, form="#by-name")


def test_what_is_sent_after_a_session_has_ended_is_kept_through_signing_in(service: Served, ines: Browser) -> None:
    lending(ines)
    service.clock.pass_seconds(31 * 60)
    ines.send({}, button="record")

    assert 403 == ines.answer.status_code
    assert "You were signed out meanwhile" in ines.says
    assert COOKIE not in ines.http.cookies

    ines.send({**INES, "password": "wrong"}, form="#by-name")
    assert 403 == ines.answer.status_code
    ines.send(INES, form="#by-name")
    assert "You are signed in again" in ines.says
    assert "Note for the red van" in ines.says
    assert 2 == service.book().positions().number

    ines.send({}, form="#again")
    assert "Recorded as entry 3." in ines.says
    assert ("for the red van", 3) == (service.book().entry(number=3).entry.note, service.book().positions().number)


def test_who_signs_in_elsewhere_meanwhile_sends_it_again(service: Served, ines: Browser) -> None:
    lending(ines)
    old, path = filled_in(ines.one("main form")), ines.path
    service.clock.pass_seconds(31 * 60)
    ines.go("/sign-in").send(INES, form="#by-name").post(path, {**old, "step": "record"})

    assert 403 == ines.answer.status_code
    assert "This form was made for another sign-in, so nothing was done." in ines.says
    assert 2 == service.book().positions().number

    ines.send({}, form="#again")
    assert "Recorded as entry 3." in ines.says


def test_signing_in_leads_back_to_the_page_as_it_was_asked_for(service: Served, ines: Browser) -> None:
    service.clock.pass_seconds(31 * 60)
    ines.go(f"{HOME}/entries?kind=draw&member=ALDER").send(INES, form="#by-name")

    assert f"{HOME}/entries?kind=draw&member=ALDER" == ines.path
    assert "ALDER drew 120 credits from stock" in ines.says


def test_no_password_and_no_file_is_kept(service: Served, ines: Browser) -> None:
    ines.go(f"{HOME}/people")
    secret = second_factor(service, "ines")
    service.clock.pass_seconds(31 * 60)
    ines.send({"role": "reader", "note": "the accountant", "password": PASSWORD}, form="#inviting")

    assert "You were signed out meanwhile" in ines.says
    assert PASSWORD not in ines.answer.text
    ines.send(INES, form="#by-name").send({"code": code_of(service, secret)}, form="#by-code").send({}, form="#again")
    assert "Hand this on; it is shown this once." in ines.says


def test_a_form_that_is_too_long_to_be_kept_is_said_to_be(service: Served, ines: Browser) -> None:
    lending(ines)
    old, path = filled_in(ines.one("main form")), ines.path
    service.clock.pass_seconds(31 * 60)
    sent = [(name, (None, text)) for name, text in {**old, **{f"n{n}": "x" * 300_000 for n in range(4)}}.items()]
    ines.answer = ines.http.post(path, files=sent, headers={"Sec-Fetch-Site": "same-origin"})

    assert "too long to be kept here" in ines.says
    assert not ines.page.css('[name="form_kept"]')


@pytest.mark.parametrize(
    "packed",
    ["", "null", "[1]", "[]", '["/book/x", []]', '["https://elsewhere.example", {}]', '["//elsewhere.example", {}]'],
)
def test_what_would_go_elsewhere_or_is_nothing_is_not_kept(packed: str) -> None:
    assert unpacked(packed) is None


def test_what_is_kept_is_read_as_it_was_written() -> None:
    kept = Kept(action="/book/riverside/record/loan?x=1", texts={"note": 'a "quoted" <b>', "quantity": "3"})

    assert kept == unpacked(kept.packed)


def test_two_who_close_at_once_close_once_and_are_told(service: Served, pages: httpx.Client) -> None:
    september = f"{HOME}/months/2026-09"
    first, second = signed_in(service, pages, "keeper"), Browser(pages)
    forms = [filled_in(each.go(f"{september}/settlement").one("main form.card")) for each in (first, second)]
    first.post(f"{september}/close", {**forms[0], "accept_differences": "yes"})
    number = service.book().positions().number
    second.post(f"{september}/close", {**forms[1], "accept_differences": "yes"})

    assert 409 == second.answer.status_code
    assert "The month was closed meanwhile, so nothing was done." in second.says
    assert f"entry {number}" in second.go(f"{HOME}/months").says
    assert number == service.book().positions().number
