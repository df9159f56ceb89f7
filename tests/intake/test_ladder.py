"""A price ladder's file: columns by their header words, and what is refused with its line. Own cases."""

from datetime import date

import pytest

from pool_api.domain.errors import ColumnMissing, FileUnreadable
from pool_api.domain.ladder import Tier
from pool_api.intake.ladder import read_ladder

DAY = date(2026, 10, 1)


def test_columns_may_stand_in_any_order_and_days_too() -> None:
    content = b"unit_price,valid_from,from_credits\n9.00,2026-10-15,1\n9.80,2026-10-01,1\n9.10,2026-10-01,50\n"

    found = read_ladder(content, None)

    assert [
        (DAY, (Tier(1, "9.80"), Tier(50, "9.10"))),
        (date(2026, 10, 15), (Tier(1, "9.00"),)),
    ] == list(found.items())


def test_a_stated_day_counts_for_every_row() -> None:
    assert {DAY: (Tier(1, "9.80"),)} == read_ladder(b"From credits;Unit price\n1;9.80\n", DAY)


def test_rows_are_tiers_in_the_order_of_the_file_whether_they_are_lawful_or_not() -> None:
    assert {DAY: (Tier(50, "-9.10"), Tier(1, "9.80"))} == read_ladder(
        b"from_credits,unit_price\n50,-9.10\n1,9.80\n", DAY
    )


def test_a_currency_s_sign_is_read_over() -> None:
    assert {DAY: (Tier(1, "9.80"),)} == read_ladder("from_credits,unit_price\n1,€ 9.80\n".encode(), DAY)


@pytest.mark.parametrize(
    ("content", "line", "reason"),
    [
        (b"from_credits,unit_price\n1,9.80\nfifty,9.10\n", 3, "fifty"),
        (b"from_credits,unit_price\n1,9.80\n50,cheap\n", 3, "cheap"),
        (b"from_credits,unit_price\n1.5,9.80\n", 2, "not a whole number"),
        (b"from_credits,unit_price\n1,9.80\n50,9.10,8\n", 3, "cells"),
    ],
)
def test_a_row_that_is_no_tier_refuses_the_file(content: bytes, line: int, reason: str) -> None:
    with pytest.raises(FileUnreadable, match=reason) as refused:
        read_ladder(content, DAY)
    assert line == refused.value.line


@pytest.mark.parametrize(
    ("content", "day", "column"),
    [
        (b"from_credits,unit_price\n1,9.80\n", None, "valid_from"),
        (b"from_credits,price\n1,9.80\n", DAY, "unit_price"),
        (b"quantity,unit_price\n1,9.80\n", DAY, "from_credits"),
    ],
)
def test_a_column_that_is_missing_is_named(content: bytes, day: date | None, column: str) -> None:
    with pytest.raises(ColumnMissing) as refused:
        read_ladder(content, day)
    assert column == refused.value.missing
