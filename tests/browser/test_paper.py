"""What comes out of a printer: pool, month and day on the first sheet, no menu, no button, nothing cut off."""

import pypdfium2
import pytest

from tests.browser.conftest import DESK, Open
from tests.browser.filled import COMPARED, LARGE, UNDER_WAY, Filled, fill
from tests.served import Served

A4 = (595, 842)
"""Points, ISO 216's 210 mm x 297 mm."""

SHEETS = {
    f"/months/{UNDER_WAY}": ("November 2026", "862,500.00", "189,538.77"),
    f"/months/{COMPARED}/settlement": ("October 2026: settlement", "Who pays whom", "627.60"),
    f"/months/{UNDER_WAY}/statements/{LARGE}": (f"Statement of {LARGE}, November 2026", "681,483.14", "fingerprint"),
    "/entries": ("Entries", "for a customer in a hurry"),
    "/cost": ("What a credit cost", "September 2026"),
    "/buying/needs": ("Needs", "by hand"),
}
"""What stands on the sheets of some pages."""


@pytest.fixture(scope="module")
def filled(house: Served) -> Filled:
    return fill(house, "pool-000")


def test_pages_are_printed_with_pool_and_day_and_without_what_is_pressed(filled: Filled, open_page: Open) -> None:
    page = open_page(filled.pool, size=DESK, scheme="dark")
    for path, wanted in SHEETS.items():
        page.goto(f"/book/{filled.pool}{path}")
        document = pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))
        sheets = [" ".join(each.get_textpage().get_text_range().split()) for each in document]
        assert A4 == tuple(round(side) for side in document[0].get_size()), path
        for words in ("Six Trees, credits of Norvane Tuning Systems", "Printed 10 Nov 2026", wanted[0]):
            assert words in sheets[0], path
        for words in wanted[1:]:
            assert words in " ".join(sheets), path
        for words in ("Sign out", "People and keys", "Record something", "Close the month", "Spreadsheet"):
            assert words not in " ".join(sheets), path
