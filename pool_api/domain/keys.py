"""What an API key looks like: how one is made, told apart from other text, and remembered without being kept.

A key is `cp_`, a public part that names it in lists and logs, `_`, and a secret part of 160 random bits. Only the
SHA-256 of the whole text is ever stored: with that many random bits a plain hash can't be searched. No roles here.
"""

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass

KEY = re.compile(r"cp_([0-9a-f]{12})_[0-9a-f]{40}")

_PUBLIC_BYTES = 6
_SECRET_BYTES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class IssuedKey:
    """A key just made. text is shown once and forgotten; key_id and digest are what is stored."""

    text: str
    key_id: str
    digest: str


def issue_key(random_hex: Callable[[int], str]) -> IssuedKey:
    """Make a key.

    Takes:   random_hex — gives that many bytes of a cryptographic random source as hexadecimal text."""
    key_id = random_hex(_PUBLIC_BYTES)
    text = f"cp_{key_id}_{random_hex(_SECRET_BYTES)}"
    return IssuedKey(text=text, key_id=key_id, digest=key_digest(text))


def key_digest(text: str) -> str:
    """Give what a key is remembered by: its SHA-256, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def looks_like_key(text: str) -> bool:
    """Tell whether a text has the form of a key; nothing else is worth looking up."""
    return KEY.fullmatch(text) is not None
