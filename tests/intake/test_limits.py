"""The limits that the README states are those that are kept."""

from pathlib import Path

import pytest

from pool_api.intake import cage, rows

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("what", "limit"),
    [
        ("bytes of a file", rows.MOST_BYTES),
        ("rows below the header", rows.MOST_ROWS),
        ("columns", rows.MOST_COLUMNS),
        ("cells in all", rows.MOST_CELLS),
        ("characters of a cell, of a row of text", rows.MOST_IN_CELL),
        ("bytes that a spreadsheet inflates to", cage.MOST_INFLATED),
        ("times its size that an entry of it inflates to", cage.MOST_RATIO),
        ("entries of its archive", cage.MOST_ENTRIES),
        ("memory and processor time of the process that reads it", cage.MOST_MEMORY),
    ],
)
def test_each_limit_is_told(what: str, limit: int) -> None:
    assert f"| {what} | {limit:,}" in README


def test_those_that_stand_behind_another_are_told_too() -> None:
    assert f" and {rows.MOST_IN_ROW:,} |" in README
    assert f" and {cage.MOST_SECONDS} seconds |" in README
