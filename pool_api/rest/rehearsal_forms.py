"""What would become of commands, as it is shown on the wire: entries without numbers and hashes, since others may come
first, and the credits that would change, before and after."""

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import Field

from pool_api.domain.entries import Entry
from pool_api.domain.values import Currency
from pool_api.rest.entry_forms import show_body
from pool_api.rest.wire import CreditCount, Day, EntryNumber, MemberCode, Note, Reference, WireModel
from pool_api.store.rehearsal import Rehearsed

MOST_SHOWN = 10_000

Place = TypeVar("Place")


class EntryRehearsed(WireModel):
    """What a command would become; it has a number where it is recorded already, under its reference."""

    number: EntryNumber | None = None
    kind: str = Field(max_length=20)
    effective_on: Day
    note: Note
    reference: Reference | None = None
    body: dict[str, Any] = Field(description="As an entry's.")


class StockChange(WireModel):
    """Credits in stock, before and after."""

    before: CreditCount
    after: CreditCount


class HeldChange(StockChange):
    """Credits that a member holds, before and after."""

    member: MemberCode


class OpenChange(StockChange):
    """Credits that a borrower has to make good to a lender, before and after."""

    lender: MemberCode
    borrower: MemberCode


class BatchRehearsed(WireModel):
    """What would become of commands; only what would change is listed, by code."""

    rests_on: int = Field(ge=0, description="The number of the last entry that was looked at.")
    entries: list[EntryRehearsed] = Field(max_length=MOST_SHOWN)
    stock: StockChange
    held: list[HeldChange] = Field(max_length=MOST_SHOWN)
    open_loans: list[OpenChange] = Field(max_length=MOST_SHOWN)


def show_rehearsed(found: Rehearsed, currency: Currency) -> dict[str, Any]:
    """Give what was rehearsed as it is shown."""
    before, after = found.before, found.after
    return {
        "rests_on": before.number,
        "entries": [_entry(each, before.number, currency) for each in found.entries],
        "stock": {"before": before.stock, "after": after.stock},
        "held": [
            {"member": member, "before": was, "after": will} for member, was, will in _changes(before.held, after.held)
        ],
        "open_loans": [
            {"lender": lender, "borrower": borrower, "before": was, "after": will}
            for (lender, borrower), was, will in _changes(before.open, after.open)
        ],
    }


def _entry(entry: Entry, last: int, currency: Currency) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "kind": entry.kind,
        "effective_on": entry.effective_on.isoformat(),
        "note": entry.note,
        "body": show_body(entry.body, currency),
    }
    if entry.reference is not None:
        shown["reference"] = entry.reference
    if entry.number <= last:
        shown["number"] = entry.number
    return shown


def _changes(before: Mapping[Place, int], after: Mapping[Place, int]) -> list[tuple[Place, int, int]]:
    """Give the places whose credits differ, in order, with what is there before and after."""
    places: list[Any] = sorted({*before, *after})
    both = [(place, before.get(place, 0), after.get(place, 0)) for place in places]
    return [each for each in both if each[1] != each[2]]
