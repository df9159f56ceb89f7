"""What a column profile is: which column of a vendor's export says what, and in which style; and its form as JSON.

A profile fits one layout of three, by how a row says where credits went:
    giver and receiver        two columns of accounts; the quantity may be unsigned
    incoming and outgoing     two columns of quantities, of which a row fills one
    quantity alone            its sign says it, or, where `signed` is false, the word of the kind
The last two take the other account from the counterparty's column. A vendor may give its history in one file or in
several, each with rows of one type; a profile is for one type of record. This file doesn't look at any table.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from enum import StrEnum
from typing import Any

from pool_api.domain.errors import ProfileUnfit
from pool_api.domain.record import MovementKind
from pool_api.intake.cells import DECIMALS, THOUSANDS
from pool_api.intake.days import DayStyle, is_zone
from pool_api.intake.encoding import CODE_PAGES


class Meaning(StrEnum):
    """What a vendor's word for a kind of row means: a kind of movement, a transfer whose direction the word says, or
    nothing that moves credits."""

    TRANSFER = "transfer"
    SENT = "sent"
    RECEIVED = "received"
    PURCHASE = "purchase"
    USE = "use"
    REFUND = "refund"
    IGNORED = "ignored"


class RecordType(StrEnum):
    """What a file shows of an account: all of its movements, or those of one type alone."""

    HISTORY = "history"
    TRANSFERS = "transfers"
    PURCHASES = "purchases"
    USES = "uses"

    @property
    def kinds(self) -> frozenset[MovementKind]:
        """The kinds of movement that a record of the type shows without gaps."""
        return _SHOWN[self]

    @property
    def one_way(self) -> bool:
        """Whether its rows bring credits, or take them, without a sign that says so."""
        return self in {RecordType.PURCHASES, RecordType.USES}

    @property
    def meaning(self) -> Meaning | None:
        """What its rows mean where no column says it, None where that is to be seen from each row."""
        return _MEANT.get(self)


_SHOWN = {
    RecordType.HISTORY: frozenset(MovementKind),
    RecordType.TRANSFERS: frozenset({MovementKind.TRANSFER}),
    RecordType.PURCHASES: frozenset({MovementKind.PURCHASE}),
    RecordType.USES: frozenset({MovementKind.USE, MovementKind.REFUND}),
}
_MEANT = {
    RecordType.TRANSFERS: Meaning.TRANSFER,
    RecordType.PURCHASES: Meaning.PURCHASE,
    RecordType.USES: Meaning.USE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Which column, by its header word, says what; None where the vendor has no such column.

    kind_words maps the vendor's words, compared without regard to case, to meanings. Without a kind column a row with
    two accounts is a transfer, one that takes credits from the account a use, one that brings some a purchase; or all
    are of the record's one type. encoding is the code page of text that isn't UTF-8 or UTF-16, None for the likeliest;
    zone is the vendor's, by its name in the IANA database, for instants that state their offset from UTC."""

    name: str
    record: RecordType = RecordType.HISTORY
    day: str
    kind: str | None = None
    giver: str | None = None
    receiver: str | None = None
    counterparty: str | None = None
    quantity: str | None = None
    incoming: str | None = None
    outgoing: str | None = None
    note: str | None = None
    reference: str | None = None
    balance: str | None = None
    amount: str | None = None
    kind_words: Mapping[str, Meaning] = field(default_factory=dict)
    day_style: DayStyle = DayStyle.ISO
    decimal: str = "."
    thousands: str = ""
    signed: bool = True
    encoding: str | None = None
    zone: str | None = None

    def __post_init__(self) -> None:
        reason = self._flaw()
        if reason:
            raise ProfileUnfit(reason=reason)

    @property
    def columns(self) -> dict[str, str]:
        """The columns that are named, by role, in the order of the fields."""
        return {role: getattr(self, role) for role in ROLES if getattr(self, role) is not None}

    def as_json(self) -> dict[str, Any]:
        """Give the profile as a JSON object, every field stated: Profile.from_json(p.as_json()) == p."""
        return asdict(self) | {
            "kind_words": {word: str(meaning) for word, meaning in sorted(self.kind_words.items())},
            "day_style": str(self.day_style),
            "record": str(self.record),
        }

    @classmethod
    def from_json(cls, given: Mapping[str, Any]) -> "Profile":
        """Read a profile. Refuses: ProfileUnfit for unknown fields, wrong types, and what no file could be read by."""
        unknown = sorted(set(given) - {each.name for each in fields(cls)})
        if unknown:
            raise ProfileUnfit(reason=f"it has unknown fields: {', '.join(unknown)}")
        for name in ("name", "day"):
            if not isinstance(given.get(name), str):
                raise ProfileUnfit(reason=f"its field {name} must be a text")
        words = given.get("kind_words", {})
        if not isinstance(words, Mapping):
            raise ProfileUnfit(reason="its kind_words must map words to meanings")
        try:
            styled = {
                "kind_words": {str(word): Meaning(meaning) for word, meaning in words.items()},
                "day_style": DayStyle(given.get("day_style", DayStyle.ISO)),
                "record": RecordType(given.get("record", RecordType.HISTORY)),
            }
        except ValueError as wrong:
            raise ProfileUnfit(reason=str(wrong)) from None
        return cls(**{**given, **styled})

    def _flaw(self) -> str | None:
        """Say why no file could be read by the profile, None when one could."""
        for role in ROLES:
            column = getattr(self, role)
            if column is not None and (not isinstance(column, str) or not column):
                return f"its {role} must be the word of a column"
        if len(set(self.columns.values())) < len(self.columns):
            return "one column is named for two things"
        if self.decimal not in DECIMALS or self.thousands not in THOUSANDS or self.decimal == self.thousands:
            return "its signs for decimals and thousands are unknown or the same"
        if not isinstance(self.signed, bool):
            return "its field signed must be true or false"
        if self.kind is not None and not self.kind_words:
            return "it names a column for the kind, but says of no word what it means"
        if self.encoding is not None and self.encoding not in CODE_PAGES:
            return "its encoding is none of the code pages that are read"
        if self.zone is not None and not is_zone(self.zone):
            return "its zone is not in the database of time zones"
        return self._layout_flaw()

    def _layout_flaw(self) -> str | None:
        for one, other in (("giver", "receiver"), ("incoming", "outgoing")):
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                return f"it needs both or none of {one} and {other}"
        if self.giver is not None and (self.counterparty is not None or self.incoming is not None):
            return "giver and receiver leave no room for counterparty, incoming or outgoing"
        if (self.quantity is None) == (self.incoming is None):
            return "it needs either a quantity or incoming and outgoing"
        if (
            not self.signed
            and self.giver is None
            and self.incoming is None
            and self.kind is None
            and not self.record.one_way
        ):
            return "unsigned quantities need a kind, or giver and receiver, to say where credits went"
        return None


ROLES = (
    "day",
    "kind",
    "giver",
    "receiver",
    "counterparty",
    "quantity",
    "incoming",
    "outgoing",
    "note",
    "reference",
    "balance",
    "amount",
)
"""What a column can be, in the order of the profile's fields."""
