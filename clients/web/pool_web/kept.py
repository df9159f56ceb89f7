"""What somebody filled in, kept where it couldn't be taken: by the page that says why, or through signing in again.

The pages remember nothing about anybody, so the page itself carries it, as fields of a form that sends it again under
the same key: however often that is pressed, it is recorded once. Passwords and chosen files are never kept; the form
that they are missing from asks for them.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from starlette.requests import Request

from pool_web.forms import KEY, PROOF

KEPT = "form_kept"
_MOST_KEPT = 1_000_000
"""Characters; a field of a form takes a mebibyte."""
_SECRET = frozenset({"again", "current", "new", "password", "recovery", "token"})
_UNSEEN = frozenset({"difference", "digest", "match", "seen", "step", "tag"})
_WORDS = {"on": "day"}
_MOST_SHOWN = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A form as it was filled in. action is the address that it was sent to; texts are its fields but for its proof,
    which each page makes anew."""

    action: str
    texts: dict[str, str]

    @property
    def says(self) -> list[tuple[str, str]]:
        """What people filled in, by the words for its fields."""
        return [
            (_WORDS.get(name, name.replace("_", " ")), text if len(text) <= _MOST_SHOWN else f"{text[:_MOST_SHOWN]} …")
            for name, text in self.texts.items()
            if text and name not in _UNSEEN and not name.startswith(("form_", "file_"))
        ]

    @property
    def is_recorded_once(self) -> bool:
        """Whether it has a key, under which it is done once."""
        return bool(self.texts.get(KEY))

    @property
    def packed(self) -> str:
        """All of it as one text; nothing where that is too long for a field."""
        text = json.dumps([self.action, self.texts])
        return text if len(text) <= _MOST_KEPT else ""


def keep(request: Request, texts: Mapping[str, str]) -> Kept:
    """Keep what was sent."""
    left_out = {PROOF, *_SECRET}
    return Kept(action=address_of(request), texts={name: text for name, text in texts.items() if name not in left_out})


def unpacked(text: str) -> Kept | None:
    """Give what was kept as one text, None for what is none, or would be sent elsewhere than to a book."""
    try:
        action, texts = json.loads(text)
        told = {str(name): str(each) for name, each in texts.items()}
    except (AttributeError, TypeError, ValueError):
        return None
    return Kept(action=action, texts=told) if is_in_a_book(action) else None


def is_in_a_book(address: object) -> bool:
    """Tell whether an address is one of a book's pages here."""
    return isinstance(address, str) and address.startswith("/book/")


def address_of(request: Request) -> str:
    """Give the address that was asked for, on this site."""
    url = request.url
    return f"{url.path}?{url.query}" if url.query else url.path
