"""Names, passwords and how long sessions last.

Lengths and lists: NIST SP 800-63B, 5.1.1.2, and ASVS 5.0, 6.2.1 to 6.2.9. Normal forms: Unicode Standard Annex 15,
figures 3 to 6 (the angstrom sign, letters with dots, the ligature fi, the long s with a dot).
"""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.errors import PasswordUnfit
from pool_api.domain.people import SessionRules, check_password, is_live, normal_password, sign_in_name

COMMON = frozenset({"password", "qwertyuiop", "12345678"})
NAMES = ("Ines Walder", "riverside", "Al")
NOON = datetime(2026, 11, 10, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Ines Walder", "ines  WALDER"),
        ("\u212bsa", "\u00c5sa"),
        ("\u0041\u030asa", "\u00c5sa"),
        ("Straße", "STRASSE"),
        ("\ufb01nn", "Finn"),
        ("\uff29nes", "Ines"),
    ],
)
def test_names_that_people_take_for_one_are_one(one: str, other: str) -> None:
    assert sign_in_name(one) == sign_in_name(other)


@pytest.mark.parametrize(("one", "other"), [("Ines", "Inez"), ("Ines Walder", "InesWalder"), ("Åsa", "Asa")])
def test_other_names_are_others(one: str, other: str) -> None:
    assert sign_in_name(one) != sign_in_name(other)


@given(st.text())
def test_a_sign_in_name_is_its_own(name: str) -> None:
    assert sign_in_name(name) == sign_in_name(sign_in_name(name))


def test_a_password_is_the_same_however_a_keyboard_puts_its_letters_together() -> None:
    assert normal_password("\u0041\u030a\u017f\u0323\u0307") == normal_password("\u00c5\u1e9b\u0323")


@pytest.mark.parametrize(("one", "other"), [("\ufb01", "fi"), ("A", "a"), ("a b", "a  b"), ("a", "a ")])
def test_no_two_passwords_that_differ_on_paper_are_one(one: str, other: str) -> None:
    assert normal_password(one) != normal_password(other)


@pytest.mark.parametrize(
    "password",
    [
        "kelp-orbit",
        "zq7vx2mk",
        "four words in a row",
        "ÄÖÜ ß 日本語 کاغذ",
        "😀😁😂🤣😃😄😅😆",
        "riverside has nine boats",
        "alabaster",
        "x1" * 64,
    ],
)
def test_a_password_needs_no_special_characters(password: str) -> None:
    check_password(password, COMMON, NAMES)


@pytest.mark.parametrize(
    ("password", "reason"),
    [
        ("", "fewer than 8"),
        ("zq7vx2m", "fewer than 8"),
        ("😀😁😂🤣😃😄😅", "fewer than 8"),
        ("A\u030a" * 7, "fewer than 8"),
        ("password", "many people"),
        ("PassWord", "many people"),
        ("ｐａｓｓｗｏｒｄ", "many people"),
        ("aaaaaaaaaaaa", "many people"),
        ("Ines Walder", "a name"),
        ("ineswalder", "a name"),
        ("Riverside", "a name"),
        ("riverside1!", "a name"),
        ("2026riverside", "a name"),
        ("riversideriverside", "a name"),
    ],
)
def test_a_password_that_would_be_tried_first_is_refused(password: str, reason: str) -> None:
    with pytest.raises(PasswordUnfit, match=reason):
        check_password(password, COMMON, NAMES)


@pytest.mark.parametrize(
    ("used_ago", "made_ago", "lasts"),
    [
        (timedelta(0), timedelta(0), True),
        (timedelta(minutes=30) - timedelta(microseconds=1), timedelta(hours=1), True),
        (timedelta(minutes=30), timedelta(hours=1), False),
        (timedelta(0), timedelta(hours=12) - timedelta(microseconds=1), True),
        (timedelta(0), timedelta(hours=12), False),
    ],
)
def test_a_session_ends_unused_and_in_any_case(used_ago: timedelta, made_ago: timedelta, lasts: bool) -> None:
    rules = SessionRules()
    expires_at = NOON - made_ago + rules.longest

    assert lasts == is_live(rules, NOON, last_used_at=NOON - used_ago, expires_at=expires_at)
