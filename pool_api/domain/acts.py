"""What people did about a month's reconciliation: matches confirmed or taken back, differences handed to a member and
answered by it.

An act is a fact like an entry: it is only ever added. What stands is the fold of the acts, in order; decisions on
differences and sign-offs, which are entries, are kept elsewhere.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from pool_api.domain.entries import Json, digest
from pool_api.domain.matching import Pin


class ActKind(StrEnum):
    """What was done. The first three are about a match, whose subject is pin_name; the others about a difference."""

    CONFIRMED = "confirmed"
    SIGNED = "signed"
    TAKEN_BACK = "taken_back"
    HANDED = "handed"
    ANSWERED = "answered"


OF_MATCHES = (ActKind.CONFIRMED, ActKind.SIGNED, ActKind.TAKEN_BACK)
OF_DIFFERENCES = (ActKind.HANDED, ActKind.ANSWERED)


class Answer(StrEnum):
    """What a member says of a difference that it was handed: record what would mend it, the vendor is mistaken, or
    something else, in words."""

    MEND = "mend"
    VENDOR_MISTAKEN = "vendor_mistaken"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One act; word is what was said with it. month is that of the match or difference; numbers are gapless per pool.

    content says of matches their entries and rows, and the first and last of their days (of those that a sign-off
    keeps, its digest, too); of a handing the member (None: back to the keeper); of an answer the member, the answer and
    the fields of its mend."""

    number: int
    month: str
    kind: ActKind
    subject: str
    content: Json
    word: str
    made_by: str
    made_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A match that stands by a person's word, by which act, and the days that it reaches over."""

    pin: Pin
    act: Act

    @property
    def first(self) -> date:
        """The first day of its entries and rows."""
        return date.fromisoformat(self.act.content["first"])

    @property
    def last(self) -> date:
        """The last day of its entries and rows."""
        return date.fromisoformat(self.act.content["last"])


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """A difference in a member's hands: by which act, what the member has answered since, and all that went before."""

    member: str
    act: Act
    answer: Act | None
    acts: tuple[Act, ...]


@dataclass(slots=True, kw_only=True)
class Standing:
    """What acts come to: matches kept, by pin_name, and differences handed to members, by key; trails gives all acts
    about each difference that was ever handed, in order."""

    kept: dict[str, Kept] = field(default_factory=dict)
    handed: dict[str, Handed] = field(default_factory=dict)
    trails: dict[str, tuple[Act, ...]] = field(default_factory=dict)


def pin_name(entries: Iterable[int], rows: Iterable[str]) -> str:
    """Give the name of a match that is kept: it is the same for the same entries and rows."""
    return digest([sorted(entries), sorted(rows)])


def standing(acts: Iterable[Act], signed: Collection[tuple[str, str]]) -> Standing:
    """Fold acts, given in order.

    Takes: signed — month and digest of every sign-off that is recorded; what was kept for one that never was doesn't
    count."""
    found = Standing()
    for act in acts:
        match act.kind:
            case ActKind.TAKEN_BACK:
                found.kept.pop(act.subject, None)
            case ActKind.CONFIRMED | ActKind.SIGNED:
                if act.kind is ActKind.CONFIRMED or (act.month, act.content["digest"]) in signed:
                    entries, rows = tuple(act.content["entries"]), tuple(act.content["rows"])
                    found.kept[act.subject] = Kept(pin=Pin(entries=entries, rows=rows), act=act)
            case ActKind.HANDED | ActKind.ANSWERED:
                _hand(found, act)
    return found


def carried_on(kept: Iterable[Kept], instead: Mapping[str, str]) -> dict[str, Kept]:
    """Give kept matches, by pin_name, with the rows that count in place of theirs and move the same."""
    found: dict[str, Kept] = {}
    for each in kept:
        pin = replace(each.pin, rows=tuple(instead.get(row, row) for row in each.pin.rows))
        found[pin_name(pin.entries, pin.rows)] = replace(each, pin=pin)
    return found


def _hand(found: Standing, act: Act) -> None:
    trail = found.trails[act.subject] = (*found.trails.get(act.subject, ()), act)
    before = found.handed.pop(act.subject, None)
    if act.kind is ActKind.HANDED:
        if act.content["member"] is not None:
            found.handed[act.subject] = Handed(member=act.content["member"], act=act, answer=None, acts=trail)
    elif before is not None:
        found.handed[act.subject] = Handed(member=before.member, act=before.act, answer=act, acts=trail)
