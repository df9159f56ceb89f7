"""Spreadsheets to tables: what cells say, which sheet and which rows are the table, made by openpyxl and odfpy."""

from collections.abc import Callable
from datetime import date, datetime, time

import pytest

from pool_api.domain.errors import FileUnreadable
from pool_api.domain.record import MovementKind
from pool_api.intake.columns import read
from pool_api.intake.profile import Meaning, Profile
from pool_api.intake.rows import Figure
from pool_api.intake.table import read_table
from tests.intake.made import Rows, changed, ods, with_cell, xlsx

HEADER = ("Date", "Type", "Account", "Credits", "Paid", "Note", "Balance")
ROWS: Rows = (
    (date(2026, 10, 1), "Purchase", None, 500, 3450.5, None, 570),
    (date(2026, 10, 2), "Sent", "nv-birch", -30, None, "estate", 540),
    (datetime.combine(date(2026, 10, 3), time(23, 30)), "Use", None, -12, None, "job 7", 528),
)
PROFILE = Profile(
    name="norvane",
    day="Date",
    kind="Type",
    counterparty="Account",
    quantity="Credits",
    amount="Paid",
    note="Note",
    balance="Balance",
    kind_words={"purchase": Meaning.PURCHASE, "sent": Meaning.SENT, "use": Meaning.USE},
    decimal=",",
    thousands=".",
)
FORMS = pytest.mark.parametrize("made", [xlsx, ods])
Made = Callable[[dict[str, Rows]], bytes]


class TestCells:
    @FORMS
    def test_days_credits_and_amounts_are_what_was_written_whatever_the_profile_says_of_styles(
        self, made: Made
    ) -> None:
        found = read(read_table(made({"History": [HEADER, *ROWS]})), PROFILE, "nv-alder")

        assert ((), ()) == (found.set_aside, found.skipped)
        assert [
            (date(2026, 10, 1), MovementKind.PURCHASE, 500, "3450.5", 570, 2),
            (date(2026, 10, 2), MovementKind.TRANSFER, 30, None, 540, 3),
            (date(2026, 10, 3), MovementKind.USE, 12, None, 528, 4),
        ] == [(row.day, row.kind, row.quantity, row.amount, row.balance, row.line) for row in found.rows]

    @FORMS
    @pytest.mark.parametrize(
        ("number", "text"),
        [
            (12, "12"),
            (12.0, "12"),
            (-7, "-7"),
            (0.1 + 0.2, "0.3"),
            (1.1 * 3, "3.3"),
            (4240.5, "4240.5"),
            (1e-7, "0.0000001"),
            (9007199254740991, "9007199254740991"),
            (1e18, "1000000000000000000"),
        ],
    )
    def test_numbers_have_the_digits_that_people_see_and_no_binary_remains(
        self, made: Made, number: float, text: str
    ) -> None:
        found = read_table(made({"S": [("Date", "Credits"), ("x", number)]})).rows[0].cells[1]

        assert (text, True) == (found, isinstance(found, Figure))

    def test_a_number_is_read_as_itself_where_the_profile_would_take_its_point_for_thousands(self) -> None:
        content = xlsx({"S": [HEADER, (date(2026, 10, 1), "Use", None, 1.234, None, None, None)]})

        aside = read(read_table(content), PROFILE, "nv-alder").set_aside

        assert [("Credits", '"1.234" is not a whole number of credits')] == [
            (each.column, each.reason) for each in aside
        ]

    def test_days_count_from_1904_where_the_workbook_says_so(self) -> None:
        found = read_table(xlsx({"History": [HEADER, *ROWS]}, epoch_1904=True))

        assert "2026-10-01" == found.rows[0].cells[0]

    def test_switches_times_and_texts_are_told_as_text_and_formulas_by_their_saved_value(self) -> None:
        content = xlsx({"S": [("A", "B", "C", "D"), (True, time(5, 6), "  blanks ", "=1+1"), ("x", "y", "z", "w")]})

        assert ("TRUE", "05:06:00", "blanks", "") == read_table(content).rows[0].cells

        saved = with_cell(content, '<c t="str"><f>1+1</f><v>two</v></c><c><f>3*4</f><v>12</v></c>')
        assert ("two", "12", "", "") == read_table(saved).rows[-1].cells


class TestShapes:
    @FORMS
    def test_the_first_sheet_with_a_table_is_read_and_the_others_are_named(self, made: Made) -> None:
        content = made({"Cover": [("Norvane",)], "History": [HEADER, *ROWS], "Prices": [("Credits", "Price"), (1, 7)]})

        found = read_table(content)

        assert ("History", ("Cover", "Prices")) == (found.sheet, found.other_sheets)
        assert HEADER == found.header

    @FORMS
    def test_a_sheet_is_read_by_its_name_and_a_wrong_name_is_refused_with_the_right_ones(self, made: Made) -> None:
        content = made({"History": [HEADER, *ROWS], "Prices": [("Credits", "Price"), (1, 7)]})

        assert ("Credits", "Price") == read_table(content, sheet="Prices").header
        with pytest.raises(FileUnreadable, match="it has no sheet 'Price'; its sheets are History, Prices"):
            read_table(content, sheet="Price")

    def test_a_hidden_sheet_is_read_where_it_is_named_or_there_is_no_other(self) -> None:
        content = xlsx({"Old": [("a", "b"), (1, 2)], "New": [("c", "d"), (1, 2)]}, hidden="Old")

        assert ["New", "Old"] == [read_table(content).sheet, read_table(content, sheet="Old").sheet]

    @FORMS
    def test_titles_spans_and_empty_rows_around_the_header_are_skipped_and_lines_are_those_of_the_sheet(
        self, made: Made
    ) -> None:
        above: Rows = [("Account history",), (), ("Account", "nv-alder"), ("From", date(2026, 10, 1)), ()]
        content = made({"S": [*above, HEADER, (), *ROWS, (), ("Total", None, None, 458)]})

        found = read_table(content)
        reading = read(found, PROFILE, "nv-alder")

        assert (HEADER, [1, 3, 4]) == (found.header, [each.line for each in found.skipped])
        assert [8, 9, 10] == [row.line for row in reading.rows]
        assert [(12, 'a total: "Total"')] == [(each.line, each.reason) for each in reading.skipped[3:]]

    def test_a_header_of_two_rows_with_merged_cells_is_read_as_one(self) -> None:
        rows: Rows = [("Date", "Credits", None, "Note"), (None, "In", "Out", None), (date(2026, 10, 1), 5, None, "x")]

        found = read_table(xlsx({"S": rows}, merged=("A1:A2", "B1:C1", "D1:D2")))

        assert ("Date", "In", "Out", "Note") == found.header
        assert ("2026-10-01", "5", "", "x") == found.rows[0].cells

    def test_a_table_that_begins_in_the_middle_of_a_sheet_is_read(self) -> None:
        found = read_table(xlsx({"S": [(), (), (None, None, *HEADER), *((None, None, *row) for row in ROWS)]}))

        assert (HEADER, [4, 5, 6]) == (found.header, [row.line for row in found.rows])

    def test_header_words_of_several_lines_become_one(self) -> None:
        assert ("Balance after", "Day") == read_table(xlsx({"S": [("Balance\nafter", "Day"), (1, 2)]})).header


class TestBroken:
    GOOD = xlsx({"History": [HEADER, *ROWS]})

    def test_an_archive_cut_anywhere_is_refused(self) -> None:
        for size in (4, 30, len(self.GOOD) // 2, len(self.GOOD) - 1):
            with pytest.raises(FileUnreadable, match=r"broken archive|no spreadsheet"):
                read_table(self.GOOD[:size])

    @pytest.mark.parametrize(
        ("entry", "content"),
        [
            ("xl/workbook.xml", b"<nothing"),
            ("xl/worksheets/sheet1.xml", b"<worksheet><sheetData><row><c r='?'>"),
            ("xl/styles.xml", b"\x00\x01\x02"),
        ],
    )
    def test_what_is_broken_inside_is_refused(self, entry: str, content: bytes) -> None:
        broken = changed(self.GOOD, entry, lambda _: content)

        with pytest.raises(FileUnreadable):
            read_table(broken)

    @pytest.mark.parametrize("sign", ["_x0000_", "&#x1b;", "\x7f"])
    def test_a_control_character_in_a_cell_is_refused_with_its_place(self, sign: str) -> None:
        content = with_cell(self.GOOD, f'<c t="inlineStr"><is><t>nv-{sign}birch</t></is></c>')

        with pytest.raises(FileUnreadable, match=r"broken spreadsheet|it holds .* character.* \(line 5, column 1\)"):
            read_table(content)
