"""A person's way through the pages: from the first page on, by links and buttons as they stand on the screen."""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, ViewportSize, expect
from pool_client import Book
from pool_client.models.buying import Tier
from pool_client.models.entries import Command, Entry, Opening

from tests.browser.conftest import DESK, PHONE, Open
from tests.browser.looks import picture
from tests.rest.test_worked_example import EXAMPLE
from tests.served import FIRST_DAY, Served

EVERYWHERE = pytest.mark.parametrize(
    ("size", "script"),
    [(PHONE, True), (PHONE, False), (DESK, True), (DESK, False)],
    ids=["phone", "phone without script", "desk", "desk without script"],
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """Somebody on the way. book is the same book, asked through the client."""

    page: Page
    book: Book
    size: ViewportSize
    script: bool

    @property
    def main(self) -> Locator:
        return self.page.locator("main")

    def place(self, words: str) -> None:
        """Go to a place of the menu; a phone has room for the first ones only."""
        places = self.page.get_by_role("navigation", name="Places")
        link = places.get_by_role("link", name=words, exact=True)
        if not link.is_visible():
            places.get_by_role("link", name="More").click()
            link = self.main.get_by_role("link", name=words, exact=True)
        link.click()
        expect(self.page.get_by_role("heading", level=1)).to_be_visible()

    def follow(self, words: str) -> None:
        self.main.get_by_role("link", name=words, exact=True).first.click()

    def press(self, words: str) -> None:
        self.main.get_by_role("button", name=words, exact=True).first.click()

    def fill(self, **labels: str) -> None:
        """Fill in fields by their labels, with underscores for blanks."""
        for label, text in labels.items():
            self.field(label.replace("_", " ")).fill(text)

    def field(self, label: str) -> Locator:
        return self.main.get_by_label(label, exact=True)

    def choose(self, label: str, value: str) -> None:
        self.field(label).select_option(value)

    def reads(self, *texts: str) -> None:
        """See that the page says something."""
        for text in texts:
            expect(self.main).to_contain_text(text, use_inner_text=True)

    def told(self, text: str) -> None:
        """See that it is said that something was done."""
        expect(self.page.get_by_role("status").first).to_contain_text(text)

    def check(self, *effects: str) -> None:
        """Have the effect shown: it comes by itself with script, by a button without."""
        if not self.script:
            self.press("Show what it changes")
        for each in effects:
            expect(self.page.locator("#effect")).to_contain_text(each)

    def record(self, verb: str) -> Entry:
        """Record what is filled in and give the entry, found by its number and compared by its hash."""
        self.press(f"{verb}: record it")
        return self.receipt()

    def receipt(self) -> Entry:
        """Read the receipt, and give the entry that the book has under its number."""
        self.told("Recorded as entry ")
        number = int(re.sub(r"\D", "", self.page.get_by_role("heading", level=1).inner_text()))
        found = self.book.entry(number=number).entry
        self.is_as_recorded(found)
        return found

    def is_as_recorded(self, entry: Entry) -> None:
        """See that an entry's page says its hash and the one before it."""
        self.main.get_by_text("Fingerprints").click()
        self.reads(entry.hash, entry.previous_hash)

    def seen(self, name: str) -> None:
        """Take a picture, where somebody wants to look at them, and see that nothing stands beside the screen."""
        wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert 0 == self.page.evaluate(wide), f"{name} is wider than the screen"
        if self.script:
            picture(self.page, f"walk-{name}", self.size, "light")


def begin(house: Served, pool: str, open_page: Open, size: ViewportSize, *, script: bool, **who: Any) -> Walk:
    """Sign in, and stand on the first page."""
    page = open_page(pool, size=size, script=script, **who)
    return Walk(page=page, book=house.book(f"{pool} keeper", pool), size=size, script=script)


def record(book: Book, rows: Any, *, month: date) -> None:
    """Have entries on file, on days of a month, as somebody recorded them before; the old books closed earlier."""
    days = [FIRST_DAY if isinstance(body, Opening) else month.replace(day=day) for day, body in rows]
    book.record_all([Command(body=body, effective_on=on) for on, (_, body) in zip(days, rows, strict=True)])


STEPS = ((1, "10.00"), (100, "9.00"), (500, "6.90"))
"""A ladder on which 500 credits cost the 3,450.00 of the worked example."""


def give_history(book: Book) -> None:
    """Have the worked example on file in the first month, and a ladder."""
    record(book, EXAMPLE, month=FIRST_DAY)
    tiers = tuple(Tier(from_credits=quantity, unit_price=Decimal(price)) for quantity, price in STEPS)
    book.put_ladder(tiers, valid_from=FIRST_DAY)
