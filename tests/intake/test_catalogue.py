"""Catalogues' files: columns guessed, rows read, rows set aside. The files are made up."""

import pytest

from pool_api.domain.catalogue import Covered, Item
from pool_api.domain.errors import ColumnMissing, ProfileUnfit
from pool_api.intake.catalogue import CatalogueProfile, propose_catalogue, read_items
from pool_api.intake.table import read_table

PLAIN = b"""Article,Description,Vehicle class,Family,Credits,Includes,Trade only,Road restricted
CAL-S,"Calibration, small",car,K2,12,,no,no
CAL-M,"Calibration, medium",van,K2,24,,no,yes
PAIR,Both calibrations,,,30,CAL-S; CAL-M,yes,
"""
OTHERS = "Nr;Bezeichnung;Kosten\n1001;Kalibrierung klein;1.012\n1002;Kalibrierung groß;2.400\n".encode()


def guessed(content: bytes) -> CatalogueProfile:
    profile = propose_catalogue(read_table(content), "guessed").profile
    assert profile is not None
    return profile


def test_columns_are_found_by_their_words_and_values() -> None:
    assert {
        "code": "Article",
        "title": "Description",
        "credits": "Credits",
        "vehicle_class": "Vehicle class",
        "family": "Family",
        "covers": "Includes",
        "trade_only": "Trade only",
        "road_restricted": "Road restricted",
    } == guessed(PLAIN).columns


def test_rows_become_items() -> None:
    read = read_items(read_table(PLAIN), guessed(PLAIN))

    assert () == read.set_aside
    assert (
        Item(code="CAL-S", name="Calibration, small", credits=12, vehicle_class="car", family="K2"),
        Item(
            code="CAL-M", name="Calibration, medium", credits=24, vehicle_class="van", family="K2", road_restricted=True
        ),
        Item(
            code="PAIR",
            name="Both calibrations",
            credits=30,
            covers=Covered(items=("CAL-S", "CAL-M")),
            trade_only=True,
        ),
    ) == read.items


def test_other_columns_in_another_language_with_dots_between_thousands() -> None:
    profile = guessed(OTHERS)
    items = read_items(read_table(OTHERS), profile).items

    assert ("Nr", "Kosten", "Bezeichnung", ",", ".") == (
        profile.code, profile.credits, profile.title, profile.decimal, profile.thousands,
    )  # fmt: skip
    assert [("1001", 1_012), ("1002", 2_400)] == [(each.code, each.credits) for each in items]


def test_without_telling_words_the_values_say_it_and_that_is_a_doubt() -> None:
    guess = propose_catalogue(read_table(b"Alpha,Beta\nCAL-S,12\nCAL-M,24\nCAL-L,24\n"), "guessed")

    assert {"code": "Alpha", "credits": "Beta"} == guess.columns
    assert 3 == len(guess.doubts)


def test_without_credits_nothing_is_guessed() -> None:
    guess = propose_catalogue(read_table(b"Article,Description\nCAL-S,small\n"), "guessed")

    assert guess.profile is None
    assert any("credits" in doubt for doubt in guess.doubts)


@pytest.mark.parametrize(
    ("row", "reason", "column"),
    [
        ("CAL-S,Again,car,K2,12,,,", 'the code "CAL-S" stands in the file before', "Article"),
        (",Nameless,car,K2,12,,,", "the cell is empty", "Article"),
        ("CAL-X,Costless,car,K2,,,,", "the cell is empty", "Credits"),
        ("CAL-X,Half,car,K2,12.5,,,", '"12.5" is not a whole number of credits', "Credits"),
        ("CAL-X,Less,car,K2,-3,,,", '"-3" is below 0', "Credits"),
        ("CAL-X,Word,car,K2,twelve,,,", '"twelve" is not a number', "Credits"),
        ("CAL-X,Flag,car,K2,12,,perhaps,", '"perhaps" is neither yes nor no', "Trade only"),
        (f"{'X' * 101},Long,car,K2,12,,,", "has more than 100 characters", "Article"),
        ("Total,,,,36,,,", 'a total: "Total"', "Article"),
        ("CAL-X,Short", "has 2 cells where the header has 8", None),
    ],
)
def test_a_row_that_cannot_be_read_is_set_aside_with_its_reason(row: str, reason: str, column: str | None) -> None:
    read = read_items(read_table(PLAIN + row.encode() + b"\n"), guessed(PLAIN))

    (aside,) = read.set_aside
    assert reason in aside.reason
    assert (column, 5) == (aside.column, aside.line)
    assert 3 == len(read.items)


def test_a_file_without_a_column_of_the_profile_is_refused() -> None:
    with pytest.raises(ColumnMissing, match="Article"):
        read_items(read_table(OTHERS), guessed(PLAIN))


@pytest.mark.parametrize("said", [{"title": "Article"}, {"decimal": ".", "thousands": "."}, {"decimal": "!"}])
def test_a_profile_that_no_file_could_be_read_by_is_refused(said: dict[str, str]) -> None:
    with pytest.raises(ProfileUnfit):
        CatalogueProfile(**{"name": "norvane", "code": "Article", "credits": "Credits", **said})


def test_a_profile_comes_back_as_it_was_written() -> None:
    assert guessed(PLAIN) == CatalogueProfile.from_json(guessed(PLAIN).as_json())
