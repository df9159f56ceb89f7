"""A real browser, and one service with its pages for all tests here: each makes a pool of its own in it."""

import os
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import BrowserContext, Page, ViewportSize, expect, sync_playwright
from pool_client.models.directory import Role

from tests.databases import SqliteTemplate
from tests.served import PASSWORD, Served, join, listening, set_up

EXECUTABLE = Path("/usr/bin/chromium")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PHONE, DESK = ViewportSize(width=390, height=844), ViewportSize(width=1280, height=900)
REQUIRED = "CREDIT_POOL_TEST_BROWSER"
PATIENCE_MS = 30_000

Scheme = Literal["dark", "light"]
Open = Callable[..., Page]
"""Opens a page of somebody's: in a pool, signed in as its keeper or by a name, in a window of a size."""


@pytest.fixture(scope="module")
def chromium() -> Iterator[Chromium]:
    """A browser. While it is open its driver's event loop counts as running, so that it can't outlast these tests."""
    if not EXECUTABLE.exists():
        if os.environ.get(REQUIRED) == "required":
            pytest.fail(f"{EXECUTABLE} is missing: install Debian's package chromium")
        pytest.skip(f"{EXECUTABLE} is missing: install Debian's package chromium")
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=EXECUTABLE, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def house(sqlite_template: SqliteTemplate) -> Iterator[Served]:
    """The service with its pages on a port of its own."""
    with sqlite_template.copy() as database, listening(database.url, pages=True) as served:
        yield served


_NUMBERS = count(1)


@pytest.fixture
def pool(house: Served) -> str:
    """A pool of the test's own, with four shops and a keeper who signs in by the pool's name."""
    name = f"pool-{next(_NUMBERS)}"
    set_up(house, name, prefix=f"{name} ")
    join(house, name, f"{name} keeper", role=Role.KEEPER, pool=name)
    return name


@pytest.fixture
def open_page(chromium: Chromium, house: Served) -> Iterator[Open]:
    """Opens pages, and sees to it that no page has complained by the end."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(
        pool: str, *, size: ViewportSize = PHONE, script: bool = True, scheme: Scheme = "light", name: str = ""
    ) -> Page:
        context = chromium.new_context(
            base_url=house.address, viewport=size, java_script_enabled=script, color_scheme=scheme
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.goto("/sign-in")
        page.get_by_label("Name").fill(name or pool)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.wait_for_url(f"**/book/{pool}")
        return page

    yield opened
    for context in contexts:
        context.close()
    # what a page was refused for is said on it, and so is a lost connection; a browser says so as well
    expected = ("the server responded with a status of 4", "net::ERR_FAILED", "net::ERR_INTERNET_DISCONNECTED")
    assert [] == [each for each in complaints if not any(words in each for words in expected)]
