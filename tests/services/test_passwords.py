"""How passwords are hashed: at least what OWASP asks for, each with a salt of its own, renewed when parameters grow."""

from argon2 import extract_parameters
from argon2.low_level import Type

from pool_api.domain.people import LEAST_MEMORY_KIB, LEAST_ROUNDS
from pool_api.services.passwords import Passwords, common_passwords
from pool_api.settings import Settings

WORDS = "four words in a row"
CHEAP = Passwords(memory_kib=8, rounds=1)


def test_without_settings_a_hash_costs_what_owasp_asks_for() -> None:
    """OWASP, Password Storage Cheat Sheet, and ASVS 5.0, appendix C: m=19456 KiB, t=2, p=1."""
    settings = Settings()
    hashed = Passwords(memory_kib=settings.password_memory_kib, rounds=settings.password_rounds).hash(WORDS)
    found = extract_parameters(hashed)

    assert (19_456, 2) == (LEAST_MEMORY_KIB, LEAST_ROUNDS)
    assert (Type.ID, 19_456, 2, 1) == (found.type, found.memory_cost, found.time_cost, found.parallelism)
    assert (16, 32) == (found.salt_len, found.hash_len)
    assert Passwords().holds(WORDS, hashed)


def test_a_password_is_held_by_its_own_hash_and_by_no_other() -> None:
    hashed = CHEAP.hash(WORDS)

    assert CHEAP.holds(WORDS, hashed)
    assert not CHEAP.holds(WORDS + " ", hashed)
    assert not CHEAP.holds(WORDS[:-1], hashed)
    assert not CHEAP.holds("", hashed)
    assert not CHEAP.holds(WORDS, CHEAP.hash("other words"))
    assert WORDS not in hashed


def test_nothing_is_cut_off() -> None:
    long = "ab" * 64

    assert not CHEAP.holds(long[:-1] + "c", CHEAP.hash(long))


def test_letters_may_be_put_together_in_any_way() -> None:
    assert CHEAP.holds("A\u030angstro\u0308m", CHEAP.hash("\u00c5ngstr\u00f6m"))


def test_each_hash_has_a_salt_of_its_own() -> None:
    assert CHEAP.hash(WORDS) != CHEAP.hash(WORDS)


def test_nobody_has_no_password() -> None:
    assert not CHEAP.holds("", None)
    assert not CHEAP.holds(WORDS, None)


def test_what_is_looked_at_for_nobody_costs_as_much() -> None:
    costly = Passwords(memory_kib=64, rounds=3)
    found, usual = extract_parameters(costly._of_nobody), extract_parameters(costly.hash(WORDS))

    assert found == usual


def test_for_nobody_something_is_compared_all_the_same() -> None:
    passwords, compared = Passwords(memory_kib=8, rounds=1), []

    class Counting:
        hash = CHEAP._hasher.hash

        def verify(self, stored: str, password: str) -> bool:
            compared.append(stored)
            return CHEAP._hasher.verify(stored, password)

    passwords._hasher = Counting()  # type: ignore[assignment]

    assert not passwords.holds(WORDS, None)
    assert [passwords._of_nobody] == compared


def test_a_hash_by_weaker_parameters_is_known() -> None:
    grown = Passwords(memory_kib=16, rounds=1)

    assert grown.is_weak(CHEAP.hash(WORDS))
    assert not grown.is_weak(grown.hash(WORDS))
    assert grown.holds(WORDS, CHEAP.hash(WORDS))


def test_the_passwords_that_most_people_have_are_listed() -> None:
    """The most frequent with eight characters or more, as every published list of leaked passwords has them (from
    memory)."""
    assert {"password", "12345678", "123456789", "qwertyuiop", "iloveyou", "sunshine", "football"} <= common_passwords()
    assert 11_000 < len(common_passwords())
    assert not [each for each in common_passwords() if each != each.casefold()]
