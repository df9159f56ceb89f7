"""What a page must be to keep nobody out, measured in the browser; and pictures of it, for somebody to look at."""

import os
import re
from collections.abc import Callable
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, ViewportSize

SHOTS = os.environ.get("CREDIT_POOL_TEST_SHOTS")
"""Where pictures of all pages go."""

SMALL, PAPER = ViewportSize(width=320, height=640), ViewportSize(width=680, height=960)
"""A desk's screen of 1280 enlarged four times; a sheet of A4 within margins of 15 mm, at 96 pixels to the inch."""

LEAST_TARGET = 44
"""Pixels that a finger needs, by WCAG 2.2, success criterion 2.5.5; links within a sentence are excepted there."""

_BESIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"

_TABLES = """[...document.querySelectorAll("table")].flatMap(table => [
  ...(table.caption?.textContent.trim() ? [] : ["a table without a caption"]),
  ...[...table.querySelectorAll("th:not([scope])")].map(head => "a head without scope: " + head.textContent),
])"""

_UNDRAWN = '[...document.images].filter(each => !each.naturalWidth).map(each => "not drawn: " + each.src)'

_TARGETS = """least => [...document.querySelectorAll("a, button, summary, input:not([type=hidden]), select, textarea")]
  .filter(each => {
    const target = each.matches("[type=checkbox], [type=radio]") ? each.closest("label") : each;
    const box = target.getBoundingClientRect();
    const inSentence = getComputedStyle(each).display === "inline"
      && each.parentElement.textContent.trim() !== each.textContent.trim();
    return each.checkVisibility() && box.right > 0 && !inSentence && (box.height < least || box.width < least);
  })
  .map(each => `too small for a finger: ${each.outerHTML.slice(0, 120)}`)"""

_ON_PAPER = """() => [
  ...[...document.querySelectorAll("nav, button, form, .button, .skip, summary")]
    .filter(each => each.checkVisibility()).map(each => "printed: " + each.outerHTML.slice(0, 80)),
  ...[...document.querySelectorAll("main *")]
    .filter(each => each.checkVisibility() && each.getBoundingClientRect().right > innerWidth + 1)
    .map(each => "cut off on paper: " + each.outerHTML.slice(0, 120)).slice(0, 3),
  ...[...document.querySelectorAll("main a")]
    .filter(each => each.checkVisibility() && getComputedStyle(each).textDecorationLine !== "none")
    .map(each => "underlined on paper: " + each.outerHTML.slice(0, 80)).slice(0, 3),
]"""


def flaws(page: Page) -> list[str]:
    """Give what is wrong with a page: by the accessibility engine, in its tables and pictures, and what stands beside
    the screen."""
    told = Axe().run(page).response["violations"]
    wrong = [
        f"{each['id']}: {node['html'][:120]} {node['failureSummary'][:160]}" for each in told for node in each["nodes"]
    ]
    return [*wrong, *page.evaluate(_TABLES), *page.evaluate(_UNDRAWN), *_wide(page)]


def flaws_under_fingers(page: Page) -> list[str]:
    """Give what is too small for a finger, or gets lost when everything is four times as large."""
    found: list[str] = page.evaluate(_TARGETS, LEAST_TARGET)
    return found + _at(page, SMALL, _wide)


def flaws_on_paper(page: Page) -> list[str]:
    """Give what is wrong with a page when it is printed on A4."""

    def printed(page: Page) -> list[str]:
        found: list[str] = page.evaluate(_ON_PAPER)
        return found

    page.emulate_media(media="print")
    found = _at(page, PAPER, printed)
    page.emulate_media(media="null")
    return found


def open_all(page: Page) -> None:
    """Open everything that can be opened."""
    page.locator("details").evaluate_all("all => all.forEach(each => each.open = true)")


def picture(page: Page, path: str, size: ViewportSize, scheme: str) -> None:
    """Take a picture, where pictures are wanted."""
    if SHOTS:
        name = re.sub(r"\W+", "-", re.sub(r"/book/pool-\d+", "", path)).strip("-") or "now"
        page.screenshot(path=Path(SHOTS) / f"{name}-{size['width']}-{scheme}.png", full_page=True)


def _wide(page: Page) -> list[str]:
    width = page.viewport_size["width"] if page.viewport_size else 0
    beside = page.evaluate(_BESIDE)
    return [f"{beside} pixels wider than a screen of {width}"] if beside > 0 else []


def _at(page: Page, size: ViewportSize, found_in: Callable[[Page], list[str]]) -> list[str]:
    before = page.viewport_size
    page.set_viewport_size(size)
    found = found_in(page)
    if before:
        page.set_viewport_size(before)
    return found
