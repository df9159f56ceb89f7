"""The vendor's record over HTTP: files taken once, bad ones refused with line and column, differences mended once."""

from typing import Any

import httpx
import pytest

from tests.rest.exported import HEADER, exported
from tests.served import POOL, Served

ROWS = (
    "2026-09-02,Top-up,,+100,,100\n"
    "2026-09-03,Sent,nv-birch,-40,,60\n"
    "2026-09-03,Sent,nv-cedar,-5,,55\n"
    "2026-09-03,Sent,nv-cedar,-5,,50\n"
)


@pytest.fixture
def profiled(service: Served) -> Served:
    """A pool whose custodian is ALDER, with a column profile and a book: 100 bought, 40 and twice 5 drawn."""
    return exported(service).served


def give(served: Served, content: str | bytes, *, key: str = "", **more: str) -> httpx.Response:
    """Import a file."""
    return served.http.post(
        f"/v1/pools/{POOL}/vendor-records",
        params={"member": "ALDER", "profile": "norvane", **more},
        content=content.encode() if isinstance(content, str) else content,
        headers={
            "Authorization": f"Bearer {served.keys['keeper']}",
            "Content-Type": "text/csv",
            "Idempotency-Key": key or f"file-key-{next(served.numbers):06d}",
        },
    )


def counts(answer: httpx.Response) -> tuple[int, int, int]:
    told: dict[str, Any] = answer.json()
    assert 201 == answer.status_code, told
    return told["rows_new"], told["rows_known"], len(told["set_aside"])


def test_a_file_is_taken_once_however_often_it_comes_and_equal_rows_stay_two(profiled: Served) -> None:
    more = ROWS + "2026-09-04,Unlock,,-3,J-1,47\n"

    assert (4, 0, 0) == counts(give(profiled, HEADER + ROWS))
    assert (0, 4, 0) == counts(give(profiled, HEADER + ROWS))
    assert (1, 4, 0) == counts(give(profiled, HEADER + more))


def test_a_repeated_request_gets_the_first_import_and_a_reused_key_is_refused(profiled: Served) -> None:
    first = give(profiled, HEADER + ROWS, key="september-file")
    again = give(profiled, HEADER + ROWS, key="september-file")
    other = give(profiled, HEADER, key="september-file")

    assert first.json()["import_id"] == again.json()["import_id"]
    assert "true" == again.headers["idempotency-replayed"]
    assert (422, "key-reused") == (other.status_code, other.json()["code"])
    assert 1 == len(profiled.send("GET", "/vendor-records").json()["items"])


REFUSED: dict[str, tuple[bytes, str, str]] = {
    "nothing": (b"", "file-unreadable", "it is empty"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(40), "file-unreadable", "line 1"),
    "a broken spreadsheet": (b"PK\x03\x04" + bytes(40), "file-unreadable", "broken archive"),
    "words": (b"just words\nand more words\n", "file-unreadable", "separates its lines"),
    "a NUL byte": ((HEADER + "2026-09-02,Sent,nv-\x00birch,-1,,9\n").encode(), "file-unreadable", "line 2"),
    "an open quote": ((HEADER + '2026-09-02,Sent,"nv-birch,-1,,9\n').encode(), "file-unreadable", "line 2"),
    "a missing column": (b"Booked,Action,Other account\n2026-09-02,Sent,nv-birch\n", "column-missing", "Credits"),
    "too many rows": ((HEADER + "2026-09-02,Unlock,,-1,,1\n" * 200_001).encode(), "file-too-large", "200000"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_file_that_cannot_be_read_is_refused_whole_and_says_where(profiled: Served, case: str) -> None:
    content, code, words = REFUSED[case]

    answer = give(profiled, content)

    assert (422, code) == (answer.status_code, answer.json()["code"])
    assert words in answer.json()["detail"]
    assert [] == profiled.send("GET", "/vendor-records").json()["items"]


def test_a_file_of_as_many_rows_as_a_file_may_have_is_taken(profiled: Served) -> None:
    rows = "".join(f"2026-09-{1 + number // 10_000:02d},Unlock,,-1,J-{number},\n" for number in range(200_000))

    assert (200_000, 0, 0) == counts(give(profiled, HEADER + rows))


ASIDE: dict[str, tuple[str | None, str | None]] = {
    "2026-02-30,Unlock,,-1,,9": ("Booked", "2026-02-30"),
    "yesterday,Unlock,,-1,,9": ("Booked", "yesterday"),
    "2026-09-02,Unlock,,many,,9": ("Credits", "many"),
    "2026-09-02,Unlock,,-1.5,,9": ("Credits", "1.5"),
    "2026-09-02,Gift,,-1,,9": ("Action", "Gift"),
    "2026-09-02,Unlock": (None, None),
}


@pytest.mark.parametrize("row", ASIDE)
def test_a_row_that_cannot_be_read_is_set_aside_with_its_line_and_column(profiled: Served, row: str) -> None:
    column, cell = ASIDE[row]

    answer = give(profiled, f"{HEADER}{ROWS}{row}\n")

    assert (4, 0, 1) == counts(answer)
    aside = answer.json()["set_aside"][0]
    assert (6, column) == (aside["line"], aside.get("column"))
    assert aside["reason"]
    assert (cell or "") in aside["reason"]


def test_other_encodings_are_read_as_what_they_are(profiled: Served) -> None:
    text = HEADER + "2026-09-05,Unlock,,-1,Prüfstand,46\n"

    assert (1, 0, 0) == counts(give(profiled, text.encode("utf-8-sig")))
    assert (0, 1, 0) == counts(give(profiled, text.encode("utf-16")))
    assert (0, 1, 0) == counts(give(profiled, text.encode("cp1252")))


def test_a_missing_loan_is_found_mended_once_and_the_balances_agree(profiled: Served) -> None:
    give(profiled, HEADER + ROWS + "2026-09-08,Sent,nv-birch,-7,waiting,43\n", to_day="2026-09-30")
    before = profiled.send("GET", "/reconciliations/2026-09").json()
    difference = before["differences"][0]
    assert (1, "missing_in_journal", "record_loan") == (
        before["undecided"],
        difference["kind"],
        difference["mend"]["kind"],
    )
    assert "2026-09-08" == before["proof"][0]["parting"]["day"]

    asked = {"difference": difference["key"], "verdict": "accepted", "reason": "as the vendor shows"}
    refused = profiled.send("POST", "/reconciliations/2026-09/decisions", asked)
    assert (409, "not-enough-held") == (refused.status_code, refused.json()["code"])
    profiled.send("POST", "/draws", {"member": "ALDER", "quantity": 7, "effective_on": "2026-09-07"})
    first = profiled.send("POST", "/reconciliations/2026-09/decisions", asked)
    again = profiled.send("POST", "/reconciliations/2026-09/decisions", asked)

    assert (201, [6]) == (first.status_code, first.json()["entries"])
    assert first.json() == again.json()
    after = profiled.send("GET", "/reconciliations/2026-09").json()
    assert (0, []) == (after["undecided"], after["differences"])
    assert [True] == [proof["balanced"] for proof in after["proof"]]
    other = profiled.send("POST", "/reconciliations/2026-09/decisions", {**asked, "verdict": "dismissed"})
    assert (409, "already-decided") == (other.status_code, other.json()["code"])


def test_a_month_with_open_differences_closes_only_with_an_explicit_word(profiled: Served) -> None:
    give(profiled, HEADER + ROWS + "2026-09-08,Sent,nv-birch,-7,waiting,43\n", to_day="2026-09-30")
    book = profiled.book()
    digest = book.settlement(month="2026-09").digest

    refused = profiled.send("POST", "/months/2026-09/close", {"digest": digest})
    accepted = profiled.send("POST", "/months/2026-09/close", {"digest": digest, "accept_differences": True})

    assert (409, "month-has-differences", 1) == (
        refused.status_code,
        refused.json()["code"],
        refused.json()["count"],
    )
    assert 201 == accepted.status_code
    assert 1 == book.settlement(month="2026-09").accepted_differences
