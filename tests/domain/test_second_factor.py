"""Codes of an authenticator app against the RFC's vectors, waits after wrong ones, recovery codes, and the ticket."""

from base64 import b32decode, b32encode
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain import second_factor
from pool_api.domain.second_factor import accepted_step, is_ticket, new_recovery_codes, pause, recovery_digest, ticket

SECRET = b32encode(b"12345678901234567890").decode()
NOW = datetime(2026, 11, 10, 12, tzinfo=UTC)
HASH = "$argon2id$v=19$of a password"

# RFC 6238, appendix B, the column of SHA-1; an app shows the last six of its eight digits, as both are remainders.
RFC_6238 = {
    59: "94287082",
    1_111_111_109: "07081804",
    1_111_111_111: "14050471",
    1_234_567_890: "89005924",
    2_000_000_000: "69279037",
    20_000_000_000: "65353130",
}


def counting(first: int = 1) -> Callable[[int], str]:
    numbers = count(first)
    return lambda size: f"{next(numbers):0{2 * size}x}"


@pytest.mark.parametrize(("second", "digits"), RFC_6238.items())
def test_codes_are_those_of_the_rfc(second: int, digits: str) -> None:
    at = datetime.fromtimestamp(second, UTC)

    assert second // 30 == accepted_step(SECRET, digits[-6:], at, after=0)
    assert accepted_step(SECRET, f"{int(digits[-6:]) ^ 1:06d}", at, after=0) is None


@pytest.mark.parametrize(("seconds", "is_right"), [(-31, False), (-30, True), (0, True), (59, True), (60, False)])
def test_a_code_counts_from_half_a_minute_before_its_own_to_half_a_minute_after(seconds: int, is_right: bool) -> None:
    own = datetime.fromtimestamp(1_111_111_110, UTC)  # a step's first second, with the RFC's code of a second later

    assert is_right == (accepted_step(SECRET, "050471", own + timedelta(seconds=seconds), after=0) is not None)


def test_a_code_counts_once_and_none_before_it_any_more() -> None:
    at = datetime.fromtimestamp(1_111_111_109, UTC)
    step = accepted_step(SECRET, "081804", at, after=0)

    assert step == 1_111_111_109 // 30
    assert accepted_step(SECRET, "081804", at, after=step) is None
    assert accepted_step(SECRET, "081804", at, after=step - 1) == step
    assert accepted_step(SECRET, "050471", at, after=step) == step + 1
    assert accepted_step(SECRET, "081804", at, after=step + 1) is None


@pytest.mark.parametrize("typed", ["081 804", "081-804", " 081804 "])
def test_a_code_may_be_typed_as_apps_show_it(typed: str) -> None:
    assert accepted_step(SECRET, typed, datetime.fromtimestamp(1_111_111_109, UTC), after=0) is not None


@pytest.mark.parametrize("typed", ["", "81804", "0081804", "08180", "abcdef", "081804081804"])
def test_anything_else_is_no_code(typed: str) -> None:
    assert accepted_step(SECRET, typed, datetime.fromtimestamp(1_111_111_109, UTC), after=0) is None


def test_a_secret_has_160_bits_of_the_random_source() -> None:
    secret = second_factor.new_secret(counting(2**159 + 7))

    assert (2**159 + 7).to_bytes(20) == b32decode(secret)


def test_an_app_is_told_the_secret_whose_it_is_and_what_for() -> None:
    told = urlsplit(second_factor.address(SECRET, "Ines: Walder/é"))

    assert ("otpauth", "totp") == (told.scheme, told.netloc)
    assert "/Credit pool:Ines: Walder/é" == unquote(told.path)
    assert "Ines%3A" in told.path
    assert {"secret": [SECRET], "issuer": ["Credit pool"]} == parse_qs(told.query)  # all else is what apps expect


def test_wrong_codes_make_the_next_wait_twice_as_long_up_to_a_day() -> None:
    waits = [pause(wrong) for wrong in range(30)]

    assert [timedelta()] * 5 == waits[:5]
    assert [timedelta(seconds=30 << at) for at in range(11)] == waits[5:16]
    assert {timedelta(days=1)} == set(waits[17:])


def test_a_day_of_guessing_is_worth_some_sixteen_guesses() -> None:
    spent, guesses = timedelta(), 0
    while (spent := spent + pause(guesses)) < timedelta(days=1):
        guesses += 1

    assert 16 <= guesses <= 17


# --- recovery codes --------------------------------------------------------------------------------------------------


def test_recovery_codes_have_128_bits_of_the_random_source_each() -> None:
    codes = new_recovery_codes(counting(2**127 + 5))

    assert 10 == len(set(codes))
    assert [2**127 + 5 + at for at in range(10)] == [
        int.from_bytes(b32decode(code.replace("-", "").upper() + "=" * 6)) for code in codes
    ]
    assert {(5, 5, 5, 5, 6)} == {tuple(map(len, code.split("-"))) for code in codes}


@given(number=st.integers(0, 2**128 - 1))
def test_a_recovery_code_is_known_again_however_it_was_typed(number: int) -> None:
    code = new_recovery_codes(counting(number))[0] if number < 2**128 - 10 else new_recovery_codes(counting(1))[0]

    assert recovery_digest(code) is not None
    assert 1 == len({recovery_digest(code), recovery_digest(code.upper()), recovery_digest(code.replace("-", " "))})
    assert recovery_digest(code) != recovery_digest(code[:-1] + ("a" if code[-1] != "a" else "b"))


@pytest.mark.parametrize("typed", ["123456", "", "a" * 25, "a" * 27])
def test_what_has_another_length_is_no_recovery_code(typed: str) -> None:
    assert recovery_digest(typed) is None


# --- the ticket ------------------------------------------------------------------------------------------------------


def test_a_ticket_counts_for_its_person_password_and_secret_until_its_instant() -> None:
    until = NOW + timedelta(minutes=5)
    made = ticket(SECRET, "p1", HASH, until)
    other = b32encode(b"x" * 20).decode()

    assert is_ticket(made, SECRET, "p1", HASH, NOW)
    assert is_ticket(made, SECRET, "p1", HASH, until - timedelta(seconds=1))
    assert not is_ticket(made, SECRET, "p1", HASH, until)
    assert not is_ticket(made, SECRET, "p2", HASH, NOW)
    assert not is_ticket(made, SECRET, "p1", HASH + "x", NOW)
    assert not is_ticket(made, other, "p1", HASH, NOW)


def test_a_ticket_that_was_changed_is_none() -> None:
    made = ticket(SECRET, "p1", HASH, NOW + timedelta(minutes=5))
    kind, until, mac = made.split("_")
    longer = f"{kind}_{int(until, 16) + 60:012x}_{mac}"
    changed = made[:-1] + ("0" if made[-1] != "0" else "1")

    assert (3, 12, 40) == (len(kind), len(until), len(mac))
    assert [False] * 5 == [
        is_ticket(each, SECRET, "p1", HASH, NOW) for each in (longer, changed, made[:-1], "", "cpt_zz_00")
    ]
