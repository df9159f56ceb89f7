"""A price ladder's file: columns by their header words or their values, sizes as ranges, and what is refused with its
line. Own cases."""

from collections.abc import Callable
from datetime import date

import pytest

from pool_api.domain.errors import ColumnMissing, FileTooLarge, FileUnreadable
from pool_api.domain.ladder import Tier
from pool_api.intake.ladder import FROM_CREDITS, MOST_ROWS, UNIT_PRICE, VALID_FROM, LadderFile, read_ladders
from pool_api.intake.table import read_table
from tests.intake.made import Rows, ods, xlsx

DAY = date(2026, 10, 1)


def read(content: bytes | str, day: date | None = DAY, **named: str) -> LadderFile:
    return read_ladders(read_table(content.encode() if isinstance(content, str) else content), day, named)


def test_columns_may_stand_in_any_order_and_days_too() -> None:
    content = "unit_price,valid_from,from_credits\n9.00,2026-10-15,1\n9.80,2026-10-01,1\n9.10,2026-10-01,50\n"

    found = read(content, None)

    assert [
        (DAY, (Tier(1, "9.80"), Tier(50, "9.10"))),
        (date(2026, 10, 15), (Tier(1, "9.00"),)),
    ] == list(found.tiers.items())
    assert () == found.doubts


def test_a_stated_day_counts_for_every_row() -> None:
    assert {DAY: (Tier(1, "9.80"),)} == read("From credits;Unit price\n1;9.80\n").tiers


def test_rows_are_tiers_in_the_order_of_the_file_whether_they_are_lawful_or_not() -> None:
    assert {DAY: (Tier(50, "-9.10"), Tier(1, "9.80"))} == read("from_credits,unit_price\n50,-9.10\n1,9.80\n").tiers


def test_a_currency_s_sign_is_read_over() -> None:
    assert {DAY: (Tier(1, "9.80"),)} == read("from_credits,unit_price\n1,€ 9.80\n").tiers


@pytest.mark.parametrize(
    ("prices", "read_as", "doubt"),
    [
        (["1,000"], ["1.000"], '"1,000" of Price is read as 1.000; it could be 1000.'),
        (["1.000"], ["1.000"], '"1.000" of Price is read as 1.000; it could be 1000.'),
        (["9,80", "1,000"], ["9.80", "1.000"], None),
        (["1,000", "9.50"], ["1000", "9.50"], None),
        (["1,000", "0,950"], ["1.000", "0.950"], None),
        (["9.80", "9.10"], ["9.80", "9.10"], None),
        (["12", "9"], ["12", "9"], None),
    ],
)
def test_a_price_that_could_be_another_number_is_doubted(
    prices: list[str], read_as: list[str], doubt: str | None
) -> None:
    found = read("Credits;Price\n" + "".join(f"{1 + 50 * at};{price}\n" for at, price in enumerate(prices)))

    assert read_as == [tier.unit_price for tier in found.tiers[DAY]]
    assert ((doubt,) if doubt else ()) == found.doubts


@pytest.mark.parametrize(
    ("content", "columns"),
    [
        ("Menge;Preis\n1;9,80\n50;9,10\n", ("Menge", "Preis")),
        ("Note;Price each;Quantity\nsingle;9.80;1\nfew;9.10;50\n", ("Quantity", "Price each")),
        ("Order size;Per credit (EUR);Price list\n1;9.80;A\n50;9.10;A\n", ("Order size", "Per credit (EUR)")),
        ("Credits;Credit price\n1;9.80\n50;9.10\n", ("Credits", "Credit price")),
    ],
)
def test_header_words_of_other_languages_tell_what_a_column_is(content: str, columns: tuple[str, str]) -> None:
    found = read(content)

    assert dict(zip((FROM_CREDITS, UNIT_PRICE), columns, strict=True)) == found.columns
    assert {DAY: (Tier(1, "9.80"), Tier(50, "9.10"))} == found.tiers


def test_what_no_word_tells_is_told_by_values_and_doubted() -> None:
    found = read("Alpha,Beta\n1,9.80\n50,9.10\n")

    assert {DAY: (Tier(1, "9.80"), Tier(50, "9.10"))} == found.tiers
    assert (
        "Alpha is taken for from_credits by its values alone.",
        "Beta is taken for unit_price by its values alone.",
    ) == found.doubts


def test_columns_can_be_stated_by_their_header_words() -> None:
    content = "Alpha,Beta,Gamma\n9,1,8\n8,50,7\n"

    assert {DAY: (Tier(1, "9"), Tier(50, "8"))} == read(content, from_credits="beta", unit_price="ALPHA").tiers
    with pytest.raises(ColumnMissing) as refused:
        read(content, from_credits="Delta", unit_price="Alpha")
    assert "Delta (from_credits)" == refused.value.missing


@pytest.mark.parametrize(
    ("sizes", "firsts"),
    [
        (("1-49", "50-99", "100+"), (1, 50, 100)),
        (("1 – 49", "50 – 999", "1,000 and more"), (1, 50, 1_000)),
        (("≥ 1", "≥ 1.000", "≥ 1.000.000"), (1, 1_000, 1_000_000)),
        (("from 5", "ab 50", "100 or more"), (5, 50, 100)),
        (("1.00", "50.0", "1000"), (1, 50, 1_000)),
    ],
)
def test_a_size_may_be_a_range(sizes: tuple[str, ...], firsts: tuple[int, ...]) -> None:
    found = read("size;price\n" + "".join(f"{size};9.80\n" for size in sizes))

    assert firsts == tuple(tier.from_credits for tier in found.tiers[DAY])
    assert () == found.doubts


def test_ranges_that_do_not_meet_are_doubted() -> None:
    found = read("size;price\n1-40;9.80\n50-99;9.10\n")

    assert (
        "Line 2 ends at 40, and the next tier begins at 50.",
        "The last tier ends at 99; larger orders are taken to cost as much for a credit.",
    ) == found.doubts


@pytest.mark.parametrize("made", [xlsx, ods])
def test_a_spreadsheet_s_numbers_and_days_are_what_they_are(made: Callable[[dict[str, Rows]], bytes]) -> None:
    rows: Rows = (("Since", "From", "Price"), (DAY, 1, 9.8), (DAY, 1000, 7.125), (date(2026, 11, 1), 5, 9))

    found = read(made({"Prices": rows}), None)

    assert {
        DAY: (Tier(1, "9.8"), Tier(1000, "7.125")),
        date(2026, 11, 1): (Tier(5, "9"),),
    } == found.tiers


def test_days_are_read_in_the_style_that_they_all_have() -> None:
    found = read("Gültig ab;Menge;Preis\n15.10.2026;1;9,80\n", None)

    assert {date(2026, 10, 15): (Tier(1, "9.80"),)} == found.tiers
    assert {VALID_FROM: "Gültig ab", FROM_CREDITS: "Menge", UNIT_PRICE: "Preis"} == found.columns
    with pytest.raises(FileUnreadable, match="can be read as m/d/y or as d/m/y"):
        read("Date,Size,Price\n05/10/2026,1,9.80\n", None)


@pytest.mark.parametrize(
    ("content", "line", "reason"),
    [
        ("from_credits,unit_price\n1,9.80\nfifty,9.10\n", 3, "fifty"),
        ("from_credits,unit_price\n1,9.80\n50,cheap\n", 3, "cheap"),
        ("from_credits,unit_price\n1.5,9.80\n", 2, "not a whole number"),
        ("from_credits,unit_price\n1.5,9\n", 2, "not a whole number"),
        ("from_credits,unit_price\n2000000000,9.80\n", 2, "more than 1000000000"),
        ("from_credits,unit_price\n-5,9.80\n", 2, "not a whole number"),
        ("from_credits,unit_price\n1,9.80\n50,9.10,8\n", 3, "cells"),
    ],
)
def test_a_row_that_is_no_tier_refuses_the_file(content: str, line: int, reason: str) -> None:
    with pytest.raises(FileUnreadable, match=reason) as refused:
        read(content)
    assert line == refused.value.line


@pytest.mark.parametrize(
    ("content", "day", "column"),
    [
        ("from_credits,unit_price\n1,9.80\n", None, "valid_from"),
        ("from_credits,note\n1,cheap\n", DAY, "unit_price"),
        ("note,unit_price\nsmall,9.80\n", DAY, "from_credits"),
        ("Alpha,Beta\n1,9\n50,8\n", DAY, "from_credits, unit_price"),
    ],
)
def test_a_column_that_is_missing_is_named(content: str, day: date | None, column: str) -> None:
    with pytest.raises(ColumnMissing) as refused:
        read(content, day)
    assert column == refused.value.missing


def test_a_file_with_more_rows_than_ladders_can_have_is_refused() -> None:
    rows = "".join(f"{at},9.80\n" for at in range(1, MOST_ROWS + 2))

    with pytest.raises(FileTooLarge):
        read("from_credits,unit_price\n" + rows)
