"""People who sign in: when two names are one, what a password must be, and how long a session lasts.

What a person may do is said by its membership in a pool (access.py). No hashing here and no clock.

Source: NIST SP 800-63B, 5.1.1.2 (revision 3; 3.1.1.2 of revision 4): at least 8 characters, each code point counted as
        one, none cut off, no rules of composition, common ones and names of the context refused; RFC 8265, 4.2.2, for
        the normal form of a password (NFC), which never makes two different passwords one.
"""

import unicodedata
from collections.abc import Collection, Container
from dataclasses import dataclass
from datetime import datetime, timedelta

from pool_api.domain.errors import PasswordUnfit

LEAST_CHARACTERS = 8
ADVISED_CHARACTERS = 15
MOST_CHARACTERS = 128
LEAST_MEMORY_KIB = 19_456
LEAST_ROUNDS = 2
"""What hashing a password costs at least by Argon2id with one lane: OWASP's cheat sheet on password storage, and ASVS
5.0, appendix C."""
INVITATION_LASTS = timedelta(hours=72)

_SHORTEST_NAME = 4
"""Shorter names stand in many words by chance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionRules:
    """How long a session lasts unused and at the most, and how long after the password it may do what asks for it."""

    idle: timedelta = timedelta(minutes=30)
    longest: timedelta = timedelta(hours=12)
    fresh: timedelta = timedelta(minutes=15)


def sign_in_name(name: str) -> str:
    """Give what is the same for names that people take for one: case, width of letters and runs of blanks apart."""
    return " ".join(unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold()).split())


def normal_password(password: str) -> str:
    """Give a password as it is hashed: the same however a keyboard puts its letters together."""
    return unicodedata.normalize("NFC", password)


def check_password(password: str, common: Container[str], names: Collection[str]) -> None:
    """Let a new password pass, or refuse it.

    Takes:   common — passwords that many people have, in small letters; names — of the person and its pools.
    Refuses: PasswordUnfit when it is shorter than 8 characters, is common, or is hardly more than one of the names."""
    normal = normal_password(password)
    if len(normal) < LEAST_CHARACTERS:
        raise PasswordUnfit(reason=f"it has fewer than {LEAST_CHARACTERS} characters")
    folded = sign_in_name(normal)
    if folded in common or len(set(folded)) == 1:
        raise PasswordUnfit(reason="many people have it, so it would be tried first")
    joined = folded.replace(" ", "")
    for name in (sign_in_name(each).replace(" ", "") for each in names):
        rest = joined.replace(name, "") if len(name) >= _SHORTEST_NAME else joined
        if joined == name or (rest != joined and len(rest) < LEAST_CHARACTERS):
            raise PasswordUnfit(reason="it is hardly more than a name that others know here")


def is_live(rules: SessionRules, now: datetime, *, last_used_at: datetime, expires_at: datetime) -> bool:
    """Tell whether a session still lasts: neither unused for too long nor older than any may be."""
    return now < expires_at and now < last_used_at + rules.idle
