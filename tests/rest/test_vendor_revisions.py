"""Rows that the vendor shows otherwise or no longer, over HTTP: told, kept, decided, and counted once."""

import random
from collections import Counter
from typing import Any

import pytest

from tests.rest.exported import HEADER, Exported, exported

ROWS = (
    "2026-09-02,Top-up,,+100,,100\n"
    "2026-09-03,Sent,nv-birch,-40,,60\n"
    "2026-09-03,Sent,nv-cedar,-5,,55\n"
    "2026-09-03,Sent,nv-cedar,-5,,50\n"
)
SEPTEMBER = {"from_day": "2026-09-01", "to_day": "2026-09-30"}

profiled = pytest.fixture(exported)


def kinds(found: dict[str, Any]) -> list[str]:
    return [each["kind"] for each in found["differences"]]


def test_a_changed_row_is_told_side_by_side_and_is_one_difference_until_it_is_decided(profiled: Exported) -> None:
    assert [] == profiled.give(HEADER + ROWS, **SEPTEMBER)["changes"]
    changed = ROWS.replace("nv-birch,-40,,60", "nv-birch,-41,,59").replace(",,55", ",,54").replace(",,50", ",,49")

    made = profiled.give(HEADER + changed, **SEPTEMBER)

    assert (3, 1, 3, 0) == tuple(made[f"rows_{each}"] for each in ("new", "known", "changed", "vanished"))
    told = {each["earlier"]["quantity"]: each for each in made["changes"] if "quantity" in each["fields"]}
    assert [(40, 41, ["quantity", "balance"])] == [
        (each["earlier"]["quantity"], each["later"]["quantity"], each["fields"]) for each in told.values()
    ]
    before = profiled.reconciled()
    assert ["changed_at_vendor"] == kinds(before)
    assert 1 == before["undecided"]
    (difference,) = before["differences"]
    assert {"import": "00000002", "quantity": 41, "balance": 59} == difference["mend"]["fields"]
    assert "was 40 and is 41" in difference["sentence"]
    assert 4 == len(before["matches"])

    answer = profiled.decide(difference["key"], "accepted")

    assert (201, []) == (answer.status_code, answer.json()["entries"])
    assert answer.json() == profiled.decide(difference["key"], "accepted").json()
    after = profiled.reconciled()
    assert ["quantity"] == kinds(after)
    assert "the vendor shows 41 credits" in after["differences"][0]["sentence"]


def test_a_row_that_is_kept_stays_and_what_else_differs_is_told_again(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS.replace("nv-birch,-40,,60", "nv-birch,-39,,61"), **SEPTEMBER)
    assert ["quantity"] == kinds(profiled.reconciled())
    profiled.give(HEADER + ROWS.replace("nv-birch,-40,,60", "nv-birch,-38,,62"), **SEPTEMBER)
    assert ["changed_at_vendor"] == kinds(profiled.reconciled())

    (difference,) = profiled.reconciled()["differences"]
    assert 201 == profiled.decide(difference["key"], "dismissed").status_code

    found = profiled.reconciled()
    assert ["changed_at_vendor", "quantity"] == sorted(kinds(found))
    assert 1 == found["undecided"]
    assert any("the vendor shows 39 credits" in each["sentence"] for each in found["differences"])


def test_a_vanished_row_stays_until_it_is_withdrawn(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS + "2026-09-08,Sent,nv-birch,-7,waiting,43\n", **SEPTEMBER)
    assert ["missing_in_journal"] == kinds(profiled.reconciled())

    made = profiled.give(HEADER + ROWS, **SEPTEMBER)

    assert (0, 4, 0, 1) == tuple(made[f"rows_{each}"] for each in ("new", "known", "changed", "vanished"))
    found = profiled.reconciled()
    assert ["vanished_at_vendor"] == kinds(found)
    assert 201 == profiled.decide(found["differences"][0]["key"], "accepted").status_code
    after = profiled.reconciled()
    assert ([], 0) == (kinds(after), after["undecided"])
    assert [True] == [each["balanced"] for each in after["proof"]]


def test_a_transfer_that_changed_in_both_records_is_one_difference(profiled: Exported) -> None:
    birch = "2026-09-03,Received,nv-alder,+40,,40\n"
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    profiled.give(HEADER + birch, member="BIRCH", **SEPTEMBER)
    profiled.give(HEADER + ROWS.replace("nv-birch,-40,,60", "nv-birch,-44,,56"), **SEPTEMBER)
    profiled.give(HEADER + birch.replace("+40,,40", "+44,,44"), member="BIRCH", **SEPTEMBER)

    (difference,) = profiled.reconciled()["differences"]

    assert ("changed_at_vendor", 4) == (difference["kind"], len(difference["rows"]))
    assert 201 == profiled.decide(difference["key"], "accepted").status_code
    assert ["quantity"] == kinds(profiled.reconciled())


def test_a_row_that_only_moved_its_balance_is_told_and_needs_no_word(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    late = ROWS.replace("2026-09-03,Sent,nv-birch", "2026-09-02,Unlock,,-1,,99\n2026-09-03,Sent,nv-birch")
    for balance in (60, 55, 50):
        late = late.replace(f",,{balance}\n", f",,{balance - 1}\n")

    made = profiled.give(HEADER + late, **SEPTEMBER)

    assert [["balance"]] * 3 == [each["fields"] for each in made["changes"]]
    assert ["missing_in_journal"] == kinds(profiled.reconciled())


def test_a_copy_of_an_earlier_file_names_it_and_says_nothing_new(profiled: Exported) -> None:
    first = HEADER + ROWS
    profiled.give(first, **SEPTEMBER)
    profiled.give(first.replace("nv-birch,-40,,60", "nv-birch,-41,,59"), **SEPTEMBER)

    copy = profiled.give(first, **SEPTEMBER)

    assert ("00000001", [], 0, 4) == (copy["repeats"], copy["changes"], copy["rows_new"], copy["rows_known"])
    assert ["changed_at_vendor"] == kinds(profiled.reconciled())


def test_overlapping_files_in_any_order_and_any_number_of_times_make_the_same_record(profiled: Exported) -> None:
    """Each of three accounts gets the same nine files in an order of its own, some of them twice."""
    chance = random.Random(7)  # noqa: S311  (repeatable, not secret)
    days = sorted(chance.choice(range(1, 31)) for _ in range(90))
    rows = [f"2026-09-{day:02d},Unlock,,-{1 + at % 2},{'J-1' if at % 5 else ''}," for at, day in enumerate(days)]
    spans = [(first, min(first + 6, 30)) for first in range(1, 28, 3)]
    found = {}
    for member in ("ALDER", "BIRCH", "CEDAR"):
        for first, last in [*chance.sample(spans, len(spans)), *chance.sample(spans, 3)]:
            file = [row for row, day in zip(rows, days, strict=True) if first <= day <= last]
            covered = {"from_day": f"2026-09-{first:02d}", "to_day": f"2026-09-{last:02d}"}
            made = profiled.give(HEADER + "\n".join(chance.sample(file, len(file))), member=member, **covered)
            assert [] == made["changes"]
    for each in profiled.http("GET", "/vendor-records/coverage?to_day=2026-09-30").json()["accounts"]:
        found[each["member"]] = {day["day"]: day["rows"] for day in each["days"]}, each["spans"]
    truth = {f"2026-09-{day:02d}": count for day, count in sorted(Counter(days).items())}

    whole = [{"first_day": "2026-09-01", "last_day": "2026-09-30"}]
    assert dict.fromkeys(("ALDER", "BIRCH", "CEDAR"), (truth, whole)) == {
        member: said for member, said in found.items() if member != "DOGWOOD"
    }


def test_a_repeated_request_tells_the_same_changes(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    less = HEADER + ROWS.splitlines()[0] + "\n"
    first = profiled.give(less, key="shortened-file", **SEPTEMBER)
    again = profiled.give(less, key="shortened-file", **SEPTEMBER)

    assert first["changes"]
    assert first["changes"] == again["changes"]
    assert first["rows_vanished"] == again["rows_vanished"] == len(first["changes"])


def test_all_that_an_import_says_is_read_in_pages(profiled: Exported) -> None:
    rows = "".join(f"2026-09-{1 + at // 20:02d},Unlock,,-1,J-{at},\n" for at in range(230))
    profiled.give(HEADER + rows, **SEPTEMBER)
    made = profiled.give(HEADER + "2026-09-30,Unlock,,-1,J,\n", **SEPTEMBER)
    assert (200, 230) == (len(made["changes"]), made["rows_vanished"])

    items, cursor = [], ""
    for _ in range(3):
        answer = profiled.http("GET", f"/vendor-records/00000002/changes?limit=100{cursor}").json()
        items += answer["items"]
        cursor = f"&cursor={answer.get('next')}"

    assert "next" not in answer
    assert 230 == len({each["earlier"]["identity"] for each in items})
    assert items == sorted(items, key=lambda each: each["earlier"]["day"])
    assert items[:200] == made["changes"]
    assert 404 == profiled.http("GET", "/vendor-records/00000009/changes").status_code


def test_imports_tell_how_many_rows_they_say_something_of(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    profiled.give(HEADER + ROWS.replace("nv-birch,-40,,60", "nv-birch,-41,,59"), **SEPTEMBER)
    profiled.give(HEADER + ROWS.replace("2026-09-02,Top-up,,+100,,100\n", ""), **SEPTEMBER)

    listed = profiled.http("GET", "/vendor-records").json()["items"]

    counts = [(each["rows_changed"], each["rows_vanished"], each["rows_back"]) for each in listed]
    assert [(0, 0, 0), (1, 0, 0), (1, 1, 1)] == counts
    assert counts[2] == tuple(
        profiled.http("GET", "/vendor-records/00000003").json()[f"rows_{each}"]
        for each in ("changed", "vanished", "back")
    )


def test_all_changed_rows_of_a_month_are_taken_at_once(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    changed = ROWS.replace("nv-birch,-40,,60", "nv-birch,-41,,59").replace("nv-cedar,-5,,55", "nv-cedar,-6,,53")
    profiled.give(HEADER + changed, **SEPTEMBER)
    said = {"kind": "changed_at_vendor", "verdict": "accepted", "reason": "as the vendor says"}

    preview = profiled.http("POST", "/reconciliations/2026-09/decisions/preview", said)
    made = profiled.http("POST", "/reconciliations/2026-09/decisions/all", said)

    assert [[], []] == [each["records"] for each in preview.json()["differences"]]
    assert [([], None)] * 2 == [(each["entries"], each.get("refusal")) for each in made.json()["differences"]]
    assert {"quantity"} == {*kinds(profiled.reconciled())}


def test_a_confirmed_match_stands_when_only_the_balance_of_its_row_moves(profiled: Exported) -> None:
    profiled.give(HEADER + ROWS, **SEPTEMBER)
    match = next(each for each in profiled.reconciled()["matches"] if each["quantity"] == 40)
    confirmed = profiled.http("POST", "/reconciliations/2026-09/confirmations", {"matches": [match["key"]]})
    assert 201 == confirmed.status_code
    late = ROWS.replace("2026-09-03,Sent,nv-birch", "2026-09-02,Unlock,,-1,,99\n2026-09-03,Sent,nv-birch")
    for balance in (60, 55, 50):
        late = late.replace(f",,{balance}\n", f",,{balance - 1}\n")

    profiled.give(HEADER + late, **SEPTEMBER)

    found = profiled.reconciled()
    again = next(each for each in found["matches"] if each["quantity"] == 40)
    assert [] == found["broken"]
    assert match["rows"] != again["rows"]
    assert again["kept"]
