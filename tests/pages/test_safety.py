"""What the pages give nobody else: cookies, forms of other sites, other people's books."""

import httpx
import pytest
from pool_web.session import COOKIE

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in
from tests.pages.conftest import signed_in
from tests.served import POOL, Served

HOME = f"/book/{POOL}"
LOAN = f"{HOME}/record/draw"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


def test_the_cookie_is_for_this_host_alone(service: Served, pages: httpx.Client) -> None:
    # RFC 6265bis, 4.1.3.2: a name with this prefix needs Secure, Path=/ and no Domain
    answer = pages.post("/sign-in", data={"token": service.keys["keeper"]}, headers={"Sec-Fetch-Site": "same-origin"})
    name, *attributes = answer.headers["set-cookie"].split("; ")

    assert name.startswith(f"{COOKIE}=")
    assert COOKIE.startswith("__Host-")
    assert {"HttpOnly", "Path=/", "SameSite=lax", "Secure"} == set(attributes)


def test_signing_out_forgets(keeper: Browser) -> None:
    keeper.send({}, form=".who form")

    assert keeper.path == "/sign-in"
    assert keeper.go(HOME).path.startswith("/sign-in?back=")


def test_an_unknown_key_is_told_nothing_about(pages: httpx.Client) -> None:
    browser = Browser(pages).go("/sign-in").send({"token": "cp_000000000000_" + "0" * 40}, form="#by-key")

    assert browser.answer.status_code == 403
    assert "The service doesn't know this key" in browser.says
    assert COOKIE not in pages.cookies


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "/v1/pools", "javascript:1"])
def test_signing_in_leads_nowhere_else(service: Served, pages: httpx.Client, back: str) -> None:
    told = {"token": service.keys["keeper"]}
    answer = pages.post("/sign-in", params={"back": back}, data=told, headers={"Sec-Fetch-Site": "same-origin"})

    assert answer.headers["location"] == "/"


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {},
    ],
)
def test_a_form_of_another_site_does_nothing(service: Served, keeper: Browser, headers: dict[str, str]) -> None:
    filled = filled_in(keeper.go(LOAN).one("main form"))
    told = {**filled, "member": "ALDER", "quantity": "1", "step": "record"}
    answer = keeper.http.post(LOAN, data=told, headers=headers)

    assert answer.status_code == 403
    assert service.book().positions().number == 0


def test_an_older_browser_says_where_a_form_comes_from(keeper: Browser) -> None:
    filled = filled_in(keeper.go(LOAN).one("main form"))
    answer = keeper.http.post(LOAN, data=filled, headers={"Origin": "https://pages.test"})

    assert answer.status_code == 303


@pytest.mark.parametrize("proof", ["", "0" * 64, "é"])
def test_a_form_without_its_proof_does_nothing(keeper: Browser, proof: str) -> None:
    keeper.go(LOAN).send({"form_proof": proof, "member": "ALDER", "quantity": "1"})

    assert keeper.answer.status_code == 403


def test_a_form_of_another_sign_in_does_nothing(service: Served, keeper: Browser) -> None:
    proof = filled_in(keeper.go(LOAN).one("main form"))["form_proof"]
    clerk = signed_in(service, keeper.http, "clerk")
    clerk.go(LOAN).send({"form_proof": proof, "member": "ALDER", "quantity": "1"})

    assert clerk.answer.status_code == 403


@pytest.mark.parametrize("path", ["/", "/sign-in", HOME, "/nowhere", "/book/nowhere", "/assets/pages.css", LOAN])
def test_every_answer_carries_the_rules(keeper: Browser, path: str) -> None:
    headers = keeper.go(path).answer.headers
    if path == "/nowhere":
        return
    policy = headers["content-security-policy"]

    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "nosniff" == headers["x-content-type-options"]
    assert "same-origin" == headers["referrer-policy"]
    assert "max-age=63072000; includeSubDomains" == headers["strict-transport-security"]
    assert "charset=utf-8" in headers["content-type"]


@pytest.mark.parametrize("path", [HOME, LOAN, f"{HOME}/entries", "/sign-in"])
def test_pages_hold_no_script_and_no_style_of_their_own(keeper: Browser, path: str) -> None:
    page = keeper.go(path).page

    assert [] == [each.html for each in page.css("script:not([src]), style, [style], [onclick], [onload]")]
    assert all((each.attributes["src"] or "").startswith("/assets/") for each in page.css("[src]"))


def test_another_pool_does_not_exist(keeper: Browser) -> None:
    assert keeper.go("/book/elsewhere").answer.status_code == 404


def test_a_reader_is_refused_by_the_book(service: Served, pages: httpx.Client) -> None:
    reader = signed_in(service, pages, "reader")
    reader.go(LOAN).send({"member": "ALDER", "quantity": "1"}, button="effect")

    assert "The stock holds 0 credits, which is 1 too few." in reader.says


def test_a_form_that_is_too_large_is_refused(keeper: Browser) -> None:
    assert keeper.go(LOAN).send({"note": "a" * 300_000}).answer.status_code == 413


def test_the_service_keeps_its_own_addresses(keeper: Browser) -> None:
    answer = keeper.go("/v1/pools").answer

    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.status_code == 401
