"""Bytes to tables: published CSV vectors, encodings, limits at and one beyond, and what each refusal says."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.errors import FileTooLarge, FileUnreadable
from pool_api.intake import delimited, rows
from pool_api.intake.table import Table, read_table


def cells(found: Table) -> list[tuple[str, ...]]:
    """Give header and rows as plain cells."""
    return [found.header, *(row.cells for row in found.rows)]


def outcome(content: bytes) -> Table | int:
    """Give the table, or the line that a refusal names."""
    try:
        return read_table(content)
    except (FileUnreadable, FileTooLarge) as refused:
        return refused.line


class TestVectors:
    """max-mapper/csv-spectrum, BSD-2-Clause, commit d30e80f8b99d2eecb3778f1d7b9ed1cb425502ec; CRLF written by hand,
    because the repository stores its CRLF files with LF."""

    @pytest.mark.parametrize(
        ("content", "expected"),
        [
            pytest.param(
                'first,last,address,city,zip\nJohn,Doe,120 any st.,"Anytown, WW",08123\n',
                [("first", "last", "address", "city", "zip"), ("John", "Doe", "120 any st.", "Anytown, WW", "08123")],
                id="comma_in_quotes",
            ),
            pytest.param('a,b,c\n1,"",""\n2,3,4\n', [("a", "b", "c"), ("1", "", ""), ("2", "3", "4")], id="empty"),
            pytest.param(
                'a,b\n1,"ha ""ha"" ha"\n3,4\n', [("a", "b"), ("1", 'ha "ha" ha'), ("3", "4")], id="escaped_quotes"
            ),
            pytest.param(
                'key,val\n1,"{""type"": ""Point"", ""coordinates"": [102.0, 0.5]}"\n',
                [("key", "val"), ("1", '{"type": "Point", "coordinates": [102.0, 0.5]}')],
                id="json",
            ),
            pytest.param(
                'a,b,c\n1,2,3\n"Once upon \na time",5,6\n7,8,9\n',
                [("a", "b", "c"), ("1", "2", "3"), ("Once upon \na time", "5", "6"), ("7", "8", "9")],
                id="newlines",
            ),
            pytest.param(
                'a,b,c\r\n1,2,3\r\n"Once upon \r\na time",5,6\r\n7,8,9\r\n',
                [("a", "b", "c"), ("1", "2", "3"), ("Once upon \r\na time", "5", "6"), ("7", "8", "9")],
                id="newlines_crlf",
            ),
            pytest.param(
                'a,b\n1,"ha \n""ha"" \nha"\n3,4\n',
                [("a", "b"), ("1", 'ha \n"ha" \nha'), ("3", "4")],
                id="quotes_and_newlines",
            ),
            pytest.param("a,b,c\n1,2,3\n4,5,ʤ\n", [("a", "b", "c"), ("1", "2", "3"), ("4", "5", "ʤ")], id="utf8"),
        ],
    )
    def test_each_is_read_as_its_authors_say(self, content: str, expected: list[tuple[str, ...]]) -> None:
        assert expected == cells(read_table(content.encode()))

    def test_the_example_of_rfc_4180_with_quotes_breaks_and_doubled_quotes(self) -> None:
        # RFC 4180, sections 2.6 and 2.7, put under a header
        found = read_table(b'one,two,three\r\n"aaa","b\r\nbb","c""cc"\r\nzzz,yyy,xxx')

        assert [("aaa", "b\r\nbb", 'c"cc'), ("zzz", "yyy", "xxx")] == [row.cells for row in found.rows]
        assert [2, 4] == [row.line for row in found.rows]


SAID = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp", "Cf")), max_size=8)


@given(st.lists(st.tuples(SAID, SAID), min_size=1, max_size=6), st.sampled_from(delimited.SEPARATORS))
def test_what_is_written_by_the_standard_library_is_read_back(said: list[tuple[str, str]], separator: str) -> None:
    out = io.StringIO()
    csv.writer(out, delimiter=separator, quoting=csv.QUOTE_ALL).writerows([("word", "other"), *said])

    found = read_table(out.getvalue().encode())

    assert [row for row in said if any(row)] == [row.cells for row in found.rows]


class TestEncodings:
    TEXT = "Tag;Notiz\n1;Größe – für „Käfer“\n"

    @pytest.mark.parametrize(
        ("content", "encoding"),
        [
            (TEXT.encode(), "utf-8"),
            (TEXT.encode("utf-8-sig"), "utf-8"),
            (TEXT.encode("utf-16"), "utf-16"),
            (b"\xfe\xff" + TEXT.encode("utf-16-be"), "utf-16"),
            (TEXT.encode("cp1252"), "windows-1252"),
        ],
    )
    def test_the_encoding_is_found_and_told(self, content: bytes, encoding: str) -> None:
        found = read_table(content)

        assert (encoding, ("Tag", "Notiz")) == (found.encoding, found.header)
        assert ("1", "Größe – für „Käfer“") == found.rows[0].cells


class TestCodePages:
    """What is neither UTF-8 nor UTF-16: each text is put into an encoding by the standard library."""

    @pytest.mark.parametrize(
        ("encoding", "note"),
        [
            ("windows-1252", "Rückgabe an Böhm – für „Käfer“"),
            ("windows-1250", "pożyczka dla warsztatu, zwrot później"),
            ("windows-1251", "заём мастерской, возврат позже"),
            ("windows-1253", "δάνειο συνεργείου, επιστροφή αργότερα"),
            ("cp932", "工場への貸付、後で返却"),
            ("euc-jp", "工場への貸付、後で返却"),
        ],
    )
    def test_the_likeliest_is_found_and_told(self, encoding: str, note: str) -> None:
        found = read_table(f"Day;Note\n2026-10-01;{note}\n2026-10-02;{note}\n".encode(encoding))

        assert (encoding, note) == (found.encoding, found.rows[0].cells[1])

    def test_a_stated_one_goes_before_the_likeliest_but_not_before_what_proves_itself(self) -> None:
        text = "Day;Note\n2026-10-01;Größe\n"

        assert "GrцЯe" == read_table(text.encode("cp1252"), encoding="windows-1251").rows[0].cells[1]
        assert "utf-8" == read_table(text.encode(), encoding="windows-1251").encoding

    @pytest.mark.parametrize(
        ("content", "reason"),
        [
            pytest.param("Tag;Größe\n1;Käfer\n".encode() + b"\xe4", "is UTF-8 but for a byte", id="a byte behind"),
            pytest.param("a;Größe\n".encode() + "1;ä\n".encode("cp1252"), "encodings are mixed", id="mixed"),
            pytest.param("Tag;Größe\n1;Kä".encode()[:-1], "or it is cut off", id="cut off within a character"),
            pytest.param(bytes(range(128, 256)) * 4, "control character|neither UTF-8 nor", id="every byte"),
        ],
    )
    def test_what_is_no_text_of_one_encoding_is_refused(self, content: bytes, reason: str) -> None:
        with pytest.raises(FileUnreadable, match=reason):
            read_table(content)


class TestShapes:
    @pytest.mark.parametrize("separator", delimited.SEPARATORS)
    def test_each_separator_is_recognised(self, separator: str) -> None:
        text = f"Day{separator}Note{separator}Credits\n2026-10-01{separator}x{separator}5\n"

        assert separator == read_table(text.encode()).separator

    def test_decimal_commas_do_not_make_columns(self) -> None:
        found = read_table(b"Tag;Menge;Stand\n1.10.2026;5,0;10,0\n2.10.2026;6,0;16,0\n")

        assert (";", ("Tag", "Menge", "Stand")) == (found.separator, found.header)

    def test_words_above_the_header_are_skipped_and_listed(self) -> None:
        found = read_table(b"Account history\n\nfor,ALDER\nDay,Note,Credits\n2026-10-01,x,5\n2026-10-02,y,6\n")

        assert ("Day", "Note", "Credits") == found.header
        assert [(1, "stands above the header"), (3, "stands above the header")] == [
            (each.line, each.reason) for each in found.skipped
        ]

    def test_rows_of_another_width_are_set_aside_with_their_lines(self) -> None:
        found = read_table(b"a,b,c\n1,2,3\n4,5\n6,7,8,9\n1,1,1,,\n")

        assert [(3, "has 2 cells where the header has 3"), (4, "has 4 cells where the header has 3")] == [
            (each.line, each.reason) for each in found.ragged
        ]
        assert [("1", "2", "3"), ("1", "1", "1")] == [row.cells for row in found.rows]

    def test_header_words_are_unique(self) -> None:
        assert ("Day", "Day (2)", "column 3") == read_table(b"Day,Day,\n1,2,3\n").header

    def test_lines_count_through_quoted_breaks_and_old_line_ends(self) -> None:
        found = read_table(b'a,b\r"x\ry",1\r\r2,3\r')

        assert [2, 5] == [row.line for row in found.rows]


class TestRefusals:
    @pytest.mark.parametrize(
        ("content", "reason", "line", "column"),
        [
            (b"", "it is empty", 1, 1),
            (b"\xef\xbb\xbf \n\n", "it is empty", 1, 1),
            (b"%PDF-1.7\n", "it is a PDF document", 1, 1),
            (b"\x1f\x8brest", "it is a compressed file", 1, 1),
            (b"<!DOCTYPE html>\n<html>", "it is a web page or an XML document", 1, 1),
            (b"a,b\n1,\x002\n", "it holds a NUL character, so it isn't plain text", 2, 3),
            (b"a,b\n1,2\n3,\x07\n", "it holds the control character U+0007, so it isn't plain text", 3, 3),
            (b"words\nwords\n", "no comma, semicolon, tab or bar separates its lines into columns", 1, 1),
            (b'a,b\n1,2\n3,"open\n4,5\n', "the quote that opens here is never closed", 3, 3),
            (b'a,b\n"x\ny","open\n4,5\n', "the quote that opens here is never closed", 3, 4),
            (b'"a,b\n1,2\n', "the quote that opens here is never closed", 1, 1),
            (
                b'a,b\n1,"two"2\n',
                "the quote that opens here is closed before more text at line 2, column 8",
                2,
                3,
            ),
            (
                b"\xff\xfea\x00,\x00b\x00\n\x00\x01\xdc\n\x00",
                "it says that it is UTF-16, but a byte doesn't fit",
                2,
                1,
            ),
        ],
    )
    def test_each_says_what_and_where(self, content: bytes, reason: str, line: int, column: int) -> None:
        with pytest.raises(FileUnreadable) as refused:
            read_table(content)

        said = f"The file can't be read as a table: {reason} (line {line}, column {column})."
        assert said == str(refused.value)

    def test_two_hundred_thousand_rows_are_read_and_one_more_is_refused(self) -> None:
        full = b"a,b\n" + b"1,2\n" * rows.MOST_ROWS

        assert rows.MOST_ROWS == len(read_table(full + b"\n").rows)
        with pytest.raises(FileTooLarge) as refused:
            read_table(full + b"1,2\n")
        assert "The file has more than 200000 rows below the header; line 200002 is the first too many." == str(
            refused.value
        )

    @pytest.mark.parametrize(
        ("content", "what", "line"),
        [
            (b"," * 200 + b"\n", "columns", 1),
            (b"," * 1_000_000 + b"\n", "characters in one row", 1),
            (b"a,b\n1," + b"x" * 10_001 + b"\n", "characters in one cell", 2),
            (b'a,b\n1,"' + b"x" * 140_000 + b'"\n', "characters in one cell", 2),
            (b"a,b\n1,2\n" + b"x" * 250_001 + b"\n", "characters in one row", 3),
            (b"a,b\n" + b"\n" * (32 * 2**20), "bytes", 32 * 2**20 - 2),
        ],
    )
    def test_each_limit_names_itself_and_the_line(self, content: bytes, what: str, line: int) -> None:
        with pytest.raises(FileTooLarge) as refused:
            read_table(content)

        assert (what, line) == (refused.value.what, refused.value.line)

    def test_a_cell_and_a_row_at_their_limits_are_read(self) -> None:
        long = b"x" * rows.MOST_IN_CELL
        wide = b",".join(b"c%d" % at for at in range(rows.MOST_COLUMNS))

        assert rows.MOST_IN_CELL == len(read_table(b"a,b\n1," + long + b"\n").rows[0].cells[1])
        assert rows.MOST_COLUMNS == len(read_table(wide + b"\n").header)

    @given(st.binary(max_size=200))
    @settings(max_examples=300)
    def test_any_bytes_are_read_or_refused(self, content: bytes) -> None:
        found = outcome(content)

        assert isinstance(found, int) or {len(found.header)} >= {len(row.cells) for row in found.rows}

    @given(st.integers(0, 120), st.sampled_from([b"\x00", b'"', b"\xff", b"\n", b",,", b""]))
    @settings(max_examples=200)
    def test_a_file_cut_or_spoilt_anywhere_is_read_or_refused(self, at: int, spoilt: bytes) -> None:
        good = b'Day,Note,Credits\n2026-10-01,"two\nlines, ""quoted""",5\n2026-10-02,plain,6\n'

        found = outcome(good[:at] + spoilt)

        assert found in range(1, 6) if isinstance(found, int) else not found.headed or "D" == found.header[0][:1]
