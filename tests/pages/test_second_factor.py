"""The second factor on the pages: set up, asked for in a second step, recovery codes, taken off; all without script."""

import httpx
import pytest
from pool_client.models.directory import Role

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in
from tests.pages.conftest import signed_in
from tests.pages.test_people import sign_in
from tests.served import PASSWORD, POOL, Served, code_of, join, second_factor

PAGE = "/account/second-factor"
REMINDER = "You keep the book: set up a second factor."


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def robin(service: Served, pages: httpx.Client) -> Browser:
    """The browser of a keeper who has a password and no second factor."""
    join(service, "Robin", "robin")
    return sign_in(pages, "Robin", PASSWORD)


@pytest.fixture
def secret(service: Served, robin: Browser) -> str:
    """The secret of Robin's second factor, set up half a minute ago; the browser is signed out by that."""
    made = second_factor(service, "robin")
    service.clock.pass_seconds(30)
    robin.http.cookies.clear()
    return made


def begun(robin: Browser) -> str:
    """Begin a second factor, and give its secret as the page says it."""
    robin.go(PAGE).send({}, form="#beginning")
    return robin.one("code.secret").text()


def kept(robin: Browser) -> list[str]:
    return [each.text() for each in robin.page.css("ol.codes code")]


def signed_in_again(service: Served, robin: Browser, secret: str) -> Browser:
    return sign_in(robin.http, "Robin", PASSWORD).send({"code": code_of(service, secret)}, form="#by-code")


# --- setting up ------------------------------------------------------------------------------------------------------


def test_a_keeper_is_told_where_it_matters_until_there_is_one(service: Served, robin: Browser) -> None:
    for path in (f"/book/{POOL}", "/account", f"/book/{POOL}/people"):
        assert REMINDER in robin.go(path).says
    for path in (f"/book/{POOL}/entries", PAGE):
        assert REMINDER not in robin.go(path).says

    robin.send({}, form="#beginning")
    robin.send({"code": code_of(service, robin.one("code.secret").text())})

    assert REMINDER not in robin.says
    assert REMINDER not in robin.go(f"/book/{POOL}").says


@pytest.mark.parametrize("role", [Role.CLERK, Role.READER])
def test_nobody_else_is_told(service: Served, pages: httpx.Client, role: Role) -> None:
    join(service, "Sam", "sam", role=role, member="CEDAR" if role is Role.CLERK else None)

    assert REMINDER not in sign_in(pages, "Sam", PASSWORD).says
    assert REMINDER not in signed_in(service, pages, "keeper").says


def test_one_is_set_up_with_a_picture_a_code_and_recovery_codes(service: Served, robin: Browser) -> None:
    made = begun(robin)
    address = robin.one('main a[href^="otpauth:"]').attributes["href"] or ""

    assert address.startswith("otpauth://totp/Credit%20pool:Robin?")
    assert f"secret={made}" in address
    assert 1 == len(robin.page.css(".picture[role=img] svg path[stroke]"))
    assert "style" not in (robin.one(".picture").html or "style")

    robin.send({"code": "000000"})
    assert (422, "The code is wrong, too old, or was used before.") == (
        robin.answer.status_code,
        robin.one(".wrong").text(),
    )
    assert made == robin.one("code.secret").text()
    robin.send({"code": "four"})
    assert "Six digits" in robin.says

    robin.send({"code": code_of(service, made)})
    codes = kept(robin)

    assert 10 == len(set(codes))
    assert "shown this once" in robin.says
    assert "10 recovery codes are left." in robin.go(PAGE).says
    assert codes[0] not in robin.answer.text
    assert "Recovery codes, take it off" in robin.go("/account").says


def test_setting_it_up_asks_for_a_password_that_was_given_lately(service: Served, robin: Browser) -> None:
    service.clock.pass_seconds(16 * 60)
    robin.go(PAGE).send({"password": "wrong words"}, form="#beginning")
    assert "The name or the password is wrong." in robin.says

    robin.send({"password": PASSWORD}, form="#beginning")

    assert robin.one("code.secret").text()


def test_a_confirmation_sent_twice_leads_to_what_stands(service: Served, robin: Browser) -> None:
    made = begun(robin)
    filled = {**filled_in(robin.one("main form")), "code": code_of(service, made)}
    for _ in range(2):
        robin.post(f"{PAGE}/confirmation", filled)

    assert "You have one since" in robin.says
    assert "You have one since" in robin.post(f"{PAGE}/confirmation", {**filled, "address": "https://x.test/"}).says


def test_whoever_signed_in_with_a_key_has_none(service: Served, pages: httpx.Client) -> None:
    assert 403 == signed_in(service, pages, "keeper").go(PAGE).answer.status_code


def test_without_one_rights_stay_as_they_are_and_the_page_says_why(service: Served, robin: Browser) -> None:
    robin.go(f"/book/{POOL}/people").send({"role": "reader"}, form="#inviting")

    assert 403 == robin.answer.status_code
    assert "needs a second factor for this, and you have none: set one up first." in robin.says
    assert 1 == len(list(service.book().invitations()))  # the one that Robin came in by


# --- signing in ------------------------------------------------------------------------------------------------------


def test_signing_in_asks_for_the_code_in_a_second_step(service: Served, robin: Browser, secret: str) -> None:
    step = sign_in(robin.http, "Robin", PASSWORD)

    assert "Your password is right." in step.says
    assert PASSWORD not in step.answer.text
    assert not step.http.cookies
    assert step.go(f"/book/{POOL}").path.startswith("/sign-in")

    step = sign_in(robin.http, "Robin", PASSWORD).send({"code": "000000"}, form="#by-code")
    assert (403, "The code is wrong, too old, or was used before.") == (
        step.answer.status_code,
        step.one("#by-code .wrong").text(),
    )
    step.send({"code": code_of(service, secret)}, form="#by-code")
    assert f"/book/{POOL}" == step.path


def test_the_way_back_is_kept_over_both_steps(service: Served, robin: Browser, secret: str) -> None:
    browser = Browser(robin.http).go(f"/book/{POOL}/entries")
    browser.send({"name": "Robin", "password": PASSWORD}, form="#by-name")
    browser.send({"code": code_of(service, secret)}, form="#by-code")

    assert f"/book/{POOL}/entries" == browser.path


def test_a_wrong_password_shows_the_same_page_with_a_factor_and_without(
    service: Served, robin: Browser, secret: str
) -> None:
    join(service, "Sam", "sam")
    with_factor, without = (sign_in(robin.http, name, "not the words").says for name in ("Robin", "Sam"))

    assert secret
    assert "The name or the password is wrong." in without
    assert with_factor == without


def test_a_second_step_that_takes_too_long_begins_again(service: Served, robin: Browser, secret: str) -> None:
    step = sign_in(robin.http, "Robin", PASSWORD)
    service.clock.pass_seconds(301)
    step.send({"code": code_of(service, secret)}, form="#by-code")

    assert "That took longer than 5 minutes" in step.says


def test_a_recovery_code_signs_in_once(service: Served, robin: Browser, secret: str) -> None:
    browser = signed_in_again(service, robin, secret).go(PAGE)
    service.clock.pass_seconds(30)
    browser.send({"code": code_of(service, secret)}, form="#renewing")
    code = kept(browser)[2]
    for says in ("9 recovery codes are left.", "wrong, too old, or was used before"):
        browser.http.cookies.clear()
        step = sign_in(browser.http, "Robin", PASSWORD).send({"recovery": code}, form="#by-recovery")
        assert says in (step.go(PAGE).says if step.path.startswith("/book") else step.one("details[open]").text())


# --- what can be done with it ----------------------------------------------------------------------------------------


def test_it_is_taken_off_with_a_code_and_the_password(service: Served, robin: Browser, secret: str) -> None:
    browser = signed_in_again(service, robin, secret)
    service.clock.pass_seconds(16 * 60)
    browser.go(PAGE).send({"code": code_of(service, secret), "password": "wrong words"}, form="#taking-off")
    assert "The name or the password is wrong." in browser.says
    browser.send({"code": "000000", "password": PASSWORD}, form="#taking-off")
    assert "The code is wrong" in browser.one("#taking-off").text()
    browser.send({"code": "000000"}, form="#renewing")
    assert "The code is wrong" in browser.one("#renewing").text()
    browser.send({"code": code_of(service, secret)}, form="#taking-off")

    assert "It is taken off" in browser.says
    browser.http.cookies.clear()
    assert f"/book/{POOL}" == sign_in(browser.http, "Robin", PASSWORD).path


def test_few_recovery_codes_are_warned_of(service: Served, robin: Browser, secret: str) -> None:
    browser = signed_in_again(service, robin, secret).go(PAGE)
    service.clock.pass_seconds(30)
    codes = kept(browser.send({"code": code_of(service, secret)}, form="#renewing"))
    for code in codes[:7]:
        browser.http.cookies.clear()
        sign_in(browser.http, "Robin", PASSWORD).send({"recovery": code}, form="#by-recovery")

    assert "3 recovery codes are left: make new ones." in browser.go(PAGE).says
