"""How the vendor's record, and its comparison with the journal, are shown on the wire."""

from typing import Any, Literal

from pydantic import Field

from pool_api.domain.acts import Handed, Kept
from pool_api.domain.matching import AccountProof, Difference, Match, Sums
from pool_api.domain.record import SetAside, VendorRow
from pool_api.intake.proposal import Proposal
from pool_api.intake.table import Table
from pool_api.rest.act_forms import (
    ActShown,
    DecisionShown,
    DifferenceKey,
    SignOffShown,
    show_act,
    show_decision,
    show_handed,
    show_kept,
    show_sign_off,
)
from pool_api.rest.wire import (
    CreditChange,
    CreditCount,
    Credits,
    Day,
    Digest,
    EntryNumber,
    Instant,
    MemberCode,
    MonthText,
    ShortText,
    WireModel,
    stated,
)
from pool_api.services.mends import Said, offered
from pool_api.services.reconciling import Reconciliation
from pool_api.services.vendor_files import Imported
from pool_api.store.vendor import Decision, Import

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


class ImportMade(ImportShown):
    """One file just read: besides, what it leaves out on purpose, and rows on file that it no longer shows."""

    skipped: list[SetAsideShown]
    vanished: list[VendorRowShown]


class ScorePart(WireModel):
    """One reason for or against a match, in thousandths of a bit."""

    name: str
    millibits: int
    says: str


class MatchShown(WireModel):
    """Entries and rows that are one movement, and why; kept is the act by which they are so whatever else comes."""

    key: str
    status: Literal["matched", "suggested"]
    entries: list[EntryNumber]
    rows: list[str]
    day: Day
    giver: str | None = None
    receiver: str | None = None
    quantity: Credits
    days_apart: int
    score: int
    parts: list[ScorePart]
    kept: ActShown | None = None


class MendShown(WireModel):
    """What could be recorded so that a difference is gone; fields may be changed when accepting, and what asks names
    has to be added."""

    kind: str
    fields: dict[str, Any]
    asks: list[str]


class DifferenceShown(WireModel):
    """Something that journal and record don't agree on; of one that is in a member's hands, handed tells all acts."""

    key: DifferenceKey
    kind: str
    entries: list[EntryNumber]
    rows: list[str]
    day: Day
    giver: str | None = None
    receiver: str | None = None
    quantity: Credits
    sentence: str
    mend: MendShown | None = None
    decision: DecisionShown | None = None
    handed: list[ActShown] | None = None


class SumsShown(WireModel):
    """opening + bought + came_in - went_out - used + refunded = closing; no opening, no closing."""

    opening: CreditChange | None = None
    bought: CreditCount
    came_in: CreditCount
    went_out: CreditCount
    used: CreditCount
    refunded: CreditCount
    closing: CreditChange | None = None


class PartingShown(WireModel):
    """Where journal and record part for the first time, with both balances at the end of that day."""

    day: Day
    journal_balance: CreditChange
    record_balance: CreditChange
    keys: list[str]


class ProofShown(WireModel):
    """Journal and record of one vendor account side by side over a span that the record covers."""

    account: ShortText
    member: MemberCode | None = None
    first_day: Day
    last_day: Day
    journal: SumsShown
    record: SumsShown
    balanced: bool
    parting: PartingShown | None = None


class ReconciliationShown(WireModel):
    """A month's journal against the vendor's record. broken are matches that were kept and whose entries or rows aren't
    there any more; sign_off is what signed the month off, absent as long as nobody has."""

    month: MonthText
    digest: Digest
    matches: list[MatchShown]
    differences: list[DifferenceShown]
    undecided: int = Field(ge=0)
    suggested: int = Field(ge=0, description="Matches that wait for a person's word.")
    broken: list[ActShown]
    sign_off: SignOffShown | None = None
    proof: list[ProofShown]
    rows: list[VendorRowShown]
    limits: list[str]


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
        "set_aside": [_set_aside(each) for each in made.set_aside],
    }
    return stated(shown)


def show_imported(made: Imported) -> Json:
    """Give an import just made."""
    return {
        **show_import(made.imported),
        "skipped": [_set_aside(each) for each in made.skipped],
        "vanished": [show_row(row) for row in made.vanished],
    }


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


def show_reconciliation(found: Reconciliation) -> Json:
    """Give a comparison, with the rows that its matches and differences speak of."""
    spoken = {row for match in found.matches for row in match.rows}
    spoken |= {row for difference in found.differences for row in difference.rows}
    shown = {
        "month": str(found.month),
        "digest": found.digest,
        "matches": [_match(each, found.kept(each)) for each in found.matches],
        "differences": [
            show_difference(
                each, offered(found, each), found.decisions.get(each.key), found.standing.handed.get(each.key)
            )
            for each in found.differences
        ],
        "undecided": len(found.undecided()),
        "suggested": len(found.suggested()),
        "broken": [show_act(each.act) for each in found.broken],
        "sign_off": show_sign_off(found.sign_off, changed=found.changed),
        "proof": [_proof(each, found.accounts.member_of(each.account, each.last)) for each in found.proof],
        "rows": [show_row(row) for identity, row in found.rows.items() if identity in spoken],
        "limits": list(found.limits),
    }
    return stated(shown)


def _match(each: Match, kept: Kept | None) -> Json:
    return stated(
        {
            "key": each.key,
            "status": each.status.value,
            "entries": list(each.entries),
            "rows": list(each.rows),
            "day": each.day.isoformat(),
            "giver": each.giver,
            "receiver": each.receiver,
            "quantity": each.quantity,
            "days_apart": each.days_apart,
            "score": each.score,
            "parts": [{"name": part.name, "millibits": part.millibits, "says": part.says} for part in each.parts],
            "kept": show_kept(kept),
        }
    )


def show_difference(each: Difference, said: Said, decision: Decision | None, handed: Handed | None) -> Json:
    """Give a difference with what its mend offers, what was decided on it, and in whose hands it is."""
    mend = each.mend
    return stated(
        {
            "key": each.key,
            "kind": each.kind.value,
            "entries": list(each.entries),
            "rows": list(each.rows),
            "day": each.day.isoformat(),
            "giver": each.giver,
            "receiver": each.receiver,
            "quantity": each.quantity,
            "sentence": each.sentence,
            "mend": None if mend is None else {"kind": mend.kind.value, "fields": dict(said), "asks": list(mend.asks)},
            "decision": None if decision is None else show_decision(decision),
            "handed": show_handed(handed),
        }
    )


def _proof(each: AccountProof, member: str | None) -> Json:
    parting = each.parting
    return stated(
        {
            "account": each.account,
            "member": member,
            "first_day": each.first.isoformat(),
            "last_day": each.last.isoformat(),
            "journal": _sums(each.journal),
            "record": _sums(each.record),
            "balanced": each.balanced,
            "parting": None
            if parting is None
            else {
                "day": parting.day.isoformat(),
                "journal_balance": parting.journal_balance,
                "record_balance": parting.record_balance,
                "keys": list(parting.keys),
            },
        }
    )


def _sums(each: Sums) -> Json:
    return stated(
        {
            "opening": each.opening,
            "bought": each.bought,
            "came_in": each.came_in,
            "went_out": each.went_out,
            "used": each.used,
            "refunded": each.refunded,
            "closing": each.closing,
        }
    )
