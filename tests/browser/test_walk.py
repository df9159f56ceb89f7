"""Every page, on a phone and on a desk, light and dark: it keeps nobody out, and has nothing beside the screen."""

import os
import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, ViewportSize
from pool_client.models.entries import Command

from tests.browser.conftest import DESK, PHONE, Open, Scheme
from tests.rest.test_worked_example import EXAMPLE, MONTH
from tests.served import Served

SHOTS = os.environ.get("CREDIT_POOL_TEST_SHOTS")
"""Where pictures of all pages go, for somebody to look at."""

LOOKS: tuple[tuple[ViewportSize, Scheme], ...] = (
    ((PHONE, "light"), (DESK, "dark"), (PHONE, "dark"), (DESK, "light"))
    if SHOTS
    else ((PHONE, "light"), (DESK, "dark"))
)
"""Contrast depends on the scheme and the rest on the size: two of the four find it all."""

IN_POOL = (
    "",
    "/more",
    "/record",
    "/record/loan?lender=BIRCH&quantity=5",
    "/record/use?member=BIRCH",
    "/record/purchase",
    "/entries",
    "/entries?member=CEDAR&kind=use",
    "/entries/6",
    "/entries/6/undo",
    "/months",
    f"/months/{MONTH}",
    f"/months/{MONTH}/settlement",
    f"/months/{MONTH}/what-if?loan_price=lender",
    f"/months/{MONTH}/figures/members.BIRCH.due.total",
    f"/months/{MONTH}/statements/BIRCH",
    f"/months/{MONTH}/reopening",
    "/cost?by=member",
    "/buying?quantity=49",
    "/vendor",
    f"/months/{MONTH}/vendor",
    "/buying/needs",
    "/buying/plans",
    "/buying/ladders",
    "/buying/catalogue",
    "/requests",
    "/members",
    "/members/CEDAR",
    "/entries/verification",
    "/people",
    "/people/access",
    "/nowhere",
)
OUTSIDE = ("/sign-in", "/invitation", "/account", "/account/second-factor", "/?books=all")


@pytest.fixture
def filled(house: Served, pool: str) -> str:
    days = [Command(body=body, effective_on=house.clock.at.date().replace(month=9, day=day)) for day, body in EXAMPLE]
    house.book(f"{pool} keeper", pool).record_all(days)
    return pool


@pytest.mark.parametrize(("size", "scheme"), LOOKS, ids=[f"{size['width']} {scheme}" for size, scheme in LOOKS])
def test_no_page_keeps_anybody_out(filled: str, open_page: Open, size: ViewportSize, scheme: Scheme) -> None:
    page = open_page(filled, size=size, scheme=scheme)
    found = {}
    for path in (*(f"/book/{filled}{each}" for each in IN_POOL), *OUTSIDE):
        answer = page.goto(path)
        assert answer is not None
        assert path.endswith("/nowhere") == (answer.status == 404), path
        if wrong := flaws(page):
            found[path] = wrong
        picture(page, path, size, scheme)

    assert {} == found


def flaws(page: Page) -> list[str]:
    """Give what is wrong with a page: by the accessibility engine, and what stands beside the screen."""
    told = Axe().run(page).response["violations"]
    wrong = [
        f"{each['id']}: {node['html'][:120]} {node['failureSummary'][:160]}" for each in told for node in each["nodes"]
    ]
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return [*wrong, *([f"{wide} pixels wider than the screen"] if wide > 0 else [])]


def picture(page: Page, path: str, size: ViewportSize, scheme: str) -> None:
    if SHOTS:
        name = re.sub(r"\W+", "-", re.sub(r"/book/pool-\d+", "", path)).strip("-") or "now"
        page.screenshot(path=Path(SHOTS) / f"{name}-{size['width']}-{scheme}.png", full_page=True)
