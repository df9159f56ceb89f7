"""How imports, their rows, what they say of rows on file, and days without a file are shown on the wire."""

from typing import Any, Literal

from pydantic import Field

from pool_api.domain.record import SetAside, VendorRow
from pool_api.domain.revisions import Change, Says
from pool_api.intake.proposal import Proposal
from pool_api.intake.table import Table
from pool_api.rest.wire import Credits, Day, Digest, Instant, MemberCode, ShortText, WireModel, stated
from pool_api.services.coverage import Gap
from pool_api.services.vendor_files import Imported
from pool_api.store.vendor import Import

Json = dict[str, Any]
_SHOWN_ROWS = 10


class SetAsideShown(WireModel):
    """A row of the file that is not taken, with its line, the column if one is to blame, and why."""

    line: int = Field(ge=1)
    column: str | None = None
    reason: str
    cells: list[str]


class ImportShown(WireModel):
    """One file that was read."""

    import_id: str = Field(pattern="^[0-9]{8,}$")
    account: ShortText
    profile: ShortText
    file_digest: Digest
    imported_at: Instant
    imported_by: str
    first_day: Day | None = None
    last_day: Day | None = None
    rows_new: int = Field(ge=0)
    rows_known: int = Field(ge=0)
    rows_changed: int = Field(ge=0, description="Rows on file that it shows as other rows of their day.")
    rows_vanished: int = Field(ge=0, description="Rows on file that it doesn't show any more.")
    rows_back: int = Field(ge=0, description="Rows that an earlier file didn't show any more, and this one does.")
    set_aside: list[SetAsideShown]


class VendorRowShown(WireModel):
    """A row of the vendor's record; account is whose record it is."""

    identity: str
    account: ShortText
    day: Day
    kind: Literal["transfer", "purchase", "use", "refund"]
    giver: str | None = None
    receiver: str | None = None
    quantity: Credits
    note: str
    reference: str | None = None
    balance: int | None = None
    amount: str | None = None
    line: int = Field(ge=1)


class ChangeShown(WireModel):
    """What a file says of a row on file: gone, changed into a later row of its day, or back; fields names what is
    different."""

    says: Literal["gone", "changed", "back"]
    earlier: VendorRowShown
    later: VendorRowShown | None = None
    fields: list[str]


class ImportMade(ImportShown):
    """One file just read: besides, what it leaves out on purpose, the first of the rows on file that it says something
    of, and the import of which it is a copy that says nothing new."""

    skipped: list[SetAsideShown]
    changes: list[ChangeShown] = Field(max_length=200)
    repeats: str | None = Field(default=None, pattern="^[0-9]{8,}$")


class GapShown(WireModel):
    """Days, both ends included, on which an account was a member's and of which no file shows anything."""

    account: ShortText
    member: MemberCode
    first_day: Day
    last_day: Day
    days: int = Field(ge=1)


def show_import(made: Import) -> Json:
    """Give an import."""
    shown = {
        "import_id": made.import_id,
        "account": made.account,
        "profile": made.profile,
        "file_digest": made.file_digest,
        "imported_at": made.imported_at,
        "imported_by": made.imported_by,
        "first_day": None if made.first_day is None else made.first_day.isoformat(),
        "last_day": None if made.last_day is None else made.last_day.isoformat(),
        "rows_new": made.rows_new,
        "rows_known": made.rows_known,
        "rows_changed": made.said.get(Says.CHANGED, 0),
        "rows_vanished": made.said.get(Says.GONE, 0),
        "rows_back": made.said.get(Says.BACK, 0),
        "set_aside": [_set_aside(each) for each in made.set_aside],
    }
    return stated(shown)


def show_imported(made: Imported) -> Json:
    """Give an import just made."""
    return {
        **show_import(made.imported),
        "skipped": [_set_aside(each) for each in made.skipped],
        "changes": [show_change(each) for each in made.changes],
        **({"repeats": made.repeats} if made.repeats else {}),
    }


def show_change(each: Change) -> Json:
    """Give what a file says of a row on file."""
    return stated(
        {
            "says": each.says.value,
            "earlier": show_row(each.earlier),
            "later": None if each.later is None else show_row(each.later),
            "fields": list(each.fields),
        }
    )


def show_proposal(table: Table, guess: Proposal) -> Json:
    """Give a guess at a file's columns, with the first rows."""
    shown = {
        "profile": None if guess.profile is None else stated(guess.profile.as_json()),
        "columns": guess.columns,
        "doubts": list(guess.doubts),
        "form": table.form,
        "encoding": table.encoding,
        "separator": table.separator,
        "sheet": table.sheet,
        "other_sheets": list(table.other_sheets),
        "header": list(table.header),
        "rows": [list(row.cells) for row in table.rows[:_SHOWN_ROWS]],
        "skipped": [_set_aside(each) for each in table.skipped],
    }
    return stated(shown)


def _set_aside(each: SetAside) -> Json:
    return stated({"line": each.line, "column": each.column, "reason": each.reason, "cells": list(each.cells)})


def show_row(row: VendorRow) -> Json:
    """Give a row of the vendor's record."""
    return stated(
        {
            "identity": row.identity,
            "account": row.account,
            "day": row.day.isoformat(),
            "kind": row.kind.value,
            "giver": row.giver,
            "receiver": row.receiver,
            "quantity": row.quantity,
            "note": row.note,
            "reference": row.reference,
            "balance": row.balance,
            "amount": row.amount,
            "line": row.line,
        }
    )


def show_gap(each: Gap) -> Json:
    """Give days that no file shows."""
    return {
        "account": each.account,
        "member": each.member,
        "first_day": each.first.isoformat(),
        "last_day": each.last.isoformat(),
        "days": each.days,
    }
