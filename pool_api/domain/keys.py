"""What the service's own secrets look like: how one is made, told apart from other text, and remembered without being
kept.

There are three kinds: the API key of a program, the token of a person's session, and the token of an invitation. Each
is the prefix of its kind, `_`, a public part that names it in lists and logs, `_`, and a secret of 160 random bits.
Only the SHA-256 of the whole text is ever stored: with that many random bits a plain hash can't be searched. No roles
here, and no passwords: those have few bits and are hashed otherwise (services/passwords.py).
"""

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What a secret is for, by its prefix."""

    KEY = "cp"
    SESSION = "cps"
    INVITATION = "cpi"


_FORM = re.compile(r"(cp|cps|cpi)_[0-9a-f]{12}_[0-9a-f]{40}")

_PUBLIC_BYTES = 6
_SECRET_BYTES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A secret just made. text is shown once and forgotten; public and digest are what is stored."""

    text: str
    public: str
    digest: str


def issue(kind: Kind, random_hex: Callable[[int], str]) -> Issued:
    """Make a secret.

    Takes:   random_hex — gives that many bytes of a cryptographic random source as hexadecimal text."""
    public = random_hex(_PUBLIC_BYTES)
    text = f"{kind}_{public}_{random_hex(_SECRET_BYTES)}"
    return Issued(text=text, public=public, digest=key_digest(text))


def key_digest(text: str) -> str:
    """Give what a secret is remembered by: its SHA-256, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def kind_of(text: str) -> Kind | None:
    """Tell what kind of secret a text has the form of, None for any other text; that isn't worth looking up."""
    found = _FORM.fullmatch(text)
    return Kind(found[1]) if found else None
