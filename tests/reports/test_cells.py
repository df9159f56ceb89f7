"""What people wrote comes back out of CSV as it went in, and no spreadsheet takes it for a formula."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.reports.cells import csv_text

TEXT = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]))


def read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


@given(st.lists(TEXT, min_size=1, max_size=5))
def test_what_people_wrote_comes_back_but_for_the_mark_before_a_formula(texts: list[str]) -> None:
    rows = read(csv_text([(1, text, "-12.50") for text in texts], free=1))

    assert [["1", text, "-12.50"] for text in texts] == [
        [number, text if text == each else text.removeprefix("'"), amount]
        for each, (number, text, amount) in zip(texts, rows, strict=True)
    ]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "  =", "＝", "＋", "－", "＠"])
def test_nothing_that_people_wrote_is_a_formula(start: str) -> None:
    assert [["1", f"'{start}1+1", "x"]] == read(csv_text([(1, f"{start}1+1", "x")], free=1))


def test_lines_end_and_quotes_stand_as_the_standard_has_them() -> None:
    """RFC 4180, 2.1 and 2.7."""
    assert '1,"say ""no""",""\r\n' == csv_text([(1, 'say "no"', "")], free=1)
