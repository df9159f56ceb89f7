"""The vendor's files on the pages: sent, their columns looked at and put right, taken once; which days are on file."""

from pathlib import Path

import httpx
import pytest
from pool_web import carried

from tests.intake.made import xlsx
from tests.pages.browsing import Browser, filled_in, text_of
from tests.pages.conftest import signed_in
from tests.served import POOL, Served

HOME = f"/book/{POOL}"
FILE = f"{HOME}/vendor/file"
TEXT = (
    b"Booked;Action;Other account;Credits;Remark;Balance after\n"
    b"02.09.2026;Top-up;;100;;100\n"
    b"03.09.2026;Sent;nv-birch;-40;estate car;60\n"
    b"04.09.2026;Unlock;;-3;J-1;57\n"
)


def sent(browser: Browser, content: bytes | None, *, button: str = "look", **changes: str) -> Browser:
    """Send the form that is shown, with a file."""
    return browser.send_file(content, changes, button=button)


def looked_at(browser: Browser, content: bytes = TEXT, **changes: str) -> Browser:
    return sent(browser.go(FILE), content, member="ALDER", **changes)


def test_a_file_is_looked_at_and_then_taken(service: Served, keeper: Browser) -> None:
    looked_at(keeper)

    assert 200 == keeper.answer.status_code, keeper.says
    filled = filled_in(keeper.one("main form"))
    assert ["day", "kind", "counterparty", "quantity", "note", "balance"] == [filled[f"means_{at}"] for at in range(6)]
    assert "d.m.y" == filled["day_style"]
    assert {"sent": "sent", "top-up": "purchase", "unlock": "use"} == {
        filled[f"kind_{at}"]: filled[f"kind_means_{at}"] for at in range(3)
    }
    assert "estate car" in keeper.says
    assert [] == list(service.book().imports())

    sent(keeper, None, button="import", name="norvane")

    assert "Taken. 3 new rows, 0 on file already, 0 set aside." in keeper.says
    assert [3] == [each.rows_new for each in service.book().imports()]
    assert "Compare September 2026" in keeper.says


def test_sent_twice_it_is_taken_once(service: Served, keeper: Browser) -> None:
    looked_at(keeper)
    shown = keeper.answer
    first = sent(keeper, None, button="import").path
    keeper.answer = shown
    again = sent(keeper, None, button="import").path

    assert first == again
    assert 1 == len(list(service.book().imports()))


def test_a_later_file_is_read_by_the_layout_that_was_kept(service: Served, keeper: Browser) -> None:
    sent(looked_at(keeper), None, button="import", name="norvane", means_4="")
    looked_at(keeper, TEXT + b"05.09.2026;Sent;nv-cedar;-5;;52\n")

    assert "Read as norvane, as before." in keeper.says
    # the column that was left out the first time stays out
    assert "" == filled_in(keeper.one("main form"))["means_4"]

    sent(keeper, None, button="import")

    assert "1 new row, 3 on file already" in keeper.says
    assert ["norvane"] == [each.name for each in service.book().column_profiles()]


def test_a_layout_that_does_not_fit_is_guessed_anew(keeper: Browser) -> None:
    sent(looked_at(keeper), None, button="import", name="norvane")
    looked_at(keeper, TEXT.replace(b"Booked", b"Posted"))

    assert "The layout norvane has columns that this file lacks: Booked." in keeper.says
    assert "day" == filled_in(keeper.one("main form"))["means_0"]


def test_a_spreadsheet_is_carried_along_whole(service: Served, keeper: Browser) -> None:
    rows = [tuple(line.split(";")) for line in TEXT.decode().splitlines()]
    looked_at(keeper, xlsx({"History": rows}))
    assert "A spreadsheet (xlsx), sheet History" in keeper.says

    sent(keeper, None, button="import")

    assert [3] == [each.rows_new for each in service.book().imports()]


def test_a_file_too_large_to_be_carried_is_chosen_again(
    service: Served, keeper: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(carried, "MOST_CARRIED", 10)
    looked_at(keeper)
    shown = keeper.answer
    assert "The same file again" in keeper.says

    sent(keeper, None, button="import")
    assert "Choose the file again" in keeper.says

    keeper.answer = shown
    sent(keeper, TEXT.replace(b"-40", b"-41"), button="import")
    assert "This is another file than the one that you looked at" in keeper.says
    assert [] == list(service.book().imports())

    keeper.answer = shown
    sent(keeper, TEXT, button="import")
    assert "Taken. 3 new rows" in keeper.says


def test_a_word_of_another_column_is_asked_about(keeper: Browser) -> None:
    looked_at(keeper)
    sent(keeper, None, means_1="", means_4="kind")

    asked = [
        value
        for name, value in filled_in(keeper.one("main form")).items()
        if name.startswith("kind_") and "means" not in name
    ]
    assert {"estate car", "j-1"} <= set(asked)


REFUSED = {
    "no day": ({"means_0": ""}, "One of the columns has to say the day."),
    "two days": ({"means_4": "day"}, "Booked says that already."),
    "no credits": ({"means_3": ""}, "it needs either a quantity or incoming and outgoing"),
    "a bad name": ({"name": "Norvane!"}, "Up to 40 small letters"),
    "no such role": ({"means_0": "colour"}, "colour is not one of the choices."),
}


@pytest.mark.parametrize("case", REFUSED)
def test_columns_that_make_no_layout_are_refused_and_stay_filled_in(
    service: Served, keeper: Browser, case: str
) -> None:
    changes, words = REFUSED[case]
    sent(looked_at(keeper), None, button="import", **{"name": "norvane", **changes})

    assert keeper.answer.status_code in {409, 422}
    assert words in keeper.says
    assert "kind" == filled_in(keeper.one("main form"))["means_1"]
    assert [] == list(service.book().imports())


@pytest.mark.parametrize(
    ("content", "changes", "words"),
    [
        (b"", {}, "it is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), {}, "line 1"),
        (None, {}, "Choose a file."),
        (TEXT, {"member": ""}, "Choose one."),
        (TEXT, {"from_day": "soon"}, "A day, written as"),
        (None, {"file_carried": "%%%", "file_digest": "0"}, "Choose the file again"),
        (None, {"file_carried": "AAAA", "file_digest": "0"}, "Choose the file again"),
    ],
)
def test_what_is_no_file_is_refused(
    keeper: Browser, content: bytes | None, changes: dict[str, str], words: str
) -> None:
    sent(keeper.go(FILE), content, **{"member": "ALDER", **changes})

    assert keeper.answer.status_code in {409, 415, 422}
    assert words in keeper.says


def test_what_is_carried_inflates_to_no_more_than_the_service_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    packed = carried.File(bytes(100_000)).carried
    assert carried.carried_file({carried.CARRIED: packed}) == carried.File(bytes(100_000))

    monkeypatch.setattr(carried, "MOST_FILE_BYTES", 99_999)
    assert carried.carried_file({carried.CARRIED: packed}) is None


def test_days_on_file_and_gaps_are_shown(keeper: Browser) -> None:
    sent(looked_at(keeper, from_day="2026-09-01", to_day="2026-09-30"), None, button="import")
    keeper.go(f"{HOME}/vendor?from_day=2026-09-01&to_day=2026-10-01")

    card = next(each for each in keeper.page.css(".card") if text_of(each).startswith("ALDER"))
    told = "ALDER nv-alder, 3 rows On file 1 Sep 2026 – 30 Sep 2026 Not on file 1 Oct 2026"
    assert text_of(card).startswith(told)


def test_a_row_that_cannot_be_read_is_told_with_its_line(keeper: Browser) -> None:
    sent(looked_at(keeper, TEXT + b"some day;Sent;nv-cedar;-5;;52\n"), None, button="import")

    assert "1 set aside" in keeper.says
    assert "some day" in keeper.says


@pytest.mark.parametrize("role", ["clerk", "reader"])
def test_only_the_keeper_brings_files_in(service: Served, pages: httpx.Client, role: str) -> None:
    browser = signed_in(service, pages, role)
    browser.go(f"{HOME}/vendor")
    assert (browser.answer.status_code == 200) == (role == "reader")
    assert "Bring in a file" not in browser.says

    proof = filled_in(browser.one(".who form"))["form_proof"]
    told = {"form_proof": proof, "form_key": "file-key-1", "member": "ALDER", "step": "look"}
    answer = pages.post(FILE, data=told, files={"file": ("a", TEXT)}, headers={"Sec-Fetch-Site": "same-origin"})
    assert 403 == answer.status_code


def test_the_example_of_the_readme_is_understood(keeper: Browser) -> None:
    looked_at(keeper, Path("seed/walk/alder-october.csv").read_bytes())

    assert "Text in utf-8, separated by commas, for ALDER." in keeper.says
