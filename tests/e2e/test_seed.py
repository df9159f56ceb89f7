"""The committed files of seed/: made by their generator, and right by arithmetic that shares nothing with it.

The book is folded here by a few lines of its own, from the files alone; `network`, `history` and `trouble` of the seed
are not asked, apart from the generator's own test.
"""

import csv
import json
import tomllib
from collections import Counter
from decimal import Decimal
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from pool_api.intake import Profile, propose, read, read_table
from seed.make import made_files
from tests.e2e.truth import DATA, MONTHS, ROOT, TRUTH, trouble

Row = dict[str, str]


def table(path: Path) -> list[Row]:
    return list(csv.DictReader(path.read_text().splitlines()))


NETWORK = tomllib.loads((DATA / "network.toml").read_text())
HANDLES = {shop["code"]: shop["handle"] for shop in NETWORK["shops"]}
CUSTODIAN = NETWORK["pool"]["custodian"]
EXPORTS = {code: [table(path) for path in sorted(DATA.glob(f"vendor/{code}_*.csv"))] for code in HANDLES}
BOOK = {
    month: [json.loads(line) for line in (DATA / f"book/{month}.jsonl").read_text().splitlines()] for month in MONTHS
}
COMMANDS = {command["reference"]: command for month in MONTHS for command in BOOK[month]}


def iso(row: Row) -> str:
    return "-".join(reversed(row["Booked"].split(".")))


def history(code: str) -> list[Row]:
    """Every row of an account once: what a later export repeats of an earlier one is left out."""
    found: list[Row] = []
    for rows in EXPORTS[code]:
        found += [row for row in rows if row not in found]
    return found


def rows_of(name: str) -> list[tuple[str, Row]]:
    return [(code, row) for code in HANDLES for row in history(code) if row["Ref no"] in trouble(name)["vendor"]]


def moved(command: dict[str, Any]) -> dict[str, int]:
    """What a command adds to each shop and to the stock."""
    if command["kind"] == "reversal":
        return {holder: -change for holder, change in moved(COMMANDS[command["reverses"]]).items()}
    quantity = command.get("quantity", 0)
    giver, receiver = {
        "purchase": (None, command.get("into")),
        "draw": ("stock", command.get("member")),
        "loan": (command.get("lender"), command.get("borrower")),
        "return": (command.get("borrower"), command.get("lender")),
        "use": (command.get("member"), None),
        "write_off": (command.get("holder"), None),
        "outside": (None, command.get("member")),
        "charge": (None, None),
    }[command["kind"]]
    return {holder: change for holder, change in ((giver, -quantity), (receiver, quantity)) if holder}


def opened() -> dict[str, int]:
    held = {shop["code"]: shop["opening"]["held"] for shop in NETWORK["shops"]}
    return {"stock": NETWORK["opening"]["stock_quantity"], **held}


def mends() -> dict[str, dict[str, int]]:
    """By month, what the book lacks of the truth, as seed/README.md tells it: a loan, a refund, and 9 of 21 credits."""
    return {
        "2026-08": {},
        "2026-09": {"DOGWOOD": -14, "ELM": +14, "FIR": +12},
        "2026-10": {"BIRCH": -9, "FIR": +9},
    }


def test_the_generator_makes_the_committed_files() -> None:
    generated = {path: path.read_text() for folder in ("book", "vendor") for path in (DATA / folder).iterdir()}

    assert generated | {DATA / "truth.json": (DATA / "truth.json").read_text()} == made_files()


def test_the_opening_is_balanced() -> None:
    dues = sum(Decimal(shop["opening"]["due"]) for shop in NETWORK["shops"])

    assert Decimal(NETWORK["opening"]["stock_cost"]) == dues


@pytest.mark.parametrize("code", HANDLES)
def test_every_running_balance_follows_from_the_one_before(code: str) -> None:
    opening = opened()[code] + (opened()["stock"] if code == CUSTODIAN else 0)
    rows = history(code)

    assert opening + int(rows[0]["Credits"]) == int(rows[0]["Balance after"])
    for one, other in pairwise(rows):
        assert int(one["Balance after"]) + int(other["Credits"]) == int(other["Balance after"])


@pytest.mark.parametrize("code", HANDLES)
def test_overlapping_exports_show_the_same_rows_on_common_days(code: str) -> None:
    for at, (earlier, later) in enumerate(pairwise(EXPORTS[code])):
        first, last = iso(later[0]), iso(earlier[-1])
        common = [row for row in earlier if iso(row) >= first]

        assert TRUTH["rows_in_two_exports"][code][at] == len(common) > 0
        assert common == [row for row in later if iso(row) <= last]


def test_every_transfer_between_members_stands_in_both_records() -> None:
    seen: Counter[tuple[str, str, str, int]] = Counter()
    for code, handle in HANDLES.items():
        for row in history(code):
            if row["Other account"] in HANDLES.values():
                pair = tuple(sorted((handle, row["Other account"])))
                seen[row["Booked"], row["Ref no"], "/".join(pair), abs(int(row["Credits"]))] += 1
                seen[row["Booked"], row["Ref no"], "signs", 0] += 1 if int(row["Credits"]) > 0 else -1

    assert {0, 2} == set(seen.values())


@pytest.mark.parametrize("month", MONTHS)
def test_the_record_ends_each_month_with_what_is_held_and_in_stock(month: str) -> None:
    for code in HANDLES:
        stock = TRUTH["balances"][month]["stock"] if code == CUSTODIAN else 0
        last = [row for row in history(code) if iso(row)[:7] <= month][-1]

        assert TRUTH["balances"][month][code] + stock == int(last["Balance after"]) == TRUTH["accounts"][month][code]


def test_the_book_never_runs_short_and_once_mended_ends_each_month_with_the_truth() -> None:
    balances: Counter[str] = Counter(opened())
    for month in MONTHS:
        for command in BOOK[month]:
            balances.update(moved(command))

            assert 0 <= min(balances.values()), command
        balances.update(mends()[month])

        assert TRUTH["balances"][month] == dict(balances)


def test_days_of_the_book_are_in_order_and_in_their_month() -> None:
    for month in MONTHS:
        days = [command["effective_on"] for command in BOOK[month]]

        assert sorted(days) == days
        assert {month} == {day[:7] for day in days}


def test_orders_cost_what_the_ladder_says_and_the_payment_fee() -> None:
    tiers = [(int(tier["from_credits"]), Decimal(tier["unit_price"])) for tier in table(DATA / "price-ladder.csv")]
    net_of_fee = trouble("purchase-booked-net-of-its-fee")["book"]
    for command in COMMANDS.values():
        if command["kind"] == "purchase":
            price = max(tier for tier in tiers if tier[0] <= command["quantity"])[1] * command["quantity"]
            fee = 0 if command["reference"] == net_of_fee else price * 8 / 1000

            assert price + fee == Decimal(command["amount"])


def test_jobs_cost_the_credits_of_the_catalogue() -> None:
    catalogue = {item["item"]: item for item in table(DATA / "catalogue.csv")}
    for command in COMMANDS.values():
        if command["kind"] == "use":
            item = catalogue[command["item"]]

            assert int(item["credits"]) == command["quantity"]
            assert (item["off_road_only"] == "yes") == command.get("off_road_only", False)


def test_a_loan_that_the_book_lacks_stands_in_both_records() -> None:
    rows = rows_of("loan-nobody-recorded")

    assert {("DOGWOOD", "-14"), ("ELM", "+14")} == {(code, row["Credits"]) for code, row in rows}
    assert not any(
        command["kind"] == "loan" and (command["lender"], command["borrower"]) == ("DOGWOOD", "ELM")
        for command in BOOK["2026-09"]
    )


def test_a_loan_has_another_quantity_in_the_book_than_in_the_records() -> None:
    assert {"-21", "+21"} == {row["Credits"] for _, row in rows_of("wrong-quantity")}
    assert 12 == COMMANDS[trouble("wrong-quantity")["book"]]["quantity"]


def test_a_loan_is_dated_a_day_late_in_the_book() -> None:
    assert {"2026-09-10"} == {iso(row) for _, row in rows_of("date-one-day-off")}
    assert "2026-09-11" == COMMANDS[trouble("date-one-day-off")["book"]]["effective_on"]


def test_a_return_of_the_book_is_two_transfers_in_the_records() -> None:
    rows = [row for code, row in rows_of("loan-returned-in-two-parts") if code == "DOGWOOD"]

    assert [("2026-10-19", "-18"), ("2026-10-20", "-12")] == [(iso(row), row["Credits"]) for row in rows]
    assert 30 == COMMANDS[trouble("loan-returned-in-two-parts")["book"]]["quantity"]


def test_a_refund_of_the_record_has_no_reversal_in_the_book() -> None:
    ((code, row),) = rows_of("mistaken-use-refunded")

    assert ("FIR", "Refund", "+12") == (code, row["Action"], row["Credits"])
    assert not [command for command in BOOK["2026-09"] if command["kind"] == "reversal"]


def test_a_purchase_of_the_book_lacks_the_fee_that_the_record_shows() -> None:
    ((_, row),) = rows_of("purchase-booked-net-of-its-fee")

    assert ("3477.60", "3450.00") == (
        row["Paid"],
        COMMANDS[trouble("purchase-booked-net-of-its-fee")["book"]]["amount"],
    )


def test_the_readme_says_where_each_trouble_stands() -> None:
    told = (ROOT / "seed" / "README.md").read_text()
    for each in TRUTH["troubles"]:
        assert each["trouble"].replace("-", " ") in told
        for place in [each["book"], *each["vendor"]]:
            assert place is None or f"`{place}`" in told


@pytest.mark.parametrize("code", HANDLES)
def test_every_export_is_read_whole_by_the_profile(code: str) -> None:
    profile = Profile.from_json(NETWORK["profile"])
    for path in sorted(DATA.glob(f"vendor/{code}_*.csv")):
        reading = read(read_table(path.read_bytes()), profile, HANDLES[code])

        assert ((), ()) == (reading.set_aside, reading.skipped)


def test_the_profile_is_what_is_proposed_for_an_export_with_every_word() -> None:
    export = (DATA / "vendor/ALDER_2026-09-28_2026-10-31.csv").read_bytes()

    assert Profile.from_json(NETWORK["profile"]) == propose(read_table(export), "norvane-history").profile
