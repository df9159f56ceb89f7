"""Forms as people fill them in: texts become plain values, and what doesn't fit is said beside its field.

A form carries an idempotency key that was made when it was shown. However often it is sent, what it says is recorded
once; after a refusal, or when something else is to be recorded, it is shown with another key.
"""

import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from hashlib import sha256
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

MOST_CREDITS = 1_000_000_000
MOST_NOTE = 2_000
MOST_ADDRESS = 4_000
"""Characters of a form in an address; proxies cut longer ones off, and such a form is shown in the answer to it."""

KEY = "form_key"
PROOF = "form_proof"
SEEN = "form_seen"
_NO_EFFECT = frozenset({KEY, PROOF, SEEN, "note", "step"})

_KEY = re.compile(r"[A-Za-z0-9_-]{8,64}")
_MONEY = re.compile(r"[0-9]{1,15}(\.[0-9]{1,4})?")
_CREDITS = re.compile(r"[0-9]{1,12}")
_IN_THREES = re.compile("[0-9]{1,3}(?:[, \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}][0-9]{3})+")
_CENTS_AFTER_COMMA = re.compile("[0-9]+,[0-9]{1,2}")


@dataclass(slots=True, kw_only=True)
class Form:
    """What stands in a form. problems are sentences by the names of fields, found while it is read."""

    texts: Mapping[str, str]
    key: str
    problems: dict[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        return self.texts.get(name, "").strip()

    @property
    def step(self) -> str:
        """What the button that was pressed asks for."""
        return self["step"]

    @property
    def seen(self) -> str:
        """A digest of what is filled in, but for the note, which changes nothing: an effect that was shown holds for
        nothing else."""
        told = sorted((name, text.strip()) for name, text in self.texts.items() if name not in _NO_EFFECT)
        return sha256(repr(told).encode()).hexdigest()[:32]

    @property
    def is_as_seen(self) -> bool:
        """Whether its effect was shown before."""
        return self[SEEN] == self.seen

    @property
    def is_to_record(self) -> bool:
        """Whether it is to be recorded, and its effect was shown before."""
        return self.step == "record" and self.is_as_seen

    @property
    def asking(self) -> dict[str, str]:
        """Its texts as an address has them that asks for their effect, with its key, so that going back leads to it."""
        return {**{name: text for name, text in self.texts.items() if name not in {PROOF, SEEN}}, "step": "effect"}

    def text(self, name: str, *, needed: bool = True, most: int = 200) -> str:
        """Read a text."""
        text = self[name]
        if needed and not text:
            self.problems[name] = "This is needed."
        elif len(text) > most:
            self.problems[name] = f"At most {most:,} characters."
        return text

    def quantity(self, name: str, *, needed: bool = True, least: int = 1) -> int | None:
        """Read whole credits, with something between thousands or nothing."""
        text = _joined(self[name])
        if not text and not needed:
            return None
        if not _CREDITS.fullmatch(text) or not least <= int(text) <= MOST_CREDITS:
            self.problems[name] = f"A whole number of credits, from {least}."
            return None
        return int(text)

    def money(self, name: str, *, needed: bool = True) -> Decimal | None:
        """Read an amount that isn't below 0. Its cents stand behind a point, or one or two of them behind a comma; what
        could be thousands or a fraction, such as 1,234, is refused."""
        text = self[name]
        whole, point, cents = text.partition(".")
        if point or "," not in text:
            text = _joined(whole) + point + cents
        elif _CENTS_AFTER_COMMA.fullmatch(text):
            text = text.replace(",", ".")
        if not text and not needed:
            return None
        if not _MONEY.fullmatch(text):
            self.problems[name] = "An amount such as 1234.50, with a point before the cents."
            return None
        return Decimal(text)

    def day(self, name: str) -> date | None:
        """Read a day, if there is one."""
        text = self[name]
        if not text:
            return None
        try:
            return date.fromisoformat(text)
        except ValueError:
            self.problems[name] = "A day, written as 2026-11-30."
            return None

    def instant(self, name: str, zone: str) -> datetime | None:
        """Read an instant on the clocks of a time zone."""
        text = self[name]
        try:
            return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))
        except ValueError:
            self.problems[name] = "A day and a time, written as 2026-11-30T17:30." if text else "This is needed."
            return None

    def chosen(self, name: str, among: Collection[str]) -> str:
        """Read one of some choices."""
        text = self[name]
        if text not in among:
            self.problems[name] = "Choose one." if not text else f"{text[:40]} is not one of the choices."
        return text

    def ticked(self, name: str) -> bool:
        """Read a box."""
        return self[name] == "yes"


def texts_of(fields: Iterable[tuple[str, object]]) -> dict[str, str]:
    """Give the texts of a form's fields by name, the last of a name; files are no texts."""
    return {name: value.replace("\r\n", "\n") for name, value in fields if isinstance(value, str)}


def fits_address(texts: Mapping[str, str]) -> bool:
    """Tell whether an address can carry texts."""
    return len(urlencode(texts)) < MOST_ADDRESS


def _joined(text: str) -> str:
    """Give a whole number without what stands between its thousands."""
    return re.sub("[^0-9]", "", text) if _IN_THREES.fullmatch(text) else text


def is_key(text: str) -> bool:
    """Tell whether something has the form of an idempotency key."""
    return _KEY.fullmatch(text) is not None
