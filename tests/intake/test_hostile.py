"""Files made to harm: refused with a reason, or read safely, within stated limits and bounded memory."""

import io
import re
import struct
import subprocess
import sys
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pool_api.domain.errors import DomainError, FileTooLarge, FileUnreadable
from pool_api.domain.record import Reading
from pool_api.intake.cage import MOST_ENTRIES, MOST_MEMORY
from pool_api.intake.columns import read
from pool_api.intake.proposal import Known, propose
from pool_api.intake.rows import MOST_CELLS, MOST_COLUMNS, MOST_IN_CELL, MOST_ROWS
from pool_api.intake.table import read_table
from tests.intake.made import changed, ods, with_cell, xlsx

SHEET = "xl/worksheets/sheet1.xml"
GOOD = xlsx(
    {"History": [("Date", "Account", "Credits"), ("2026-10-01", "nv-birch", -5), ("2026-10-02", "nv-cedar", 7)]}
)
GOOD_ODS = ods({"History": [("Date", "Account", "Credits"), ("2026-10-01", "nv-birch", -5)]})


def read_whole(content: bytes) -> Reading | None:
    """Take a file all the way: table, proposal, reading."""
    table = read_table(content)
    guess = propose(table, "norvane", Known(accounts=("nv-birch", "nv-cedar"), zone="Europe/Vienna"))
    return read(table, guess.profile, "nv-alder") if guess.profile else None


def before(tag: str, inserted: bytes) -> bytes:
    """Give the good workbook with something before a tag of its sheet."""
    return changed(GOOD, SHEET, lambda xml: xml.replace(tag.encode(), inserted + tag.encode(), 1))


def laughing(xml: bytes) -> bytes:
    """Give a sheet with ten entities, each of ten of the one before."""
    entities = "".join(f'<!ENTITY l{at} "{f"&l{at - 1};" * 10 if at else "ha"}">' for at in range(11))
    cell = b'<row><c t="inlineStr"><is><t>&l10;</t></is></c></row></sheetData>'
    start = xml.index(b"<worksheet")
    return f"<!DOCTYPE worksheet [{entities}]>".encode() + xml[start:].replace(b"</sheetData>", cell)


class TestSpreadsheets:
    def test_one_that_inflates_beyond_the_limit_is_refused(self) -> None:
        bomb = before("<sheetData>", (b"<!--" + b" " * 2**20 + b"-->") * 300)

        assert len(bomb) < 2**19
        with pytest.raises((FileTooLarge, FileUnreadable), match=r"when it is inflated|500 times its size"):
            read_table(bomb)

    def test_one_that_lies_about_its_sizes_is_refused(self) -> None:
        content = bytearray(before("<sheetData>", b" " * 10**6))
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            size = archive.getinfo(SHEET).file_size
        for at in [found.start() for found in re.finditer(re.escape(struct.pack("<I", size)), bytes(content))]:
            content[at : at + 4] = struct.pack("<I", 100)

        with pytest.raises(FileUnreadable, match=r"broken archive"):
            read_table(bytes(content))

    def test_one_that_declares_a_gigabyte_is_refused_before_it_is_inflated(self) -> None:
        content = bytearray(GOOD)
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            size = archive.getinfo(SHEET).file_size
        for at in [found.start() for found in re.finditer(re.escape(struct.pack("<I", size)), bytes(content))]:
            content[at : at + 4] = struct.pack("<I", 2**30)

        with pytest.raises(FileTooLarge, match="268435456 bytes when it is inflated"):
            read_table(bytes(content))

    def test_one_of_many_entries_is_refused(self) -> None:
        written = io.BytesIO(GOOD)
        with zipfile.ZipFile(written, "a") as archive:
            for number in range(MOST_ENTRIES):
                archive.writestr(f"{number}", b"")

        with pytest.raises(FileTooLarge, match=f"{MOST_ENTRIES} entries"):
            read_table(written.getvalue())

    @pytest.mark.parametrize("codec", ["utf-8", "utf-16"])
    def test_entities_are_never_expanded(self, codec: str) -> None:
        content = changed(GOOD, SHEET, lambda xml: laughing(xml).decode().encode(codec))

        with pytest.raises(FileUnreadable, match="declares a document type"):
            read_table(content)

    @pytest.mark.parametrize("cell", ['<c r="XFD1048576"><v>1</v></c>', '<c r="ZZ900000"><v>1</v></c>'])
    def test_one_cell_far_away_takes_no_memory_of_the_service(self, cell: str) -> None:
        with pytest.raises((FileTooLarge, FileUnreadable), match=r"columns|more memory or time"):
            read_table(with_cell(GOOD, cell))

    @pytest.mark.parametrize(("rows", "columns"), [(1_000_000, 1_000), (1_000_000, 3), (10, 16_000)])
    def test_a_cell_that_repeats_itself_without_end_is_refused(self, rows: int, columns: int) -> None:
        cell = (
            f'<table:table-cell table:number-columns-repeated="{columns}" office:value-type="float" office:value="1"/>'
        )
        row = f'<table:table-row table:number-rows-repeated="{rows}">{cell}</table:table-row></table:table>'
        content = changed(GOOD_ODS, "content.xml", lambda xml: xml.replace(b"</table:table>", row.encode()))

        with pytest.raises((FileTooLarge, FileUnreadable), match=r"columns|rows|more memory|broken spreadsheet"):
            read_table(content)

    def test_too_many_columns_rows_and_characters_are_refused(self) -> None:
        with pytest.raises(FileTooLarge, match=f"{MOST_COLUMNS} columns"):
            read_table(xlsx({"S": [["a"] * (MOST_COLUMNS + 1)] * 2}))
        with pytest.raises(FileTooLarge, match=f"{MOST_IN_CELL} characters in one cell"):
            read_table(xlsx({"S": [("a", "b"), ("x" * (MOST_IN_CELL + 1), "y")]}))

    def test_an_archive_that_is_no_spreadsheet_is_refused(self) -> None:
        written = io.BytesIO()
        with zipfile.ZipFile(written, "w") as archive:
            archive.writestr("readme.txt", "hello")

        with pytest.raises(FileUnreadable, match="it is an archive, but no spreadsheet"):
            read_table(written.getvalue())

    @pytest.mark.parametrize("content", [b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2_000), b"\xd0\xcf\x11\xe0"])
    def test_a_broken_compound_file_is_refused(self, content: bytes) -> None:
        with pytest.raises(FileUnreadable, match=r"broken spreadsheet|more memory or time"):
            read_table(content)


class TestText:
    def test_a_million_columns_are_refused(self) -> None:
        with pytest.raises(FileTooLarge):
            read_table(b"a," * 1_000_000 + b"\n")

    def test_a_million_rows_are_refused_with_the_line(self) -> None:
        with pytest.raises(FileTooLarge) as refused:
            read_table(b"a,b\n" + b"1,2\n" * 1_000_000)

        assert (MOST_ROWS, MOST_ROWS + 2) == (refused.value.most, refused.value.line)

    def test_more_cells_than_the_limit_are_refused(self) -> None:
        wide = b",".join([b"1"] * MOST_COLUMNS) + b"\n"

        with pytest.raises(FileTooLarge) as refused:
            read_table(wide * (MOST_CELLS // MOST_COLUMNS + 2))

        assert ("cells", MOST_CELLS) == (refused.value.what, refused.value.most)

    def test_marks_that_nobody_sees_make_no_other_account(self) -> None:
        marked = "nv-\u202ebirch\u202c\u200b"
        rows = f"2026-10-01,{marked},-5\n2026-10-02,nv-birch\ufeff,-6\n"

        found = read_whole(f"Date,Account,Credits\n{rows}".encode())

        assert found is not None
        assert {"nv-birch"} == {row.receiver for row in found.rows}

    def test_a_formula_is_text(self) -> None:
        found = read_whole(b'Date,Account,Credits,Note\n2026-10-01,nv-birch,-5,"=HYPERLINK(""x"")"\n')

        assert found is not None
        assert ['=HYPERLINK("x")'] == [row.note for row in found.rows]

    def test_a_formula_for_a_quantity_is_set_aside(self) -> None:
        found = read_whole(b"Date,Account,Credits\n2026-10-01,nv-birch,-5\n2026-10-01,nv-birch,=1+1\n" * 5)

        assert found is None or all("not a" in each.reason for each in found.set_aside)


def survives(content: bytes) -> None:
    """Take a file all the way, or see it refused by a rule; anything else fails."""
    try:
        read_whole(content)
    except DomainError:
        return


LINES = st.lists(
    st.lists(
        st.one_of(
            st.sampled_from(["2026-10-01", "01/10/26", "3 Oct 2026", "-5", "1.000", "nv-birch", "", "Total", "=1+1"]),
            st.text(max_size=6),
        ),
        max_size=7,
    ),
    max_size=8,
)


class TestAnything:
    @given(st.binary(max_size=400))
    @settings(max_examples=300)
    def test_any_bytes_are_read_or_refused(self, content: bytes) -> None:
        if not content.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
            survives(content)

    @given(LINES, st.sampled_from(",;\t|^"), st.sampled_from(["utf-8", "utf-16", "cp1252", "cp1251"]))
    @settings(max_examples=300)
    def test_any_lines_are_read_or_refused(self, lines: list[list[str]], separator: str, encoding: str) -> None:
        text = "\n".join(separator.join(line) for line in lines)
        survives(text.encode(encoding, "replace"))

    @given(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=8))
    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_any_spoilt_spreadsheet_is_read_or_refused(self, at: int, spoilt: bytes) -> None:
        survives(b"PK\x03\x04" + (GOOD[:at] + spoilt + GOOD[at + len(spoilt) :])[4:])

    @given(st.text(max_size=30))
    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_any_text_in_place_of_a_sheet_is_read_or_refused(self, text: str) -> None:
        survives(before("</sheetData>", text.encode()))


@pytest.mark.skipif(sys.platform == "win32", reason="the system can't be asked for a limit there")
def test_the_reader_of_spreadsheets_is_confined() -> None:
    program = (
        "import resource; from pool_api.intake import cage; cage._confine();"
        "print(resource.getrlimit(resource.RLIMIT_AS))"
    )

    said = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True, text=True).stdout

    assert f"({MOST_MEMORY}, {MOST_MEMORY})" == said.strip()
