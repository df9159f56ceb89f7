"""Guessing a profile: ordinary exports of several habits, and the doubts that belong to each."""

import pytest

from pool_api.domain.record import Reading
from pool_api.intake.columns import read
from pool_api.intake.days import DayStyle
from pool_api.intake.profile import Meaning
from pool_api.intake.proposal import Proposal, propose
from pool_api.intake.table import read_table

ENGLISH = (
    "Date,Type,From,To,Credits,Note,Reference,Balance\n"
    "2026-10-01,Transfer,alder-tuning,birch,30,estate,T1,70\n"
    "2026-10-02,Purchase,,alder-tuning,500,,P1,570\n"
    "2026-10-03,Unlock,alder-tuning,,12,job 7,U1,558\n"
    "2026-10-04,Refund,,alder-tuning,12,job 7,U2,570\n"
)
GERMAN = (
    "Datum;Vorgang;Gegenkonto;Menge;Saldo;Bemerkung\n"
    "03.10.2026;Eingang;birch;1.200;1.270;Kombi\n"
    "04.10.2026;Verbrauch;;-12;1.258;\n"
)
AMERICAN = "When|Counterparty|In|Out|Memo\n10/03/2026|birch|5||van\n10/04/2026|||7|\n"


def proposed(text: str) -> Proposal:
    """Propose a profile for a file."""
    return propose(read_table(text.encode()), "norvane")


def reading(text: str) -> Reading:
    """Read a file of alder-tuning by the profile that is proposed for it."""
    profile = proposed(text).profile
    assert profile is not None
    return read(read_table(text.encode()), profile, "alder-tuning")


@pytest.mark.parametrize(
    ("text", "rows"), [(ENGLISH, 4), (GERMAN, 2), (AMERICAN, 2)], ids=["from-to", "signed", "in-out"]
)
def test_a_proposal_for_an_ordinary_export_reads_it_whole(text: str, rows: int) -> None:
    found = reading(text)

    assert (rows, ()) == (len(found.rows), found.set_aside)


def test_columns_and_words_are_recognised() -> None:
    found = proposed(ENGLISH)

    assert {
        "day": "Date",
        "kind": "Type",
        "giver": "From",
        "receiver": "To",
        "quantity": "Credits",
        "note": "Note",
        "reference": "Reference",
        "balance": "Balance",
    } == found.columns
    assert found.profile is not None
    words = {
        "transfer": Meaning.TRANSFER,
        "purchase": Meaning.PURCHASE,
        "unlock": Meaning.USE,
        "refund": Meaning.REFUND,
    }
    assert words == found.profile.kind_words
    assert () == found.doubts


def test_thousands_and_dates_follow_the_values() -> None:
    profile = proposed(GERMAN).profile

    assert profile is not None
    assert (DayStyle.DAY_MONTH_DOTS, ",", ".") == (profile.day_style, profile.decimal, profile.thousands)


def test_dates_of_two_readings_are_doubted_and_the_closer_days_proposed() -> None:
    found = proposed(AMERICAN)

    assert found.profile is not None
    assert DayStyle.MONTH_DAY is found.profile.day_style
    assert "The dates of When can be read as m/d/y or as d/m/y; m/d/y is proposed." in found.doubts


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("Date,Type,Credits\n2026-10-01,Bonus,5\n2026-10-01,Use,-5\n", 'The word "bonus" in Type has no known meaning'),
        ("Date,Credits\n2026-10-01,-5\n", "No column names the kind"),
        ("Date,Credits\n2026-10-01,-5\n", "No column names the other account"),
        ("Date,Credits\n2026-10-01,-5\n", "There is no running balance"),
        ("Name,Credits\nx,-5\n", "No column holds dates."),
        ("Date,Name\n2026-10-01,x\n", "No column of whole numbers"),
        ("Date,Credits\n2026-10-01,-2.000\n", "read with '.' before decimals, so as a small number"),
    ],
)
def test_what_the_values_do_not_bear_out_is_doubted(text: str, doubt: str) -> None:
    assert any(doubt in each for each in proposed(text).doubts)


@pytest.mark.parametrize("text", ["Name,Credits\nx,-5\n", "Date,Name\n2026-10-01,x\n", "Date,Credits\n2026-10-01,5\n"])
def test_nothing_is_proposed_for_what_could_not_be_read(text: str) -> None:
    assert proposed(text).profile is None


def test_a_column_of_many_words_is_not_one_of_kinds() -> None:
    lines = "".join(f"2026-10-01,word{chr(97 + at % 26) * (1 + at // 26)},-5\n" for at in range(40))

    found = proposed("Date,Type,Credits\n" + lines)

    assert "Type has 40 different words, too many to be kinds; it is left out." in found.doubts
    assert found.profile is not None
    assert found.profile.kind is None


def test_half_of_a_pair_of_columns_is_left_out() -> None:
    found = proposed("Date,From,Credits\n2026-10-01,birch,-5\n")

    assert {"day": "Date", "quantity": "Credits"} == found.columns


def test_a_cell_that_is_no_date_does_not_decide_the_style() -> None:
    lines = "".join(f"10/{day:02d}/2026,-5\n" for day in range(1, 12))

    profile = proposed("Date,Credits\n" + lines + "soon,-5\n").profile

    assert profile is not None
    assert DayStyle.MONTH_DAY is profile.day_style
