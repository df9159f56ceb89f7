"""Passwords: how they are hashed and compared, and which ones many people have.

Hashing takes tens of milliseconds and megabytes on purpose; whoever calls this bounds how many run at one time. Where
there is no hash to compare with, one is compared with all the same, so that it takes as long. What a password must be
is said by domain/people.py.

Source: RFC 9106 (Argon2id), by the package argon2-cffi. The list of common passwords is that of the package zxcvbn.
"""

from functools import cache, cached_property

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError

from pool_api.domain.people import (
    LEAST_CHARACTERS,
    LEAST_MEMORY_KIB,
    LEAST_ROUNDS,
    normal_password,
    sign_in_name,
)


class Passwords:
    """Hashes and compares by one set of parameters. Hashes say by which they were made, so these can grow."""

    def __init__(self, *, memory_kib: int = LEAST_MEMORY_KIB, rounds: int = LEAST_ROUNDS) -> None:
        self._hasher = PasswordHasher(time_cost=rounds, memory_cost=memory_kib, parallelism=1)

    @cached_property
    def _of_nobody(self) -> str:
        return self._hasher.hash("")

    def get_ready(self) -> None:
        """Hash what is compared for nobody, so that the first of them is told no sooner and no later than others."""
        self.holds("", None)

    def hash(self, password: str) -> str:
        """Give the hash to store, with a salt of its own."""
        return self._hasher.hash(normal_password(password))

    def holds(self, password: str, stored: str | None) -> bool:
        """Tell whether a password is the one of a hash; it never is where there is none, which takes as long to say."""
        try:
            self._hasher.verify(stored or self._of_nobody, normal_password(password))
        except VerifyMismatchError:
            return False
        return stored is not None

    def is_weak(self, stored: str) -> bool:
        """Tell whether a hash was made by other parameters than these."""
        return self._hasher.check_needs_rehash(stored)


@cache
def common_passwords() -> frozenset[str]:
    """Give the passwords that many people have and that are long enough to be thought of, in small letters."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS  # noqa: PLC0415 - a list of a megabyte, for the first new password

    listed: list[str] = FREQUENCY_LISTS["passwords"]
    return frozenset(sign_in_name(each) for each in listed if len(each) >= LEAST_CHARACTERS)
