"""Guessing columns by their values: tables whose header words say nothing, and tables without any header."""

from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.record import MovementKind, Reading
from pool_api.intake.columns import read
from pool_api.intake.days import DayStyle
from pool_api.intake.profile import RecordType
from pool_api.intake.proposal import Known, Proposal, propose
from pool_api.intake.table import read_table
from tests.intake.made import ods, xlsx

ACCOUNTS = ("nv-alder", "nv-birch", "nv-cedar")
KNOWN = Known(accounts=ACCOUNTS, zone="Europe/Vienna")
SIGNED = (
    ("2026-10-01", "", 500, 570, "P-81", ""),
    ("2026-10-02", "nv-birch", -30, 540, "T-82", "estate car"),
    ("2026-10-03", "", -12, 528, "U-83", "job 7, blue van"),
    ("2026-10-05", "nv-cedar", 40, 568, "T-84", "back again"),
)
IN_OUT = tuple(
    (day, other, max(q, 0) or None, max(-q, 0) or None, left, note) for day, other, q, left, _, note in SIGNED
)
FROM_TO = (
    ("2026-10-01", "nv-cedar", "nv-alder", 40, 110),
    ("2026-10-02", "nv-alder", "nv-birch", 30, 80),
    ("2026-10-03", "nv-alder", "nv-cedar", 15, 65),
    ("2026-10-04", "nv-birch", "nv-alder", 5, 70),
)


def as_csv(rows: tuple[tuple[object, ...], ...]) -> bytes:
    """Give rows as text."""
    return "\n".join(";".join("" if cell is None else str(cell) for cell in row) for row in rows).encode()


def as_xlsx(rows: tuple[tuple[object, ...], ...]) -> bytes:
    """Give rows as a workbook, days as days."""
    return xlsx(
        {"S": [[date.fromisoformat(str(row[0])), *(cell if cell != "" else None for cell in row[1:])] for row in rows]}
    )


def as_ods(rows: tuple[tuple[object, ...], ...]) -> bytes:
    """Give rows as an OpenDocument spreadsheet."""
    return ods(
        {"S": [[date.fromisoformat(str(row[0])), *(cell if cell != "" else None for cell in row[1:])] for row in rows]}
    )


Written = Callable[[tuple[tuple[object, ...], ...]], bytes]
ALL_FORMS = pytest.mark.parametrize("written", [as_csv, as_xlsx, as_ods])


def guessed(content: bytes, known: Known = KNOWN) -> Proposal:
    """Guess a file's columns."""
    return propose(read_table(content), "norvane", known)


def reading(content: bytes, known: Known = KNOWN) -> Reading:
    """Read a file of nv-alder as it is guessed."""
    profile = guessed(content, known).profile
    assert profile is not None
    return read(read_table(content), profile, "nv-alder")


def moved(found: Reading) -> list[tuple[str, str | None, str | None, int]]:
    return [(row.kind.value, row.giver, row.receiver, row.quantity) for row in found.rows]


@ALL_FORMS
class TestWithoutHeader:
    def test_signed_quantities_are_those_by_which_the_balance_runs_on(self, written: Written) -> None:
        found = guessed(written(SIGNED))

        assert {
            "day": "column 1",
            "counterparty": "column 2",
            "quantity": "column 3",
            "note": "column 6",
            "reference": "column 5",
            "balance": "column 4",
        } == found.columns
        assert [
            ("purchase", None, "nv-alder", 500),
            ("transfer", "nv-alder", "nv-birch", 30),
            ("use", "nv-alder", None, 12),
            ("transfer", "nv-cedar", "nv-alder", 40),
        ] == moved(reading(written(SIGNED)))

    def test_the_newest_row_may_come_first(self, written: Written) -> None:
        found = guessed(written(SIGNED[::-1]))

        assert ("column 3", "column 4") == (found.columns["quantity"], found.columns["balance"])

    def test_what_comes_in_and_what_goes_out_may_have_a_column_each_in_either_order(self, written: Written) -> None:
        found = guessed(written(IN_OUT))
        swapped = guessed(written(tuple((day, other, out, came, *rest) for day, other, came, out, *rest in IN_OUT)))

        assert ("column 3", "column 4") == (found.columns["incoming"], found.columns["outgoing"])
        assert ("column 4", "column 3") == (swapped.columns["incoming"], swapped.columns["outgoing"])
        assert moved(reading(written(SIGNED))) == moved(reading(written(IN_OUT)))

    def test_who_gave_and_who_received_is_told_by_the_balance(self, written: Written) -> None:
        found = guessed(written(FROM_TO))
        swapped = guessed(written(tuple((day, to, gave, *rest) for day, gave, to, *rest in FROM_TO)))

        assert ("column 2", "column 3") == (found.columns["giver"], found.columns["receiver"])
        assert ("column 3", "column 2") == (swapped.columns["giver"], swapped.columns["receiver"])
        assert ("column 4", "column 5") == (found.columns["quantity"], found.columns["balance"])
        assert 4 == len(reading(written(FROM_TO)).rows)

    def test_all_of_it_is_doubted(self, written: Written) -> None:
        doubts = guessed(written(SIGNED)).doubts

        assert "There is no header; columns are called by their places, and all is guessed from the values." in doubts
        assert "column 3 is taken for the quantity because of its values, by which the balance runs on." in doubts
        assert sum("because of its values" in each for each in doubts) == 6


def test_words_that_say_nothing_are_left_to_the_values() -> None:
    content = b"A;B;C;D;E;F\n" + as_csv(SIGNED)

    assert ["A", "B", "C", "F", "E", "D"] == list(guessed(content).columns.values())


def test_words_of_kinds_are_known_without_a_header_word() -> None:
    content = b"A;B;C\n2026-10-01;Top-up;5\n2026-10-02;Unlock;-3\n2026-10-03;Unlock;-2\n"

    assert "B" == guessed(content).columns["kind"]
    assert [MovementKind.PURCHASE, MovementKind.USE, MovementKind.USE] == [row.kind for row in reading(content).rows]


def test_accounts_that_nobody_has_are_no_accounts() -> None:
    assert "counterparty" not in guessed(as_csv(SIGNED), Known()).columns


def test_amounts_are_numbers_with_decimals() -> None:
    content = b"A;B;C\n2026-10-01;5;34,50\n2026-10-02;-3;\n2026-10-03;7;1.048,30\n"

    assert "C" == guessed(content).columns["amount"]


def test_an_order_list_of_unsigned_quantities_is_read_as_a_record_of_purchases() -> None:
    content = b"Date;Order;Credits;Price\n2026-10-01;R-1;500;3450.00\n2026-10-09;R-2;100;790.00\n"

    assert guessed(content).profile is None
    found = reading(content, Known(record=RecordType.PURCHASES))
    assert [("purchase", None, "nv-alder", 500), ("purchase", None, "nv-alder", 100)] == moved(found)
    assert ["3450.00", "790.00"] == [row.amount for row in found.rows]


def test_a_list_of_jobs_is_read_as_a_record_of_uses() -> None:
    content = b"Date;Job;Credits\n2026-10-01;A-1001;12\n2026-10-09;A-1002;-3\n"

    found = reading(content, Known(record=RecordType.USES))

    assert [("use", "nv-alder", None, 12), ("refund", None, "nv-alder", 3)] == moved(found)


def test_a_balance_that_does_not_run_on_is_doubted() -> None:
    content = b"Date;Credits;Balance\n2026-10-01;5;10\n2026-10-02;-3;99\n2026-10-03;-2;5\n"

    assert any("Balance doesn't run on by the quantities" in each for each in guessed(content).doubts)


def test_instants_are_counted_in_the_zone_of_the_pool_with_a_doubt() -> None:
    content = b"Date;Credits\n2026-10-03T22:30:00Z;5\n2026-10-03T21:30:00Z;-3\n"

    found = guessed(content)

    assert found.profile is not None
    assert ("Europe/Vienna", [date(2026, 10, 4), date(2026, 10, 3)]) == (
        found.profile.zone,
        [row.day for row in reading(content).rows],
    )
    assert any("Date tells instants; their days are counted in Europe/Vienna" in each for each in found.doubts)


@pytest.mark.parametrize(
    ("days", "style"),
    [
        (("26-10-28", "26-10-29", "26-11-02"), DayStyle.SHORT_YEAR_FIRST),
        (("28-10-26", "29-10-26", "02-11-26"), DayStyle.DAY_MONTH),
        (("10/28/26", "10/29/26", "11/02/26"), DayStyle.MONTH_DAY),
        (("28 Oct 2026", "29 Oct 2026", "2 Nov 2026"), DayStyle.MONTH_NAMED),
        (("20261028", "20261029", "20261102"), DayStyle.COMPACT),
        (("46323", "46324", "46328"), DayStyle.SERIAL),
        (("28.10.26", "29.10.26", "02.11.26"), DayStyle.DAY_MONTH_DOTS),
    ],
)
def test_the_style_of_days_is_settled_by_the_values(days: tuple[str, ...], style: DayStyle) -> None:
    content = "Date;Credits\n" + "".join(f"{day};-{number}\n" for number, day in enumerate(days, 1))

    found = guessed(content.encode())

    assert found.profile is not None
    assert style is found.profile.day_style
    assert [date(2026, 10, 28), date(2026, 10, 29), date(2026, 11, 2)] == [
        row.day for row in reading(content.encode()).rows
    ]


MOVES = st.lists(st.tuples(st.integers(-99, 99).filter(bool), st.sampled_from(ACCOUNTS[1:])), min_size=6, max_size=30)


@given(MOVES, st.permutations(range(4)), st.booleans())
@settings(max_examples=150)
def test_whatever_the_order_of_columns_what_runs_on_is_found(
    moves: list[tuple[int, str]], order: list[int], newest_first: bool
) -> None:
    rows, balance = [], 10_000
    for number, (quantity, other) in enumerate(moves):
        balance += quantity
        cells = [f"2026-10-{1 + number:02d}", other, str(quantity), str(balance)]
        rows.append(";".join(cells[at] for at in order))

    found = guessed("\n".join(rows[::-1] if newest_first else rows).encode())

    places = {
        name: f"column {order.index(at) + 1}" for at, name in enumerate(("day", "counterparty", "quantity", "balance"))
    }
    assert places == {role: found.columns.get(role) for role in places}
