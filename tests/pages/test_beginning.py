"""From the first key of an empty service to the first purchase, by links and forms alone."""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import httpx
import pytest
from pool_client.models.entries import Purchase, Relocation

from tests.pages.browsing import Browser, filled_in, pages_of
from tests.pages.conftest import signed_in
from tests.served import PASSWORD, POOL, Served

FOUNDED = {
    "name": "Riverside",
    "id": "riverside",
    "vendor": "Norvane Tuning Systems",
    "currency": "eur",
    "time_zone": "Europe/Vienna",
    "began_on": "2026-11-01",
}
HOME = "/book/riverside"


@pytest.fixture
def operator(bare_service: Served) -> Iterator[Browser]:
    """The browser of whoever has the first key of an empty service."""
    with pages_of(bare_service) as http:
        yield Browser(http).go("/sign-in").send({"token": bare_service.keys["operator"]}, form="#by-key")


def follow(browser: Browser, words: str) -> Browser:
    (link,) = [each for each in browser.page.css("main a") if " ".join(each.text().split()) == words]
    return browser.go(link.attributes["href"] or "")


def test_an_empty_service_comes_to_its_first_purchase(bare_service: Served, operator: Browser) -> None:
    assert "You run this service" in operator.says
    follow(operator, "Make a pool").send(FOUNDED, form="#founding")
    assert "For the keeper of riverside" in operator.says
    invited = operator.one(".note code").text().partition("#")[2]

    operator.send({}, form=".who form").go("/invitation").send(
        {"invitation": invited, "name": "Ines Walder", "password": PASSWORD, "again": PASSWORD}
    )
    assert HOME == operator.path
    assert "To begin" in operator.says
    follow(operator, "Add the shops")
    for code, name in (("ALDER", "Alder Workshop"), ("birch", "Birch Workshop")):
        operator.send({"code": code, "name": name, "handle": f"nv-{code.lower()}"}, form="#adding")
        assert "The shop is in the pool." in operator.says
    operator.send({"custodian": "ALDER"}, form="#keeping")
    assert "The stock is kept in the vendor account of ALDER." in operator.says

    follow(operator.go(HOME), "Enter the vendor's price ladder")
    assert 200 == operator.answer.status_code
    follow(operator.go(HOME), "Enter the first purchase")
    bought = {"paid_by": "ALDER", "quantity": "500", "amount": "3450.00"}
    operator.send(bought, button="effect").send({}, button="record")
    assert "Recorded as entry 1." in operator.says
    assert "To begin" not in operator.go(HOME).says

    key = bare_service.client(None).sign_in(name="Ines Walder", password=PASSWORD).token or ""
    bare_service.keys["ines"] = key
    book = bare_service.book("ines")
    assert (
        Purchase(paid_by="ALDER", into="stock", quantity=500, amount=Decimal("3450.00"))
        == book.entry(number=1).entry.body
    )
    terms = book.terms().value
    assert ("EUR", "Europe/Vienna", date(2026, 11, 1), "ALDER") == (
        terms.currency,
        terms.time_zone,
        terms.began_on,
        terms.custodian,
    )
    assert [("ALDER", "nv-alder", date(2026, 11, 1)), ("BIRCH", "nv-birch", date(2026, 11, 1))] == [
        (each.code, each.handles[0].handle, each.joined_on) for each in book.members()
    ]
    assert book.verification().sound


def test_what_a_pool_cannot_be_called_is_said(operator: Browser) -> None:
    follow(operator, "Make a pool").send({**FOUNDED, "time_zone": "Nowhere/Atall", "currency": ""}, form="#founding")
    assert "This is needed." in operator.says
    operator.send({"currency": "EUR"}, form="#founding")
    assert "Nowhere/Atall" in operator.one('[role="alert"]').text()
    assert "Riverside" == operator.one("#name").attributes["value"]


def test_a_pool_that_is_there_is_not_made_again(service: Served, pages: httpx.Client) -> None:
    operator = signed_in(service, pages, "operator").go("/founding").send(FOUNDED, form="#founding")

    assert 409 == operator.answer.status_code
    assert "There is a pool riverside already." in operator.says


def test_an_operator_invites_another_keeper(service: Served, pages: httpx.Client) -> None:
    operator = signed_in(service, pages, "operator").go("/")
    operator.send({}, form="main form[action='/founding/invitation']")

    assert re.search(r"https://pages\.test/invitation#cpi_\w+", operator.says)
    assert ["keeper"] == [each.role.value for each in service.book().invitations()]


@pytest.mark.parametrize("role", ["keeper", "clerk"])
def test_nobody_else_founds(service: Served, pages: httpx.Client, role: str) -> None:
    somebody = signed_in(service, pages, role)
    assert "Make a pool" not in somebody.go("/?books=all").says
    proof = filled_in(somebody.one(".who form"))["form_proof"]
    assert "Whoever runs the service makes pools." in somebody.go("/founding").says
    somebody.post("/founding", {**FOUNDED, "id": "another", "form_proof": proof, "form_key": "a-key-of-ours"})

    assert somebody.answer.status_code in {403, 404}
    assert "For the keeper" not in somebody.says
    assert [POOL] == [each.id for each in service.client("operator").pools()]


def test_a_shop_is_changed_and_leaves(service: Served, keeper: Browser) -> None:
    keeper.go(f"{HOME}/members/CEDAR").send(
        {"name": "Cedar & Sons", "handle": "nv-new", "since": "2026-11-09", "left_on": "2026-11-10"}
    )
    assert "The change counts." in keeper.says

    found = service.book().member(code="CEDAR").value
    assert ("Cedar & Sons", date(2026, 11, 10)) == (found.name, found.left_on)
    assert ["nv-cedar", "nv-new"] == [each.handle for each in found.handles]


def test_a_shop_that_holds_something_stays(service: Served, keeper: Browser) -> None:
    service.book().record(Purchase(paid_by="ALDER", into="ALDER", quantity=5, amount=Decimal("50.00")))
    keeper.go(f"{HOME}/members/ALDER").send({"left_on": "2026-11-10"})

    assert 409 == keeper.answer.status_code
    assert "it holds 5 credits" in keeper.says
    assert service.book().member(code="ALDER").value.left_on is None


def test_a_code_that_is_taken_is_said(keeper: Browser) -> None:
    keeper.go(f"{HOME}/members").send({"code": "ALDER", "name": "Another"}, form="#adding")

    assert 409 == keeper.answer.status_code
    assert "There is a shop with the code ALDER already." in keeper.says
    assert "Another" == keeper.one("#name").attributes["value"]


def test_the_stock_goes_to_another_account(service: Served, keeper: Browser) -> None:
    keeper.go(f"{HOME}/members").send({"custodian": "ALDER"}, form="#keeping")
    service.book().record(Purchase(paid_by="ALDER", quantity=5, amount=Decimal("50.00")))
    follow(keeper.go(f"{HOME}/members"), "It went to another one")
    keeper.send({"to_member": "BIRCH"}, button="effect")
    assert "BIRCH's vendor account has the stock from then on" in keeper.says
    keeper.send({}, button="record")

    assert Relocation(from_member="ALDER", to_member="BIRCH", quantity=5) == service.book().entry(number=2).entry.body
    assert "BIRCH" == service.book().positions().custodian


def test_a_clerk_sees_the_shops_and_changes_none(service: Served, pages: httpx.Client) -> None:
    clerk = signed_in(service, pages, "clerk").go(f"{HOME}/members")

    assert "Alder Workshop" in clerk.says
    assert not clerk.page.css("main form")
    assert "Nobody is named as the stock's custodian." in clerk.says
