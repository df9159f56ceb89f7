"""Rows of a record out of tables: the layouts, what is set aside and why, profiles and what can be wrong with them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.errors import ColumnMissing, ProfileUnfit
from pool_api.domain.record import MovementKind, Reading
from pool_api.intake.cells import Unfit, amount_of, credits_of
from pool_api.intake.columns import read
from pool_api.intake.days import DayStyle, day_of
from pool_api.intake.profile import Meaning, Profile
from pool_api.intake.table import read_table

WORDS = {
    "Transfer": Meaning.TRANSFER,
    "Top-up": Meaning.PURCHASE,
    "Unlock": Meaning.USE,
    "Refund": Meaning.REFUND,
    "Login": Meaning.IGNORED,
    "Sent": Meaning.SENT,
    "Received": Meaning.RECEIVED,
}
BETWEEN = Profile(
    name="between",
    day="Day",
    kind="Kind",
    giver="From",
    receiver="To",
    quantity="Credits",
    note="Note",
    balance="Balance",
    kind_words=WORDS,
)
SIGNED = Profile(
    name="signed", day="Day", kind="Kind", counterparty="Other", quantity="Credits", kind_words=WORDS, note="Note"
)
IN_OUT = Profile(name="in and out", day="Day", counterparty="Other", incoming="In", outgoing="Out")
UNSIGNED = Profile(
    name="unsigned", day="Day", kind="Kind", counterparty="Other", quantity="Credits", kind_words=WORDS, signed=False
)
BARE = Profile(name="bare", day="Day", giver="From", receiver="To", quantity="Credits")
PAID = Profile(
    name="paid",
    day="Day",
    quantity="Credits",
    reference="Ref",
    amount="Paid",
    balance="Balance",
    day_style=DayStyle.DAY_MONTH_DOTS,
    decimal=",",
    thousands=".",
)
HEADERS = {
    "bare": "Day;From;To;Credits",
    "paid": "Day;Credits;Ref;Paid;Balance",
    "between": "Day;Kind;From;To;Credits;Note;Balance",
    "signed": "Day;Kind;Other;Credits;Note",
    "in and out": "Day;Other;In;Out",
    "unsigned": "Day;Kind;Other;Credits",
}


def reading(profile: Profile, *lines: str) -> Reading:
    """Read lines under the profile's header as the record of alder-tuning."""
    text = "\n".join((HEADERS[profile.name], *lines, ""))
    return read(read_table(text.encode()), profile, "alder-tuning")


class TestLayouts:
    @pytest.mark.parametrize(
        ("profile", "line", "kind", "sides"),
        [
            (BETWEEN, "2026-10-01;Transfer;Alder-Tuning;birch;5;;", "transfer", ("alder-tuning", "birch")),
            (BETWEEN, "2026-10-01;Transfer;birch;alder-tuning;5;;", "transfer", ("birch", "alder-tuning")),
            (BETWEEN, "2026-10-01;Transfer;alder-tuning;birch;-5;;", "transfer", ("alder-tuning", "birch")),
            (BETWEEN, "2026-10-01;Top-up;the shop;alder-tuning;5;;", "purchase", (None, "alder-tuning")),
            (BETWEEN, "2026-10-01;UNLOCK;alder-tuning;vehicle;5;;", "use", ("alder-tuning", None)),
            (BETWEEN, "2026-10-01;Refund;;;5;;", "refund", (None, "alder-tuning")),
            (SIGNED, "2026-10-01;Transfer;birch;-5;", "transfer", ("alder-tuning", "birch")),
            (SIGNED, "2026-10-01;Transfer;birch;+5;", "transfer", ("birch", "alder-tuning")),
            (SIGNED, "2026-10-01;Unlock;;-5;", "use", ("alder-tuning", None)),
            (SIGNED, "2026-10-01;Unlock;;5;", "refund", (None, "alder-tuning")),
            (IN_OUT, "2026-10-01;birch;5;", "transfer", ("birch", "alder-tuning")),
            (IN_OUT, "2026-10-01;birch;0;5", "transfer", ("alder-tuning", "birch")),
            (IN_OUT, "2026-10-01;;;-5", "use", ("alder-tuning", None)),
            (IN_OUT, "2026-10-01;;5;", "purchase", (None, "alder-tuning")),
            (UNSIGNED, "2026-10-01;Sent;birch;5", "transfer", ("alder-tuning", "birch")),
            (UNSIGNED, "2026-10-01;Received;birch;5", "transfer", ("birch", "alder-tuning")),
            (UNSIGNED, "2026-10-01;Unlock;;5", "use", ("alder-tuning", None)),
        ],
    )
    def test_each_says_who_gave_whom_how_many(
        self, profile: Profile, line: str, kind: str, sides: tuple[str | None, str | None]
    ) -> None:
        (row,) = reading(profile, line).rows

        assert (MovementKind(kind), sides, 5) == (row.kind, (row.giver, row.receiver), row.quantity)
        assert (date(2026, 10, 1), 2) == (row.day, row.line)

    @pytest.mark.parametrize(
        ("line", "kind"),
        [
            ("2026-10-01;alder-tuning;birch;5", "transfer"),
            ("2026-10-01;alder-tuning;;5", "use"),
            ("2026-10-01;;alder-tuning;5", "purchase"),
        ],
    )
    def test_without_a_word_the_accounts_tell_the_kind(self, line: str, kind: str) -> None:
        (row,) = reading(BARE, line).rows

        assert MovementKind(kind) is row.kind

    def test_reference_amount_and_balance_are_read_where_they_stand(self) -> None:
        rows = reading(PAID, "1.10.2026;500;P1;€ 3.450,00;1.200", "2.10.2026;-5;;;1.195").rows

        assert [("P1", "3450.00", 1200), (None, None, 1195)] == [(r.reference, r.amount, r.balance) for r in rows]

    def test_header_words_are_found_without_regard_to_case(self) -> None:
        table = read_table(b"DAY;other;IN;out\n2026-10-01;birch;5;\n")

        assert 1 == len(read(table, IN_OUT, "alder-tuning").rows)

    def test_handles_lose_what_cannot_be_seen(self) -> None:
        (row,) = reading(IN_OUT, "2026-10-01;\u202ebir\u200bch\u202c;5;").rows

        assert "birch" == row.giver

    def test_a_formula_stays_the_text_it_is(self) -> None:
        (row,) = reading(SIGNED, '2026-10-01;Unlock;;-5;"=1+1"').rows

        assert "=1+1" == row.note


class TestSetAside:
    @pytest.mark.parametrize(
        ("profile", "line", "column", "reason"),
        [
            (SIGNED, "31.10.2026;Unlock;;-5;", "Day", '"31.10.2026" is not a date of the style iso'),
            (
                SIGNED,
                "2026-02-30;Unlock;;-5;",
                "Day",
                '"2026-02-30" is not a day of the calendar, read in the style iso',
            ),
            (SIGNED, "0202-10-01;Unlock;;-5;", "Day", 'the year of "0202-10-01" is not from 1990 to 2100'),
            (SIGNED, ";Unlock;;-5;", "Day", "the cell is empty"),
            (SIGNED, "2026-10-01;Unlock;;;", "Credits", "the cell is empty"),
            (SIGNED, "2026-10-01;Unlock;;five;", "Credits", '"five" is not a number'),
            (SIGNED, "2026-10-01;Unlock;;-5.5;", "Credits", '"-5.5" is not a whole number of credits'),
            (SIGNED, "2026-10-01;Unlock;;2000000000;", "Credits", '"2000000000" is more than 1000000000 credits'),
            (SIGNED, "2026-10-01;Unlock;;0;", "Credits", "it moves no credits"),
            (SIGNED, "2026-10-01;Bonus;;5;", "Kind", 'the profile doesn\'t say what "Bonus" means'),
            (SIGNED, "2026-10-01;Top-up;;-5;", "Kind", "the word means purchase, but the quantity goes the other way"),
            (SIGNED, "2026-10-01;Transfer;;5;", "Other", "a transfer needs another account"),
            (SIGNED, "2026-10-01;Transfer;ALDER-tuning;5;", "Other", "the other account is the account itself"),
            (BETWEEN, "2026-10-01;Transfer;birch;cedar;5;;", None, "it is not about the account alder-tuning"),
            (BETWEEN, "2026-10-01;Transfer;alder-tuning;;5;;", "To", "a transfer needs two accounts"),
            (
                BETWEEN,
                "2026-10-01;Transfer;birch;alder-tuning;-5;;",
                "Credits",
                "the quantity is negative, but the account is the one that receives",
            ),
            (BETWEEN, "2026-10-01;Top-up;;alder-tuning;5;;much", "Balance", '"much" is not a number'),
            (BARE, "2026-10-01;;;5", None, "it names no account"),
            (BARE, "2026-10-01;alder-tuning;ALDER-TUNING;5", "To", "giver and receiver are the same account"),
            (PAID, "1.10.2026;5;;1" + "0" * 18 + ";", "Paid", f'"1{"0" * 18}" has too many digits for an amount'),
            (
                UNSIGNED,
                "2026-10-01;Sent;birch;-5",
                "Credits",
                "it is negative, but the profile says that quantities have no sign",
            ),
            (IN_OUT, "2026-10-01;birch;5;6", "In", "it has credits both coming in and going out"),
            (
                UNSIGNED,
                "2026-10-01;Transfer;birch;5",
                "Kind",
                "neither a sign nor the word says which way the credits went",
            ),
        ],
    )
    def test_a_row_that_cannot_be_read_is_set_aside_with_line_column_and_reason(
        self, profile: Profile, line: str, column: str | None, reason: str
    ) -> None:
        found = reading(profile, line)

        assert [(2, column, reason)] == [(each.line, each.column, each.reason) for each in found.set_aside]
        assert (() == found.rows, line.split(";")) == (True, list(found.set_aside[0].cells))

    def test_totals_and_ignored_kinds_are_skipped_and_listed(self) -> None:
        found = reading(SIGNED, "2026-10-01;Login;;;", "Total;;;120;", ";;Closing balance:;5;")

        assert () == found.set_aside
        assert [
            (2, 'the profile leaves out rows of the kind "Login"'),
            (3, 'a total: "Total"'),
            (4, 'a total: "Closing balance:"'),
        ] == [(each.line, each.reason) for each in found.skipped]

    def test_every_line_is_somewhere(self) -> None:
        lines = [
            "2026-10-01;Unlock;;-5;",
            "2026-10-02;Bonus;;5;",
            "Total;;;;",
            "2026-10-03;Unlock",
            "2026-10-04;Unlock;;-5;",
        ]

        found = reading(SIGNED, *lines)

        parts = (found.rows, found.set_aside, found.skipped)
        assert [[2, 6], [3, 5], [4]] == [[each.line for each in part] for part in parts]
        assert (date(2026, 10, 1), date(2026, 10, 4)) == (found.first_day, found.last_day)

    def test_a_missing_column_is_refused_by_name(self) -> None:
        with pytest.raises(ColumnMissing) as refused:
            read(read_table(b"Day;Other;In\n2026-10-01;x;5\n"), IN_OUT, "alder-tuning")

        assert "The file lacks columns that are to be read: Out (outgoing); its columns are Day, Other, In." == str(
            refused.value
        )


class TestCells:
    @pytest.mark.parametrize(
        ("text", "style"),
        [
            ("2026-10-03", DayStyle.ISO),
            ("2026/10/3T23:59:59Z", DayStyle.ISO),
            ("2026-10-03 07:15:00.123+02:00", DayStyle.ISO),
            ("3.10.2026", DayStyle.DAY_MONTH_DOTS),
            ("03.10.26 14:00", DayStyle.DAY_MONTH_DOTS),
            ("10/03/2026 1:05 PM", DayStyle.MONTH_DAY),
            ("03/10/2026", DayStyle.DAY_MONTH),
        ],
    )
    def test_each_style_of_date_is_read(self, text: str, style: DayStyle) -> None:
        assert date(2026, 10, 3) == day_of(text, style)

    @pytest.mark.parametrize(
        ("text", "decimal", "thousands", "expected"),
        [
            ("1,234", ".", ",", 1234),
            ("1.234,00", ",", ".", 1234),
            ("1 234", ",", " ", 1234),
            ("1\u202f234", ",", " ", 1234),
            ("1'234'567", ".", "'", 1234567),
            ("-5", ".", "", -5),
            ("\u22125", ".", "", -5),
            ("(5)", ".", "", -5),
            ("5-", ".", "", -5),
            ("+5", ".", "", 5),
        ],
    )
    def test_each_style_of_number_is_read(self, text: str, decimal: str, thousands: str, expected: int) -> None:
        assert expected == credits_of(text, decimal, thousands)

    @pytest.mark.parametrize(
        ("text", "thousands"), [("12,34", ","), ("1,2345", ","), ("1,234", ""), ("٥", ""), ("1e3", "")]
    )
    def test_what_only_looks_like_a_number_is_not_one(self, text: str, thousands: str) -> None:
        with pytest.raises(Unfit, match="is not a number"):
            credits_of(text, ".", thousands)

    @pytest.mark.parametrize(
        ("text", "expected"), [("€ 4,240.50", "4240.50"), ("4240.5 EUR", "4240.5"), ("-12", "-12"), ("-0.00", "0.00")]
    )
    def test_amounts_are_exact_text(self, text: str, expected: str) -> None:
        assert expected == amount_of(text, ".", ",")


class TestProfiles:
    @pytest.mark.parametrize("profile", [BETWEEN, SIGNED, IN_OUT, UNSIGNED], ids=lambda profile: profile.name)
    def test_a_profile_survives_its_json(self, profile: Profile) -> None:
        assert profile == Profile.from_json(profile.as_json())

    @pytest.mark.parametrize(
        ("given_fields", "reason"),
        [
            ({}, "its field day must be a text"),
            ({"day": "D", "colour": "red"}, "it has unknown fields: colour"),
            ({"day": "D"}, "it needs either a quantity or incoming and outgoing"),
            ({"day": "D", "quantity": "Q", "giver": "F"}, "it needs both or none of giver and receiver"),
            ({"day": "D", "quantity": "D"}, "one column is named for two things"),
            (
                {"day": "D", "quantity": "Q", "kind": "K"},
                "it names a column for the kind, but says of no word what it means",
            ),
            ({"day": "D", "quantity": "Q", "kind_words": ["Use"]}, "its kind_words must map words to meanings"),
            ({"day": "D", "quantity": "Q", "signed": "yes"}, "its field signed must be true or false"),
            (
                {"day": "D", "quantity": "Q", "giver": "F", "receiver": "T", "counterparty": "C"},
                "giver and receiver leave no room for counterparty, incoming or outgoing",
            ),
            ({"day": "D", "quantity": 5}, "its quantity must be the word of a column"),
            ({"day": "D", "quantity": "Q", "day_style": "y.d.m"}, "'y.d.m' is not a valid DayStyle"),
            (
                {"day": "D", "quantity": "Q", "decimal": ",", "thousands": ","},
                "its signs for decimals and thousands are unknown or the same",
            ),
            (
                {"day": "D", "quantity": "Q", "signed": False},
                "unsigned quantities need a kind, or giver and receiver, to say where credits went",
            ),
        ],
    )
    def test_one_that_no_file_could_be_read_by_is_refused(self, given_fields: dict[str, object], reason: str) -> None:
        with pytest.raises(ProfileUnfit) as refused:
            Profile.from_json({"name": "x", **given_fields})

        assert f"The column profile can't be used: {reason}." == str(refused.value)


@given(st.integers(-(10**9), 10**9).filter(bool), st.sampled_from([(".", ","), (",", "."), (",", " "), (".", "'")]))
def test_a_quantity_written_in_a_style_is_read_back(quantity: int, style: tuple[str, str]) -> None:
    decimal, thousands = style

    assert quantity == credits_of(f"{quantity:,}".replace(",", thousands) + decimal + "00", decimal, thousands)
