"""What people do about reconciliations as it is read: acts, what all of a kind come to, differences in one's hands."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any


class Answer(StrEnum):
    """What a member says of a difference in its hands."""

    MEND = "mend"
    VENDOR_MISTAKEN = "vendor_mistaken"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Something that was done. Of a match: it was confirmed, signed or taken back, under the name subject, with its
    entries and rows. Of a difference, whose key is subject: it was handed to a member (None: back to the keeper) or
    answered, with the fields of a mend. word was said with it."""

    number: int
    month: str
    act: str
    subject: str
    word: str
    made_by: str
    made_at: datetime
    entries: tuple[int, ...] | None = None
    rows: tuple[str, ...] | None = None
    member: str | None = None
    answer: Answer | None = None
    fields: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToRecord:
    """What is recorded to mend a difference; body is as the kind says, as plain JSON."""

    kind: str
    effective_on: date
    note: str
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a difference can't be mended like this."""

    code: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Dealt:
    """What becomes of one difference; entries are their numbers once they are recorded."""

    difference: str
    sentence: str
    records: tuple[ToRecord, ...]
    entries: tuple[int, ...]
    refusal: Refusal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DealtWith:
    """What becomes of the undecided differences of a kind; left is how many there are beyond those."""

    month: str
    kind: str
    verdict: str
    differences: tuple[Dealt, ...]
    left: int
