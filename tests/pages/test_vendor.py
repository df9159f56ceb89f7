"""The vendor's record on the pages: a file understood, kept, imported; differences mended, let stand, signed off."""

import pytest

from tests.databases import SqliteTemplate
from tests.pages.browsing import Browser, filled_in
from tests.rest.test_worked_example import MONTH, record_example
from tests.served import POOL, Served

VENDOR = f"/book/{POOL}/vendor"
FILE = (
    "Booked,Action,Other account,Credits,Remark,Ref no\n"
    "2026-09-20,Sent,nv-cedar,-5,for the van,T-1\n"
    "2026-09-21,Sent,nv-alder,-3,,T-2\n"
)


@pytest.fixture
def template(sqlite_template: SqliteTemplate) -> SqliteTemplate:
    """One database will do: pages know none."""
    return sqlite_template


@pytest.fixture
def book(service: Served, keeper: Browser) -> Browser:
    record_example(service)
    return keeper


def send_file(browser: Browser, form: str, content: str = FILE, **fields: str) -> Browser:
    at = browser.go(VENDOR).one(form)
    told = {name: value for name, value in {**filled_in(at), **fields}.items() if name != "file"}
    browser.answer = browser.http.post(
        at.attributes["action"] or "",
        data=told,
        files={"file": ("../export.csv", content.encode(), "text/csv")},
        headers={"Sec-Fetch-Site": "same-origin"},
        follow_redirects=True,
    )
    return browser


def imported(book: Browser) -> Browser:
    send_file(book, "#proposing", profile="norvane").send({})
    days = {"from_day": "2026-09-01", "to_day": "2026-09-30"}
    return send_file(book, "#importing", member="BIRCH", profile="norvane", **days)


def test_a_file_is_understood_kept_and_imported(book: Browser) -> None:
    send_file(book, "#proposing", profile="norvane")

    assert "quantity Credits" in book.says
    assert "for the van" in book.says

    book.send({})

    assert "The columns are kept as “norvane”." in book.says

    imported(book)

    assert "Imported. 2 new rows, 0 on file already." in book.says

    again = {"from_day": "2026-09-01", "to_day": "2026-09-30"}
    send_file(book, "#importing", member="BIRCH", profile="norvane", **again)

    assert "Imported. 0 new rows, 2 on file already." in book.says


def test_differences_are_mended_and_let_stand(service: Served, book: Browser) -> None:
    imported(book).go(f"{VENDOR}/{MONTH}")
    before = service.book().positions().number
    found = service.book().reconciliation(month=MONTH)
    van = next(each for each in found.differences if "nv-cedar" in each.sentence or each.quantity == 5)

    assert van.sentence in book.says
    assert "for the van" in book.says

    form = next(each for each in book.page.css("main form") if filled_in(each).get("difference") == van.key)
    told = filled_in(form)
    book.post(f"{VENDOR}/{MONTH}/decisions", {**told, "step": "accepted", "reason": ""})
    assert book.answer.status_code == 422
    book.post(f"{VENDOR}/{MONTH}/decisions", {**told, "step": "accepted", "reason": "both say so"})

    assert van.sentence not in book.says
    assert before + 1 == service.book().positions().number

    other = next(each for each in service.book().reconciliation(month=MONTH).differences if each.quantity == 3)
    form = next(each for each in book.page.css("main form") if filled_in(each).get("difference") == other.key)
    book.post(f"{VENDOR}/{MONTH}/decisions", {**filled_in(form), "step": "dismissed", "reason": "a test of theirs"})

    assert "Dismissed: a test of theirs" in book.says
    assert before + 1 == service.book().positions().number


def test_a_month_is_signed_off_only_with_a_word_for_what_is_open(book: Browser) -> None:
    form = f'form[action="{VENDOR}/{MONTH}/sign-offs"]'
    imported(book).go(f"{VENDOR}/{MONTH}").send({}, form=form)

    assert "Not recorded." in book.says

    book.send({"accept_open": "yes"}, form=form)

    assert "Signed off by entry" in book.says


@pytest.mark.parametrize("content", ["", "\x00\x01", "a\n", "%PDF-1.7"])
def test_a_file_that_is_none_is_told(book: Browser, content: str) -> None:
    send_file(book, "#proposing", content, profile="norvane")

    assert book.answer.status_code in {200, 400, 415, 422}
    assert "Something went wrong" not in book.says


def test_requests_are_asked_and_taken_up(book: Browser) -> None:
    asked = {"member": "CEDAR", "quantity": "4", "needed_by": "2026-11-12T17:00", "note": "a customer waits"}
    book.go(f"/book/{POOL}/requests").send(asked, form="#asking")

    assert "CEDAR asks for 4" in book.says
    assert "CEDAR asks for 4 credits until 12 Nov 2026, 17:00 : a customer waits" in book.go(f"/book/{POOL}").says

    book.go(f"/book/{POOL}/requests").send({"lender": "ALDER"}, form='form[action$="/loan"]')

    assert "ALDER lent CEDAR 4 credits" in book.says
    assert "Nobody is asking" in book.go(f"/book/{POOL}/requests").says
