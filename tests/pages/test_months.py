"""Month's end on the pages, on the worked example of the design: every figure, its reason, closing, paying."""

import re
from datetime import date

import pytest
from pool_client.models.entries import Draw

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, text_of
from tests.rest.test_worked_example import MONTH, record_example
from tests.served import POOL, Served

HOME = f"/book/{POOL}"
SEPTEMBER = f"{HOME}/months/{MONTH}"


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def book(service: Served, keeper: Browser) -> Browser:
    record_example(service)
    return keeper


def row(browser: Browser, table: str, name: str) -> list[str]:
    """Give the cells of a row by the title of its table and its first cell."""
    (found,) = [each for each in browser.page.css("table") if text_of(each.css("caption")[0]).startswith(table)]
    rows = [[text_of(cell) for cell in each.css("th, td")] for each in found.css("tbody tr")]
    return next(cells for cells in rows if cells[0] == name)


def test_the_sheet_has_every_figure_of_the_example(book: Browser) -> None:
    book.go(SEPTEMBER)

    # DESIGN's worked example, with a minus sign
    assert ["BIRCH", "150 1,060.00", "7.0667", "14 98.94", "110 777.33", "26 183.73", "\u22120.01"] == row(
        book, "Members", "BIRCH"
    )[:7]
    assert "\u2212961.07 owes" == row(book, "Members", "BIRCH")[7]
    assert "7.0667" in book.says


def test_every_figure_of_the_sheet_opens_its_reason(book: Browser) -> None:
    links = {each.attributes["href"] or "" for each in book.go(SEPTEMBER).page.css("a.why")}
    settlement = {each.attributes["href"] or "" for each in book.go(f"{SEPTEMBER}/settlement").page.css("a.why")}

    assert len(links) > 50
    for each in (*sorted(links)[::9], *sorted(settlement)):
        assert 200 == book.go(each).answer.status_code, each
        assert "Why " in book.says


def test_a_reason_leads_on_to_the_entries(book: Browser) -> None:
    book.go(f"{SEPTEMBER}/figures/members.BIRCH.due.draws")

    assert "Why \u22121,060.00?" in book.says
    while not book.page.css("main td a[href*='/entries/']"):
        book.go(book.page.css("main td a")[0].attributes["href"] or "")
    book.go(book.page.css("main td a[href*='/entries/']")[0].attributes["href"] or "")
    assert re.search(r"Entry \d+", book.says)


def test_what_a_month_would_be_under_other_rules(book: Browser) -> None:
    book.go(f"{SEPTEMBER}/what-if?stock_costing=fifo")

    # DESIGN: under fifo the draw of ALDER is 828.00, so that its due is 3450.00 - 828.00
    assert "2,622.00" == row(book, "As it is", "ALDER")[4]
    assert "is worth 1,342.67 and would be worth 1,411.00" in book.says


def test_a_month_is_closed_as_it_was_seen_and_paid(book: Browser) -> None:
    close = f'form[action="{SEPTEMBER}/close"]'
    book.go(f"{SEPTEMBER}/settlement")

    assert ["BIRCH", "ALDER", "961.07"] == row(book, "Who pays whom", "BIRCH")[:3]

    book.send({"accept_differences": "yes"}, form=close)

    assert "September 2026 is closed. Recorded as entry 15" in book.says

    link = next(each for each in book.page.css("main td a") if text_of(each) == "Tick off")
    book.go(link.attributes["href"] or "").send({}, button="effect").send({}, button="record")

    assert "BIRCH paid ALDER 961.07, for payment 2026-09-1" in book.says
    assert "Tick off" not in " ".join(row(book.go(f"{SEPTEMBER}/settlement"), "Who pays whom", "BIRCH"))


def test_a_month_that_moved_is_not_closed(service: Served, book: Browser) -> None:
    book.go(f"{SEPTEMBER}/settlement")
    service.book().record(Draw(member="ALDER", quantity=1), effective_on=date(2026, 9, 30))
    book.send({"accept_differences": "yes"}, form=f'form[action="{SEPTEMBER}/close"]')

    assert 412 == book.answer.status_code
    assert "The book has moved since you looked" in book.says
    assert "open" == service.book().sheet(month=MONTH).state

    book.send({"accept_differences": "yes"}, form=f'form[action="{SEPTEMBER}/close"]')

    assert "closed" == service.book().sheet(month=MONTH).state


def test_the_last_closed_month_is_opened_again(service: Served, book: Browser) -> None:
    book.go(f"{SEPTEMBER}/settlement")
    book.send({"accept_differences": "yes"}, form=f'form[action="{SEPTEMBER}/close"]')
    book.go(f"{SEPTEMBER}/reopening").send({"reason": ""})
    assert "This is needed." in book.says
    book.send({"reason": "an invoice came late"})

    assert "September 2026 opened again: an invoice came late" in book.says
    assert "open" == service.book().sheet(month=MONTH).state


@pytest.mark.parametrize(
    ("ending", "media_type", "begins", "name"),
    [
        ("statements/BIRCH/pdf", "application/pdf", b"%PDF", "statement-2026-09-BIRCH.pdf"),
        ("statements/BIRCH/csv", "text/csv; charset=utf-8", b'"', "statement-2026-09-BIRCH.csv"),
        ("statements.zip", "application/zip", b"PK", "statements-2026-09.zip"),
    ],
)
def test_statements_come_as_files(book: Browser, ending: str, media_type: str, begins: bytes, name: str) -> None:
    answer = book.go(f"{SEPTEMBER}/{ending}").answer

    assert (200, media_type) == (answer.status_code, answer.headers["content-type"])
    assert f'attachment; filename="{name}"' == answer.headers["content-disposition"]
    assert answer.content.startswith(begins)


def test_a_statement_is_read_on_a_page(book: Browser) -> None:
    book.go(f"{SEPTEMBER}/statements/BIRCH")

    assert "Draft: the month is open." in book.says
    assert "\u2212961.07" == row(book, "How its due comes about", "Due")[1]


@pytest.mark.parametrize(
    "ending", ["", "/settlement", "/statements/BIRCH/odt", "/figures/price", "/what-if?loan_price=pool"]
)
@pytest.mark.parametrize("month", ["2026-13", "1999-01", "2031-01", "x"])
def test_a_month_that_is_none_is_told(keeper: Browser, month: str, ending: str) -> None:
    answer = keeper.go(f"{HOME}/months/{month}{ending}").answer

    assert 404 == answer.status_code
