"""The proof over HTTP: days side by side, the bridge, the first row at which balances part, and CSV."""

import csv
import io

import pytest
from openpyxl import Workbook

from tests.rest.exported import HEADER, Exported, exported
from tests.served import POOL

profiled = pytest.fixture(exported)

ROWS = (
    "2026-09-02,Top-up,,+100,,100\n"
    "2026-09-03,Sent,nv-cedar,-5,,55\n"
    "2026-09-03,Sent,nv-birch,-40,,60\n"
    "2026-09-03,Sent,nv-cedar,-5,,50\n"
    "2026-09-08,Unlock,,-7,J-1,43\n"
)
SEPTEMBER = {"from_day": "2026-09-01", "to_day": "2026-09-30"}


def test_each_day_side_by_side_and_the_bridge_between_the_closings(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)

    found = profiled.http("GET", "/reconciliations/2026-09/proof").json()

    (alder,) = found["accounts"]
    assert ("nv-alder", "ALDER", "2026-09-01", "2026-09-30", False) == tuple(
        alder[name] for name in ("account", "member", "first_day", "last_day", "balanced")
    )
    assert [("2026-09-02", 100, 100, 0), ("2026-09-03", 50, 50, 0), ("2026-09-08", 50, 43, -7)] == [
        (day["day"], day["journal"]["closing"], day["record"]["closing"], day["apart"]) for day in alder["days"]
    ]
    (step,) = alder["steps"]
    assert ("2026-09-08", -7, "missing_in_journal") == (step["day"], step["credits"], step["kind"])
    assert step["key"] == profiled.reconciled()["differences"][0]["key"]
    bridge = alder["journal"]["closing"] + alder["opened_apart"] + step["credits"]
    assert bridge == alder["record"]["closing"] == alder["stated"] == 43
    assert (0, []) == (alder["residual"], alder["breaks"])
    row = next(each for each in found["rows"] if each["identity"] == alder["parting"]["row"])
    assert ("2026-09-08", "use", 7) == (row["day"], row["kind"], row["quantity"])


def test_rows_that_the_record_itself_lacks_are_left_over(profiled: Exported) -> None:
    lacking = ROWS.replace("2026-09-03,Sent,nv-birch,-40,,60\n", "")
    profiled.give(HEADER + lacking, **SEPTEMBER)

    (alder,) = profiled.http("GET", "/reconciliations/2026-09/proof").json()["accounts"]

    assert [{"day": "2026-09-03", "missing": -40}] == alder["breaks"]
    assert (-40, 43, False) == (alder["residual"], alder["stated"], alder["balanced"])
    assert (-40, 43) == tuple(profiled.reconciled()["proof"][0][name] for name in ("residual", "stated"))


def test_one_member_alone_can_be_asked_for(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    profiled.give(HEADER + "2026-09-03,Received,nv-alder,+40,,40\n", member="BIRCH", **SEPTEMBER)

    both = profiled.http("GET", "/reconciliations/2026-09/proof").json()["accounts"]
    birch = profiled.http("GET", "/reconciliations/2026-09/proof?member=BIRCH").json()["accounts"]
    nobody = profiled.http("GET", "/reconciliations/2026-09/proof?member=ELM").json()["accounts"]

    assert ["ALDER", "BIRCH"] == [each["member"] for each in both]
    assert (both[1:], []) == (birch, nobody)


def test_the_days_as_csv_say_the_same_and_no_account_is_taken_for_a_formula(profiled: Exported) -> None:
    read = profiled.http("GET", "/members/DOGWOOD")
    body = {name: value for name, value in read.json().items() if name != "code"}
    body["handles"] = [*body.get("handles", []), {"since": "2026-09-10", "handle": "=1+1"}]
    assert 200 == profiled.http("PUT", "/members/DOGWOOD", body, If_Match=read.headers["etag"]).status_code
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    profiled.give(HEADER + "2026-09-12,Top-up,,+9,,9\n", member="DOGWOOD", account="=1+1", **SEPTEMBER)

    answer = profiled.served.http.get(
        f"/v1/pools/{POOL}/reconciliations/2026-09/proof",
        headers={"Authorization": f"Bearer {profiled.served.keys['keeper']}", "Accept": "text/csv"},
    )

    assert ("text/csv; charset=utf-8", 200) == (answer.headers["content-type"], answer.status_code)
    lines = list(csv.DictReader(io.StringIO(answer.text)))
    assert [("'=1+1", "2026-09-12", "0", "9", "9")] == [
        (each["account"], each["day"], each["journal_closing"], each["record_closing"], each["apart"])
        for each in lines
        if each["account"] != "nv-alder"
    ]
    shown = profiled.http("GET", "/reconciliations/2026-09/proof?member=ALDER").json()["accounts"][0]["days"]
    figures = ("opening", "bought", "came_in", "went_out", "used", "refunded", "closing")
    assert [
        [str(day[side][name]) for side in ("journal", "record") for name in figures] + [str(day["apart"])]
        for day in shown
    ] == [list(each.values())[2:] for each in lines if each["account"] == "nv-alder"]
    sheet = Workbook().active
    assert sheet is not None
    sheet.append(list(lines[0].values()))
    assert "f" not in {cell.data_type for cell in sheet[1]}
    refused = profiled.served.http.get(
        f"/v1/pools/{POOL}/reconciliations/2026-09/proof",
        headers={"Authorization": f"Bearer {profiled.served.keys['keeper']}", "Accept": "application/pdf"},
    )
    assert 406 == refused.status_code
