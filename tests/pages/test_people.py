"""People on the pages: invitations by link, signing in, sessions, passwords, roles, keys."""

import httpx
import pytest
from pool_client.models.directory import Role

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in, text_of
from tests.pages.conftest import signed_in
from tests.pages.test_months import row
from tests.served import PASSWORD, POOL, Served, code_of, join, second_factor

PEOPLE = f"/book/{POOL}/people"
OTHER = "another four words instead"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def robin(service: Served, pages: httpx.Client) -> Browser:
    """The browser of a keeper who has a password."""
    join(service, "Robin", "robin")
    return sign_in(pages, "Robin", PASSWORD)


@pytest.fixture
def warden(service: Served, pages: httpx.Client) -> Browser:
    """The browser of a keeper who has a second factor too."""
    join(service, "Robin", "robin")
    secret = second_factor(service, "robin")
    service.clock.pass_seconds(30)
    return sign_in(pages, "Robin", PASSWORD).send({"code": code_of(service, secret)}, form="#by-code")


def sign_in(pages: httpx.Client, name: str, password: str) -> Browser:
    return Browser(pages).go("/sign-in").send({"name": name, "password": password}, form="#by-name")


def test_somebody_is_invited_and_joins(warden: Browser) -> None:
    warden.go(PEOPLE).send({"role": "clerk", "member": "CEDAR", "note": "the counter"}, form="#inviting")
    link = warden.one(".note code").text()
    address, token = link.split("#")

    assert "https://pages.test/invitation" == address

    warden.http.cookies.clear()
    newcomer = Browser(warden.http).go("/invitation")
    newcomer.send({"invitation": token, "name": "Sam", "password": OTHER, "again": OTHER})

    assert newcomer.path == f"/book/{POOL}"
    assert "clerk of CEDAR" in newcomer.go("/account").says

    newcomer.http.cookies.clear()
    again = newcomer.go("/invitation").send({"invitation": token, "name": "Alex", "password": OTHER, "again": OTHER})

    assert "was used or withdrawn" in again.says


def test_a_wrong_password_and_an_unknown_name_look_the_same(robin: Browser) -> None:
    robin.http.cookies.clear()
    wrong, unknown = (sign_in(robin.http, name, "not the words").says for name in ("Robin", "Nobody"))

    assert "The name or the password is wrong." in wrong
    assert wrong == unknown


def test_a_password_is_never_shown_again(robin: Browser) -> None:
    robin.http.cookies.clear()

    assert "not the words" not in sign_in(robin.http, "Robin", "not the words").answer.text


def test_signing_out_ends_the_session_in_the_service_too(robin: Browser) -> None:
    kept = dict(robin.http.cookies)
    robin.send({}, form=".who form")
    robin.http.cookies.update(kept)

    assert robin.go(f"/book/{POOL}").path.startswith("/sign-in")


def test_other_sessions_are_seen_and_ended(service: Served, robin: Browser) -> None:
    robin.go("/account")
    found = robin.page.css('form[action="/account/sessions"]')

    assert 2 == len(found)  # the one that joining began, and all others

    robin.send({}, form='li form[action="/account/sessions"]')

    assert "That session is ended." in robin.says
    with pytest.raises(Exception, match="key"):
        service.client("robin").who()


def test_a_password_is_changed(robin: Browser) -> None:
    form = 'form[action="/account/password"]'
    robin.go("/account").send({"current": PASSWORD, "new": OTHER, "again": "x"}, form=form)
    assert "This is not the same." in robin.says
    robin.send({"current": "wrong", "new": OTHER, "again": OTHER}, form=form)
    assert "The name or the password is wrong." in robin.says
    robin.send({"current": PASSWORD, "new": "short", "again": "short"}, form=form)
    assert robin.answer.status_code == 422
    robin.send({"current": PASSWORD, "new": OTHER, "again": OTHER}, form=form)
    assert "Your password is changed" in robin.says

    robin.http.cookies.clear()

    assert sign_in(robin.http, "Robin", OTHER).path == f"/book/{POOL}"


def test_what_changes_rights_asks_for_the_password_after_a_while(service: Served, warden: Browser) -> None:
    assert not warden.go(PEOPLE).page.css("#inviting [name=password]")

    service.clock.pass_seconds(16 * 60)
    warden.go(PEOPLE).send({"role": "reader", "password": "wrong"}, form="#inviting")

    assert "The name or the password is wrong." in warden.says
    assert ["accepted"] == ["accepted" if each.accepted_at else "open" for each in service.book().invitations()]

    warden.send({"role": "reader", "password": PASSWORD}, form="#inviting")

    assert "Hand this on" in warden.says


def test_a_key_is_made_shown_once_and_ended(service: Served, warden: Browser) -> None:
    warden.go(PEOPLE).send({"name": "the till", "role": "reader", "until": "2026-12-31"}, form="#keying")
    service.keys["till"] = warden.one(".note code").text()

    assert service.client("till").who().name == "the till"
    assert service.keys["till"] not in warden.go(PEOPLE).answer.text

    listed = service.book().keys()
    key = next(each.key_id for each in listed if each.name == "the till")
    warden.send({}, form=f'form[action="{PEOPLE}/keys/{key}/end"]')

    service.clock.pass_seconds(2)
    with pytest.raises(Exception, match="key"):
        service.client("till").who()


def test_a_key_of_one_member_says_its_last_use_and_its_end(service: Served, warden: Browser) -> None:
    form = {"name": "the till", "role": "clerk", "member": "CEDAR", "until": "2026-11-12"}
    warden.go(PEOPLE).send(form, form="#keying")
    service.keys["till"] = warden.one(".note code").text()

    assert "It is good until 13 Nov 2026, 00:00 ." in warden.says
    assert {"Role": "clerk of CEDAR", "Last used": "never", "Good until": "13 Nov 2026, 00:00"} == key(
        warden, "the till"
    )

    assert "CEDAR" == service.client("till").who().pools[0].member
    assert "10 Nov 2026, 13:00" == key(warden.go(PEOPLE), "the till")["Last used"]

    service.clock.pass_seconds(3 * 24 * 3600)
    warden = signed_in(service, warden.http, "keeper").go(PEOPLE)
    assert ["clerk of CEDAR", "by itself"] == [
        cell.split(", ")[-1] for cell in row(warden, "Keys that", "the till")[1::3]
    ]
    assert not warden.page.css('[aria-label="End the key the till"]')


def key(browser: Browser, name: str) -> dict[str, str]:
    """Give what a key's card says, but when it was made."""
    card = next(each for each in browser.page.css("li.card:has(dl)") if name == text_of(each.css("h3")[0]))
    facts = {text_of(each.css("dt")[0]): text_of(each.css("dd")[0]) for each in card.css("dl div")}
    return {name: said for name, said in facts.items() if name != "Made"}


def test_a_key_ends_by_itself_unless_that_is_taken_out(service: Served, warden: Browser) -> None:
    warden.go(PEOPLE).send({"name": "for a year"}, form="#keying")
    warden.go(PEOPLE).send({"name": "for good", "until": ""}, form="#keying")

    listed = service.book().keys()
    ends = {each.name: each.expires_at and each.expires_at.date().isoformat() for each in listed}
    assert ("2027-11-10", None) == (ends["for a year"], ends["for good"])
    assert "you end it" == key(warden.go(PEOPLE), "for good")["Good until"]


def test_a_key_for_days_that_are_over_is_none(service: Served, warden: Browser) -> None:
    warden.go(PEOPLE).send({"name": "late", "until": "2026-11-09"}, form="#keying")

    assert 422 == warden.answer.status_code
    assert "This day is over." in warden.says
    listed = service.book().keys()
    assert "late" not in {each.name for each in listed}


def test_a_key_s_form_sent_again_shows_its_text_no_more(service: Served, warden: Browser) -> None:
    shown = warden.go(PEOPLE).answer
    text = warden.send({"name": "the till"}, form="#keying").one(".note code").text()
    warden.answer = shown
    warden.send({"name": "the till"}, form="#keying")

    assert "Its text was shown before" in warden.says
    assert text not in warden.answer.text
    listed = service.book().keys()
    assert 1 == [each.name for each in listed].count("the till")


def test_a_wrong_password_is_told_where_it_was_given_and_nowhere_else(service: Served, warden: Browser) -> None:
    sam = join(service, "Sam", "sam", role=Role.CLERK, member="CEDAR")
    service.clock.pass_seconds(16 * 60)
    form = f'form[action="{PEOPLE}/{sam}/change"]'
    warden.go(PEOPLE).send({"role": "reader", "password": "wrong"}, form=form, button="change")

    (told,) = warden.page.css(".wrong")
    assert "The name or the password is wrong." == text_of(told)
    assert [told.text()] == [each.text() for each in warden.page.css(f"details[open] {form} .wrong")]
    assert "reader" == filled_in(warden.one(form))["role"]


def test_roles_change_and_people_go(service: Served, warden: Browser) -> None:
    sam = join(service, "Sam", "sam", role=Role.CLERK, member="CEDAR")
    form = f'form[action="{PEOPLE}/{sam}/change"]'
    warden.go(PEOPLE).send({"role": "reader"}, form=form, button="change")

    assert service.client("sam").who().pools[0].role is Role.READER

    warden.go(PEOPLE).send({}, form=form, button="out")

    assert () == service.client("sam").who().pools


def rows(browser: Browser) -> list[list[str]]:
    """Give what the rows of a page's table say, but for when."""
    return [[text_of(cell) for cell in row.css("td")][1:] for row in browser.page.css("tbody tr")]


def test_a_keeper_sees_what_happened_with_access(service: Served, warden: Browser) -> None:
    sam = join(service, "Sam", "sam", role=Role.CLERK, member="CEDAR")
    warden.go(PEOPLE).send({"role": "reader"}, form=f'form[action="{PEOPLE}/{sam}/change"]', button="change")
    service.send("PUT", "/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}, key="sam")
    warden.go(f"{PEOPLE}/access")

    assert [
        [f"not permitted: PUT /v1/pools/{POOL}/members/ELM", "Sam", "–", "127.0.0.1"],
        ["role changed: clerk of CEDAR before, reader now", "Robin", "Sam", "127.0.0.1"],
        ["signed in", "Sam", "–", "127.0.0.1"],
        ["invitation accepted: clerk of CEDAR", "Sam", "–", "127.0.0.1"],
    ] == rows(warden)[:4]

    assert 1 == len(rows(warden.go(f"{PEOPLE}/access?kind=role_changed&who={sam}")))
    assert "Nothing is like this." in warden.go(f"{PEOPLE}/access?from_day=2027-01-01").says
    assert 403 == sign_in(warden.http, "Sam", PASSWORD).go(f"{PEOPLE}/access").answer.status_code


def test_what_happened_goes_on_over_pages(service: Served, warden: Browser) -> None:
    for number in range(52):
        service.book().make_key(name=f"key {number}", role=Role.READER)
    older = warden.go(f"{PEOPLE}/access?kind=key_made").one(".onward a").attributes["href"] or ""
    first = rows(warden)
    warden.go(f"{PEOPLE}/access{older}")

    assert 50 == len(first)
    assert ["key made: reader", "the book", "key 1", "127.0.0.1"] == rows(warden)[0]


def test_everybody_sees_where_it_signed_in_lately(service: Served, warden: Browser) -> None:
    with pytest.raises(Exception, match="wrong"):
        service.client(None).sign_in(name="Robin", password="not the words")
    warden.go("/account")

    assert "Where you signed in lately" in warden.says
    assert ["sign-in refused by somebody unknown", "127.0.0.1"] == rows(warden)[0]
    assert ["signed in: pages", "127.0.0.1"] == rows(warden)[1]


def test_a_clerk_sees_no_forms_for_people(service: Served, pages: httpx.Client) -> None:
    join(service, "Sam", "sam", role=Role.CLERK, member="CEDAR")
    browser = sign_in(pages, "Sam", PASSWORD).go(PEOPLE)

    assert 403 == browser.answer.status_code


@pytest.mark.parametrize("role", ["keeper", "clerk", "reader"])
def test_every_place_of_the_menu_opens(service: Served, pages: httpx.Client, role: str) -> None:
    browser = signed_in(service, pages, role)
    places = [each.attributes["href"] or "" for each in browser.page.css("nav.places a")]

    assert len(places) > 4
    assert (role == "keeper") == (PEOPLE in places)
    assert {200} == {browser.go(each).answer.status_code for each in places}
