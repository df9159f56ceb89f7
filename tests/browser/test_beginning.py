"""The first quarter of an hour in a real browser: from the first key of an empty service to the first purchase."""

import re
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, ViewportSize, expect

from tests.browser.conftest import DESK, PATIENCE_MS, PHONE, Scheme
from tests.browser.looks import flaws, picture
from tests.databases import SqliteTemplate
from tests.served import PASSWORD, Served, listening


@pytest.fixture(scope="module")
def empty(sqlite_template: SqliteTemplate) -> Iterator[Served]:
    """A service on which there is nothing but the first key."""
    with sqlite_template.copy() as database, listening(database.url, pages=True) as served:
        yield served


@contextmanager
def opened(chromium: Chromium, address: str, size: ViewportSize, scheme: Scheme, *, script: bool) -> Iterator[Page]:
    context = chromium.new_context(base_url=address, viewport=size, java_script_enabled=script, color_scheme=scheme)
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(
    ("size", "scheme", "script"),
    [(PHONE, "light", True), (DESK, "dark", True), (PHONE, "dark", False)],
    ids=["phone", "desk", "phone without script"],
)
def test_an_empty_service_comes_to_its_first_purchase(
    chromium: Chromium, empty: Served, size: ViewportSize, scheme: Scheme, *, script: bool
) -> None:
    pool = f"riverside-{size['width']}-{scheme}"
    with opened(chromium, empty.address, size, scheme, script=script) as page:
        wrong: dict[str, list[str]] = {}

        def seen(name: str) -> None:
            if script and (found := flaws(page)):
                wrong[name] = found
            picture(page, f"beginning-{name}", size, scheme)

        page.goto("/sign-in")
        page.get_by_text("With an API key instead").click()
        page.get_by_label("Key").fill(empty.keys["operator"])
        page.get_by_role("button", name="Sign in with the key").click()
        page.get_by_role("link", name="Make a pool").click()
        found(page, pool)
        seen("founded")
        link = page.locator(".note code").inner_text()
        page.get_by_role("button", name="Sign out").click()
        join(page, link, f"Ines of {pool}")
        expect(page.get_by_role("heading", name="To begin")).to_be_visible()
        seen("now")

        page.get_by_role("link", name="Add the shops").click()
        for code in ("ALDER", "BIRCH"):
            page.get_by_label("Code").fill(code)
            page.get_by_label("Name").fill(f"{code.title()} Workshop")
            page.get_by_role("button", name="Add it").click()
            expect(page.get_by_role("status")).to_contain_text("The shop is in the pool.")
        page.get_by_label("Custodian").select_option("ALDER")
        seen("shops")
        page.get_by_role("button", name="Say so").click()
        page.get_by_role("link", name="Now", exact=True).click()
        page.get_by_role("link", name="Enter the first purchase").click()
        page.get_by_label("Who paid").select_option("ALDER")
        page.get_by_label("Credits", exact=True).fill("500")
        page.get_by_label("Amount in EUR").fill("3450.00")
        if not script:
            page.get_by_role("button", name="Show what it changes").click()
        page.get_by_role("button", name="Enter: record it").click()
        expect(page.get_by_role("status")).to_contain_text("Recorded as entry 1.")
        page.get_by_role("link", name="Back to now").click()
        expect(page.locator("main")).to_contain_text(re.compile(r"Stock\s+500 credits"))
        expect(page.get_by_role("heading", name="To begin")).to_have_count(0)

        assert {} == wrong


def found(page: Page, pool: str) -> None:
    """Fill in what a pool is, and make it."""
    page.get_by_label("Name of the group").fill("Riverside")
    page.get_by_label("Its name in addresses").fill(pool)
    page.get_by_label("Vendor").fill("Norvane Tuning Systems")
    page.get_by_label("Currency").fill("EUR")
    page.get_by_label("Time zone").fill("Europe/Vienna")
    page.get_by_role("button", name="Make the pool").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"For the keeper of {pool}")


def join(page: Page, link: str, name: str) -> None:
    """Accept an invitation; without script its text is put in by hand."""
    page.goto(link)
    field = page.get_by_label("Invitation")
    if not field.input_value():
        field.fill(link.partition("#")[2])
    page.get_by_label("Your name").fill(name)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_label("The password again").fill(PASSWORD)
    page.get_by_role("button", name="Accept").click()
    page.wait_for_url("**/book/*")
