"""Every page of the site, with all that may stand on it: on a phone, on a desk and on paper, light and dark, for the
keeper and for a clerk. It keeps nobody out, has nothing beside the screen, and no page is forgotten."""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import FilePayload, Page, ViewportSize, expect
from pool_web.session import COOKIE
from pool_web.site import create_site
from starlette.routing import Route

from tests.browser.conftest import DESK, PHONE, Open, Scheme
from tests.browser.filled import COMPARED, LARGE, PAID, UNDER_WAY, UNPAID, Filled, export, fill, leave_empty
from tests.browser.looks import SHOTS, flaws, flaws_on_paper, flaws_under_fingers, open_all, picture
from tests.served import NOON, Served

LOOKS: tuple[tuple[ViewportSize, Scheme], ...] = (
    ((PHONE, "light"), (DESK, "dark"), (PHONE, "dark"), (DESK, "light"))
    if SHOTS
    else ((PHONE, "light"), (DESK, "dark"))
)
"""Contrast depends on the scheme and the rest on the size: two of the four find it all."""

EVERY_LOOK = pytest.mark.parametrize(
    ("size", "scheme"), LOOKS, ids=[f"{size['width']} {scheme}" for size, scheme in LOOKS]
)

FILES = frozenset(
    {
        "/assets/{name}",
        "/book/{pool}/buying/plans/{plan}/plot.svg",
        "/book/{pool}/cost/plot.svg",
        "/book/{pool}/months/{month:month}/report.pdf",
        "/book/{pool}/months/{month:month}/statements.zip",
        "/book/{pool}/months/{month:month}/statements/{member}/{form}",
    }
)
"""What is no page."""


def addresses(filled: Filled) -> dict[str, tuple[str, ...]]:
    """Give where to walk, by the site's own paths; those of a pool stand below it."""
    below = {
        "": ("",),
        "/more": ("/more",),
        "/record": ("/record",),
        "/record/{kind}": (
            "/record/loan?lender=BIRCH&quantity=5",
            "/record/use?member=BIRCH",
            "/record/purchase",
            f"/record/payment?from_member={LARGE}",
            "/record/outside",
        ),
        "/entries": ("/entries", "/entries?member=CEDAR&kind=use", "/entries?text=there+is+no+such+note"),
        "/entries/{number:int}": ("/entries/1", f"/entries/{filled.drawn}", f"/entries/{filled.disputed}"),
        "/entries/{number:int}/undo": (f"/entries/{filled.drawn}/undo",),
        "/entries/{number:int}/acknowledgement": (f"/entries/{filled.disputed}/acknowledgement",),
        "/entries/verification": ("/entries/verification",),
        "/months": ("/months",),
        "/months/{month:month}": (f"/months/{PAID}", f"/months/{COMPARED}", f"/months/{UNDER_WAY}"),
        "/months/{month:month}/settlement": tuple(
            f"/months/{month}/settlement" for month in (PAID, UNPAID, COMPARED, UNDER_WAY)
        ),
        "/months/{month:month}/close": (f"/months/{COMPARED}/close",),
        "/months/{month:month}/reopening": (f"/months/{UNPAID}/reopening",),
        "/months/{month:month}/what-if": (
            f"/months/{COMPARED}/what-if",
            f"/months/{COMPARED}/what-if?loan_price=lender&stock_costing=fifo",
        ),
        "/months/{month:month}/figures/{figure}": (
            f"/months/{COMPARED}/figures/members.BIRCH.due.total",
            f"/months/{COMPARED}/figures/price",
            f"/months/{UNDER_WAY}/figures/members.{LARGE}.unit_cost",
        ),
        "/months/{month:month}/statements/{member}": (
            f"/months/{UNPAID}/statements/BIRCH",
            f"/months/{UNDER_WAY}/statements/{LARGE}",
        ),
        "/months/{month:month}/vendor": tuple(f"/months/{month}/vendor" for month in (PAID, COMPARED, UNDER_WAY)),
        "/months/{month:month}/vendor/matches": (f"/months/{COMPARED}/vendor/matches",),
        "/months/{month:month}/vendor/proof": (f"/months/{COMPARED}/vendor/proof",),
        "/months/{month:month}/vendor/all": (
            f"/months/{COMPARED}/vendor/all?kind=missing_in_journal&verdict=accepted",
            f"/months/{COMPARED}/vendor/all?kind=quantity&verdict=dismissed",
        ),
        "/requests": ("/requests",),
        "/buying": ("/buying",),
        "/buying/rounds/{round}": (f"/buying/rounds/{filled.open}", f"/buying/rounds/{filled.ended}"),
        "/buying/rounds/{round}/commitment": (f"/buying/rounds/{filled.open}/commitment",),
        "/buying/rounds/{round}/close": (f"/buying/rounds/{filled.open}/close", f"/buying/rounds/{filled.ended}/close"),
        "/buying/needs": ("/buying/needs",),
        "/buying/needs/{member}/{month:month}": ("/buying/needs/CEDAR/2026-12", "/buying/needs/BIRCH/2027-01"),
        "/buying/plans": ("/buying/plans",),
        "/buying/plans/{plan}": (f"/buying/plans/{filled.plan}",),
        "/buying/ladders": ("/buying/ladders", "/buying/ladders?quantity=95"),
        "/buying/ladders/new": ("/buying/ladders/new",),
        "/buying/ladders/{day}/change": (f"/buying/ladders/{filled.ladder}/change",),
        "/buying/ladders/file": ("/buying/ladders/file",),
        "/buying/catalogue/file": ("/buying/catalogue/file",),
        "/buying/catalogue": ("/buying/catalogue", "/buying/catalogue?text=cal"),
        "/buying/catalogue/{day}/changes": (f"/buying/catalogue/{filled.catalogue}/changes",),
        "/cost": ("/cost", "/cost?by=member"),
        "/vendor": ("/vendor", "/vendor?from_day=2026-07-01&to_day=2026-10-31"),
        "/vendor/file": ("/vendor/file",),
        "/vendor/imports/{import_id}": (f"/vendor/imports/{filled.imported}",),
        "/in-hand": ("/in-hand",),
        "/members": ("/members",),
        "/members/{code}": (f"/members/{LARGE}",),
        "/people": ("/people",),
        "/people/access": ("/people/access", "/people/access?kind=signed_in"),
    }
    factor = "/account/second-factor"
    outside = (
        *("/", "/founding", "/sign-in", "/invitation", "/account", "/account/password", "/account/sessions"),
        *(factor, f"{factor}/confirmation", f"{factor}/recovery-codes", f"{factor}/removal"),
    )
    return {
        **{f"/book/{{pool}}{path}": _in(filled.pool, walked) for path, walked in below.items()},
        **{path: ("/?books=all",) if path == "/" else (path,) for path in outside},
    }


def _in(pool: str, walked: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"/book/{pool}{each}" for each in walked)


EMPTY = (
    "",
    "/entries",
    "/months",
    f"/months/{UNDER_WAY}",
    f"/months/{UNDER_WAY}/settlement",
    f"/months/{UNDER_WAY}/statements/ALDER",
    f"/months/{UNDER_WAY}/what-if",
    f"/months/{UNDER_WAY}/vendor",
    f"/months/{UNDER_WAY}/vendor/matches",
    f"/months/{UNDER_WAY}/vendor/proof",
    "/record/use",
    "/requests",
    "/buying",
    "/buying/needs",
    "/buying/plans",
    "/buying/ladders",
    "/buying/catalogue",
    "/members",
    "/members/CEDAR",
    "/entries/verification",
    "/cost",
    "/vendor",
    "/in-hand",
    "/people",
    "/people/access",
    "/nowhere",
)
"""Pages on which little stands where nothing was done, and one that isn't there."""

ANOTHERS = ("/entries/{number:int}/undo", "/buying/needs/{member}/{month:month}")
BARRED = ("/founding", "/entries/verification", "/months", "/vendor", "/people", *ANOTHERS)
"""What isn't a clerk's to see begins so; the entry and the need that stand in two addresses are another member's."""


@pytest.fixture(scope="module")
def filled(house: Served) -> Filled:
    return fill(house, "pool-0")


@pytest.fixture(scope="module")
def empty(house: Served) -> str:
    leave_empty(house, "pool-00")
    return "pool-00"


def test_every_page_is_walked() -> None:
    site = create_site(api="http://nowhere.test", http=httpx.AsyncClient(), now=lambda: NOON)
    shown = {each.path for each in site.routes if isinstance(each, Route) and "GET" in (each.methods or ())}
    anything: dict[str, Any] = dict.fromkeys(Filled.__dataclass_fields__, 1)

    assert shown - FILES == addresses(Filled(**anything)).keys()


@EVERY_LOOK
def test_no_page_keeps_the_keeper_out(filled: Filled, open_page: Open, size: ViewportSize, scheme: Scheme) -> None:
    walk = Walk(open_page(filled.pool, size=size, scheme=scheme), size, scheme)
    for walked in addresses(filled).values():
        for address in walked if size == PHONE or SHOTS else walked[:1]:
            assert (403 if address == "/founding" else 200) == walk.go(address), address
            walk.look(address)
    hold(walk.page, filled.warden)
    for name, send in SENT.items():
        send(walk.page, f"/book/{filled.pool}")
        walk.look(f"/sent/{name}")

    walk.end()


@pytest.mark.parametrize(("size", "scheme"), LOOKS[2:] or [(PHONE, "dark")])
def test_no_page_keeps_a_clerk_out(filled: Filled, open_page: Open, size: ViewportSize, scheme: Scheme) -> None:
    walk = Walk(open_page(filled.pool, size=size, scheme=scheme, name=filled.clerk), size, scheme)
    refused = set()
    for path, walked in addresses(filled).items():
        for address in walked if SHOTS else walked[:1]:
            status = walk.go(address)
            assert status in {200, 403, 404}, address
            if status != 200 and address == walked[0]:
                refused.add(path.removeprefix("/book/{pool}"))
            walk.look(address, f"clerk{address}")

    walk.end()
    assert [] == [each for each in refused if not each.startswith(BARRED)]
    assert "/months/{month:month}/statements/{member}" not in refused


@EVERY_LOOK
def test_pages_with_nothing_on_them_keep_nobody_out(
    empty: str, open_page: Open, size: ViewportSize, scheme: Scheme
) -> None:
    walk = Walk(open_page(empty, size=size, scheme=scheme), size, scheme)
    for path in EMPTY:
        status = walk.go(f"/book/{empty}{path}")
        assert path.endswith("/nowhere") == (status == 404), path
        walk.look(path, f"empty{path}")

    walk.end()


class Walk:
    """Goes from page to page and keeps what is wrong with them."""

    def __init__(self, page: Page, size: ViewportSize, scheme: Scheme) -> None:
        self.page, self.size, self.scheme = page, size, scheme
        self.found: list[str] = []
        self._headings: dict[str, str] = {}

    def go(self, address: str) -> int:
        """Go to an address, and give the status of its answer."""
        answer = self.page.goto(address)
        assert answer is not None
        return answer.status

    def look(self, address: str, name: str = "") -> None:
        """Look at the page that is shown."""
        picture(self.page, name or address, self.size, self.scheme)
        open_all(self.page)
        beside = flaws_under_fingers if self.size == PHONE else flaws_on_paper
        wrong = [*flaws(self.page), *beside(self.page)]
        title, heading = self.page.title(), self.page.locator("h1").inner_text()
        if heading != self._headings.setdefault(title, heading):
            wrong.append(f"its title, {title}, is also that of {self._headings[title]}")
        self.found += [f"{address}: {each}" for each in wrong]

    def end(self) -> None:
        """See to it that nothing was wrong."""
        assert not self.found, "\n".join(self.found)


def hold(page: Page, token: str) -> None:
    """Have a browser hold the token of a session: it is somebody else's from now on."""
    host = urlsplit(page.url).hostname
    page.context.add_cookies([{"name": COOKIE, "value": token, "url": f"https://{host}/", "secure": True}])


def _refuse_loan(page: Page, home: str) -> None:
    page.goto(f"{home}/record/loan")
    page.get_by_label("Credits", exact=True).fill("0")
    page.get_by_role("button", name="Show what it changes").click()
    expect(page.get_by_text("A whole number of credits")).to_be_visible()


def _show_effect(page: Page, home: str) -> None:
    page.goto(f"{home}/record/draw?member=BIRCH&quantity=7")
    expect(page.get_by_role("button", name="Draw: record it")).to_be_visible()


def _show_obstacle(page: Page, home: str) -> None:
    page.goto(f"{home}/record/loan?lender=BIRCH&borrower=ELM&quantity=999999999")
    expect(page.get_by_text("This can't be recorded")).to_be_visible()


def _show_answer(page: Page, home: str) -> None:
    page.goto(home)
    page.get_by_role("link", name="Answer for").click()
    page.get_by_label("Credits", exact=True).fill("50")
    expect(page.get_by_role("button", name="Commit")).to_be_visible()


def _look_at_file(page: Page, home: str) -> None:
    page.goto(f"{home}/vendor/file")
    page.get_by_label("The file").set_input_files(FilePayload(name="x.csv", mimeType="text/csv", buffer=export()))
    page.get_by_label("Whose account it is").select_option("ALDER")
    page.get_by_label("Read it as").select_option("")
    page.get_by_role("button", name="See how it is understood").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How the file is understood")


def _invite(page: Page, home: str) -> None:
    page.goto(f"{home}/people")
    page.locator("#inviting").get_by_label("Of which member").select_option("FIR")
    page.locator("#inviting").get_by_role("button", name="Make the invitation").click()
    expect(page.get_by_text("Hand this on")).to_be_visible()


SENT: dict[str, Callable[[Page, str], None]] = {
    "a loan with fields to mend": _refuse_loan,
    "a draw and its effect": _show_effect,
    "a loan that can't be": _show_obstacle,
    "an answer to a joint order": _show_answer,
    "how a file is understood": _look_at_file,
    "an invitation": _invite,
}
"""Pages that are shown when a form was sent, and how to come to them."""
