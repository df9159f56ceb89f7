"""Which days of the vendor's record are on file, over HTTP: spans, gaps, rows by day and the imports with them."""

from typing import Any

import pytest

from tests.rest.exported import HEADER, Exported, exported

profiled = pytest.fixture(exported)


def coverage(pool: Exported, query: str = "") -> dict[str, dict[str, Any]]:
    """Give the coverage by member."""
    answer = pool.http("GET", f"/vendor-records/coverage{query}")
    assert 200 == answer.status_code, answer.json()
    return {each["member"]: each for each in answer.json()["accounts"]}


def test_spans_gaps_and_rows_by_day_with_the_imports_that_show_them(profiled: Exported) -> None:
    profiled.give(HEADER + "2026-09-02,Top-up,,+100,,100\n2026-09-03,Sent,nv-birch,-40,,60\n", to_day="2026-09-05")
    profiled.give(HEADER + "2026-09-03,Sent,nv-birch,-40,,60\n2026-09-03,Unlock,,-1,,59\n", to_day="2026-09-08")
    profiled.give(HEADER + "2026-09-20,Unlock,,-1,,58\n")

    alder = coverage(profiled, "?from_day=2026-09-01&to_day=2026-09-30")["ALDER"]

    assert ("nv-alder", 4, "2026-09-20") == (alder["account"], alder["rows"], alder["last_day"])
    assert [("2026-09-02", "2026-09-08"), ("2026-09-20", "2026-09-20")] == [
        (each["first_day"], each["last_day"]) for each in alder["spans"]
    ]
    assert [("2026-09-01", "2026-09-01", 1), ("2026-09-09", "2026-09-19", 11), ("2026-09-21", "2026-09-30", 10)] == [
        (each["first_day"], each["last_day"], each["days"]) for each in alder["gaps"]
    ]
    assert [
        ("2026-09-02", 1, ["00000001"]),
        ("2026-09-03", 2, ["00000001", "00000002"]),
        ("2026-09-20", 1, ["00000003"]),
    ] == [(each["day"], each["rows"], each["imports"]) for each in alder["days"]]


def test_an_account_without_a_file_is_one_gap_and_days_to_come_are_none(profiled: Exported) -> None:
    birch = coverage(profiled)["BIRCH"]

    assert ([], [], 0) == (birch["spans"], birch["days"], birch["rows"])
    assert [("2026-10-01", "2026-11-10")] == [(each["first_day"], each["last_day"]) for each in birch["gaps"]]
    assert "last_day" not in birch


def test_a_gap_is_only_where_the_account_is_the_members(profiled: Exported) -> None:
    read = profiled.http("GET", "/members/BIRCH")
    body = read.json()
    body["handles"].append({"since": "2026-09-11", "handle": "nv-birch-2"})
    body = {name: value for name, value in body.items() if name != "code"}
    assert 200 == profiled.http("PUT", "/members/BIRCH", body, If_Match=read.headers["etag"]).status_code

    answer = profiled.http("GET", "/vendor-records/coverage?from_day=2026-08-20&to_day=2026-09-30").json()

    assert [("nv-birch", "2026-09-01", "2026-09-10"), ("nv-birch-2", "2026-09-11", "2026-09-30")] == [
        (gap["account"], gap["first_day"], gap["last_day"])
        for each in answer["accounts"]
        if each["member"] == "BIRCH"
        for gap in each["gaps"]
    ]


def test_a_member_without_an_account_has_nothing_to_cover(profiled: Exported) -> None:
    assert 201 == profiled.http("PUT", "/members/ELM", {"name": "Elm", "joined_on": "2026-09-01"}).status_code

    assert "ELM" not in coverage(profiled)
    assert 200 == profiled.http("GET", "/reconciliations/2026-09").status_code


def test_rows_that_do_not_count_are_not_counted(profiled: Exported) -> None:
    profiled.give(HEADER + "2026-09-03,Sent,nv-birch,-40,,60\n", from_day="2026-09-01", to_day="2026-09-30")
    profiled.give(HEADER + "2026-09-03,Sent,nv-birch,-41,,59\n", from_day="2026-09-01", to_day="2026-09-30")

    assert 1 == coverage(profiled, "?to_day=2026-09-30")["ALDER"]["rows"]


@pytest.mark.parametrize("query", ["?from_day=2026-09-02&to_day=2026-09-01", "?from_day=2025-01-01&to_day=2026-01-02"])
def test_days_that_cannot_be_shown_are_refused(profiled: Exported, query: str) -> None:
    answer = profiled.http("GET", f"/vendor-records/coverage{query}")

    assert (422, "days-unfit", 366) == (answer.status_code, answer.json()["code"], answer.json()["most"])
    assert 200 == profiled.http("GET", "/vendor-records/coverage?from_day=2025-01-01&to_day=2026-01-01").status_code


def test_a_reconciliation_tells_on_which_days_silence_proves_nothing(profiled: Exported) -> None:
    profiled.give(HEADER + "2026-09-02,Top-up,,+100,,100\n", from_day="2026-09-01", to_day="2026-09-28")

    gaps = profiled.reconciled()["gaps"]

    assert [
        ("ALDER", "2026-09-29", "2026-09-30"),
        ("BIRCH", "2026-09-01", "2026-09-30"),
        ("CEDAR", "2026-09-01", "2026-09-30"),
        ("DOGWOOD", "2026-09-01", "2026-09-30"),
    ] == [(each["member"], each["first_day"], each["last_day"]) for each in gaps]
