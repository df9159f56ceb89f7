"""How reasons, findings and movements are put into words; no decision is made here."""

from collections.abc import Mapping
from datetime import date
from functools import lru_cache

from pool_api.domain.matching.notes import (
    CONTRARY,
    DIFFERENT,
    EQUAL,
    NAMED,
    NEITHER,
    OURS_ONLY,
    SIMILAR,
    THEIRS_ONLY,
    WEAK,
)
from pool_api.domain.matching.report import DifferenceKind, Movement, Part
from pool_api.domain.matching.sides import Shown
from pool_api.domain.record import MovementKind

_NOTES = {
    EQUAL: "the notes are equal",
    NAMED: "the notes name the same number",
    SIMILAR: "the notes are alike",
    WEAK: "the notes are a little alike",
    DIFFERENT: "the notes are different",
    CONTRARY: "the notes name different numbers",
    OURS_ONLY: "the vendor's note is empty",
    THEIRS_ONLY: "the journal's note is empty",
    NEITHER: "both notes are empty",
}


_ALWAYS_SAID = frozenset({"day", "accounts", "quantity", "note", "prior"})
_SAID = {
    "accounts": "giver and receiver",
    "quantity": "the quantity",
    "kind": "purchase against refund",
    "prior": "rows that fit are seldom missing on both sides",
    "reversed": "the entry was reversed since",
}


def reasons(bits: Mapping[str, int], note_level: int, days_apart: int) -> tuple[Part, ...]:
    """Give the parts of a pair's score, by name, that say anything, in their order; they add up to the score."""
    of_pair = {
        "day": days(days_apart),
        "note": _NOTES[note_level],
        "reference": "the references are equal" if bits["reference"] > 0 else "the references are different",
    }
    return tuple(
        [
            _part(name, millibits, of_pair.get(name) or _SAID[name])
            for name, millibits in bits.items()
            if millibits or name in _ALWAYS_SAID
        ]
    )


@lru_cache(maxsize=10_000)
def _part(name: str, millibits: int, says: str) -> Part:
    """Make a part; many pairs have the same ones."""
    return Part(name=name, millibits=millibits, says=says)


def days(apart: int) -> str:
    """Say how the vendor's day lies to the journal's."""
    if apart == 0:
        return "the same day"
    count = f"{abs(apart)} day" + ("s" if abs(apart) > 1 else "")
    return f"{count} {'later' if apart > 0 else 'earlier'} at the vendor"


def movement(kind: MovementKind, giver: str | None, receiver: str | None, quantity: int) -> str:
    """Say what moved."""
    amount = f"{quantity} credit" + ("s" if quantity > 1 else "")
    match kind:
        case MovementKind.TRANSFER:
            return f"{amount} from {giver} to {receiver}"
        case MovementKind.PURCHASE:
            return f"{amount} bought into {receiver}"
        case MovementKind.USE:
            return f"{amount} used by {giver}"
        case MovementKind.REFUND:
            return f"{amount} refunded to {receiver}"


def deviation(kind: DifferenceKind, movement_: Movement, shown: Shown, quantity: int) -> str:
    """Say how an entry and what the vendor shows differ."""
    ours = movement(movement_.kind, movement_.giver, movement_.receiver, quantity)
    theirs = movement(shown.kind, shown.giver, shown.receiver, shown.quantity)
    ending = {
        DifferenceKind.QUANTITY: "the quantities differ",
        DifferenceKind.COUNTERPARTY: "the accounts differ",
        DifferenceKind.DIRECTION: "the direction is reversed",
    }[kind]
    return f"Entry {movement_.entry} says {ours}, the vendor shows {theirs} on {shown.day}: {ending}."


def only_shown(said: str, day: date) -> str:
    """Say that the journal lacks a movement."""
    return f"The vendor shows {said} on {day}; the journal has no entry for it."


def shown_twice(said: str, day: date) -> str:
    """Say that the vendor shows a movement once more than the journal has it."""
    return f"The vendor shows {said} on {day} twice; the journal has one entry for it."


def one_record(said: str, day: date, lacking: str, *, in_journal: bool) -> str:
    """Say that the vendor's records of two accounts contradict each other."""
    journal = "so does the journal" if in_journal else "the journal has no entry for it"
    shown = f"One account's record shows {said} on {day}, and {journal}"
    return f"{shown}; the record of {lacking} covers that day without it."


def only_recorded(movement_: Movement, said: str, covering: list[str]) -> str:
    """Say that the vendor lacks a movement."""
    takes_back = f", taking back entry {movement_.reverses}" if movement_.reverses is not None else ""
    records = " and ".join(covering)
    plural = "s" if len(covering) > 1 else ""
    return (
        f"Entry {movement_.entry} says {said} on {movement_.day}{takes_back}; "
        f"the record{plural} of {records} cover{'' if plural else 's'} that day without it."
    )


def recorded_twice(movement_: Movement, said: str) -> str:
    """Say that the journal has a movement once more than the vendor shows it."""
    return f"Entry {movement_.entry} says {said} on {movement_.day} once more; the vendor shows it once."


def other_month(movement_: Movement, shown: Shown) -> str:
    """Say that a movement falls in one month here and in another there."""
    return f"Entry {movement_.entry} is dated {movement_.day}, the vendor shows it on {shown.day}, in another month."


def amount(movement_: Movement, shown: Shown) -> str:
    """Say that the journal has less than the vendor charged."""
    return (
        f"Entry {movement_.entry} books the purchase of {shown.quantity} credits at {movement_.amount}, "
        f"the vendor charged {shown.amount}."
    )
