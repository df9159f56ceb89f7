"""The vendor's files over HTTP, whatever they are: proposed, saved, imported; and what a file no longer fits."""

from typing import Any

import httpx
import pytest
from pool_client.calls.call import CSV, SHEETS

from tests.intake.made import ods, xlsx
from tests.served import POOL, Served

ROWS = [
    ("Norvane account history",),
    ("Booked", "Action", "Other account", "Credits", "Remark", "Left"),
    ("2026-09-02", "Top-up", None, 100, None, 100),
    ("2026-09-03", "Sent", "nv-birch", -40, "estate car", 60),
    ("2026-09-04", "Unlock", None, -3, "J-1", 57),
    ("Total", None, None, 57, None, None),
]
TEXT = "\n".join(";".join("" if cell is None else str(cell) for cell in row) for row in ROWS).encode()
FILES = {
    "text": (TEXT, CSV),
    "xlsx": (xlsx({"Prices": [("Sheet of prices",)], "History": ROWS}), SHEETS["xlsx"]),
    "ods": (ods({"History": ROWS}), SHEETS["ods"]),
}


def send(served: Served, path: str, content: bytes, media_type: str, **query: str) -> httpx.Response:
    """Post a file as the keeper."""
    return served.http.post(
        f"/v1/pools/{POOL}{path}",
        params=query,
        content=content,
        headers={
            "Authorization": f"Bearer {served.keys['keeper']}",
            "Content-Type": media_type,
            "Idempotency-Key": f"file-key-{next(served.numbers):06d}",
        },
    )


def saved(served: Served, content: bytes, media_type: str, **query: str) -> dict[str, Any]:
    """Have a profile proposed, save it as it is, and give the proposal."""
    told = send(served, "/column-profiles/norvane/proposal", content, media_type, **query)
    assert 200 == told.status_code, told.json()
    profile = {name: value for name, value in told.json()["profile"].items() if name != "name"}
    assert 201 == served.send("PUT", "/column-profiles/norvane", profile).status_code
    proposal: dict[str, Any] = told.json()
    return proposal


@pytest.mark.parametrize("form", FILES)
def test_a_file_is_proposed_saved_and_imported_and_what_is_no_movement_is_listed(service: Served, form: str) -> None:
    content, media_type = FILES[form]

    proposal = saved(service, content, media_type)
    made = send(service, "/vendor-records", content, media_type, member="ALDER", profile="norvane")

    assert form == proposal["form"]
    assert {
        "day": "Booked",
        "kind": "Action",
        "counterparty": "Other account",
        "quantity": "Credits",
        "note": "Remark",
        "balance": "Left",
    } == proposal["columns"]
    assert ["Norvane account history"] == [row["cells"][0] for row in proposal["skipped"]]
    assert (201, 3, []) == (made.status_code, made.json()["rows_new"], made.json()["set_aside"])
    assert [(1, "stands above the header"), (6, 'a total: "Total"')] == [
        (row["line"], row["reason"]) for row in made.json()["skipped"]
    ]


def test_the_same_history_doubles_nothing_whatever_form_it_comes_in(service: Served) -> None:
    saved(service, *FILES["text"])

    counts = [
        send(service, "/vendor-records", *FILES[form], member="ALDER", profile="norvane").json() for form in FILES
    ]

    assert [(3, 0), (0, 3), (0, 3)] == [(made["rows_new"], made["rows_known"]) for made in counts]


def test_a_sheet_is_chosen_by_name_and_the_others_are_named(service: Served) -> None:
    content = xlsx({"August": ROWS[1:3], "September": [ROWS[1], *ROWS[3:5]]})

    first = send(service, "/column-profiles/norvane/proposal", content, SHEETS["xlsx"]).json()
    second = send(service, "/column-profiles/norvane/proposal", content, SHEETS["xlsx"], sheet="September").json()
    none = send(service, "/column-profiles/norvane/proposal", content, SHEETS["xlsx"], sheet="October")

    assert ("August", ["September"], 1) == (first["sheet"], first["other_sheets"], len(first["rows"]))
    assert ("September", 2) == (second["sheet"], len(second["rows"]))
    assert (422, "file-unreadable") == (none.status_code, none.json()["code"])
    assert "The sheet August is read; there are others: September." in first["doubts"]


def test_an_import_reads_the_sheet_that_is_asked_for(service: Served) -> None:
    content = xlsx({"August": ROWS[1:3], "September": [ROWS[1], *ROWS[3:5]]})
    saved(service, *FILES["text"])
    asked = {"member": "ALDER", "profile": "norvane"}

    first = send(service, "/vendor-records", content, SHEETS["xlsx"], **asked).json()
    second = send(service, "/vendor-records", content, SHEETS["xlsx"], sheet="September", **asked).json()

    assert [(1, "2026-09-02"), (2, "2026-09-04")] == [(made["rows_new"], made["last_day"]) for made in (first, second)]


def test_a_later_file_is_read_in_the_code_page_that_its_profile_states(service: Served) -> None:
    polish = TEXT.replace(b"estate car", "żółty samochód, pożyczka dla warsztatu".encode("cp1250"))
    told = saved(service, polish, CSV)
    other = TEXT.replace(b"estate car", "żółw".encode("cp1250")).replace(b"nv-birch", b"nv-other")

    send(service, "/vendor-records", other, CSV, member="ALDER", profile="norvane")

    assert ("windows-1250", "windows-1250") == (told["encoding"], told["profile"]["encoding"])
    differences = service.send("GET", "/reconciliations/2026-09").json()
    assert "żółw" in {row["note"] for row in differences["rows"]}


def test_columns_that_nobody_named_are_told_by_the_accounts_of_the_pool(service: Served) -> None:
    member = service.send("GET", "/members/BIRCH")
    handle = member.json()["handles"][-1]["handle"]
    content = f"2026-09-03;{handle};-40;60\n2026-09-04;;-3;57\n2026-09-05;{handle};10;67\n".encode()

    columns = send(service, "/column-profiles/norvane/proposal", content, CSV).json()["columns"]

    assert {"day": "column 1", "counterparty": "column 2", "quantity": "column 3", "balance": "column 4"} == columns


def test_a_profile_that_a_file_no_longer_fits_is_refused_with_all_that_is_missing(service: Served) -> None:
    saved(service, *FILES["text"])
    renamed = TEXT.replace(b"Credits", b"Units").replace(b"Left", b"Balance now")

    refused = send(service, "/vendor-records", renamed, CSV, member="ALDER", profile="norvane")

    assert (422, "column-missing") == (refused.status_code, refused.json()["code"])
    assert "Credits (quantity), Left (balance)" in refused.json()["detail"]
    assert [] == service.send("GET", "/vendor-records").json()["items"]
    again = send(service, "/column-profiles/norvane/proposal", renamed, CSV).json()["columns"]
    assert ("Units", "Balance now") == (again["quantity"], again["balance"])


def test_a_record_of_one_type_says_nothing_of_the_others(service: Served) -> None:
    saved(service, *FILES["text"])
    send(service, "/vendor-records", *FILES["text"], member="ALDER", profile="norvane")
    orders = b"Date;Order;Credits\n2026-09-01;R-1;7\n2026-09-30;R-2;9\n"
    guess = send(service, "/column-profiles/orders/proposal", orders, CSV, record="purchases").json()["profile"]
    kept = {name: value for name, value in guess.items() if name != "name"}
    assert 201 == service.send("PUT", "/column-profiles/orders", kept).status_code

    made = send(service, "/vendor-records", orders, CSV, member="ALDER", profile="orders").json()

    assert ("purchases", 2) == (kept["record"], made["rows_new"])
    assert ["purchase"] == [change["earlier"]["kind"] for change in made["changes"]]


def test_other_media_types_are_refused_and_those_that_are_taken_are_named(service: Served) -> None:
    refused = send(service, "/column-profiles/norvane/proposal", TEXT, "application/zip")

    assert 415 == refused.status_code
    assert all(media_type in refused.text for media_type in (CSV, *SHEETS.values()))
