"""How the vendor's record, and its comparison with the journal, are shown on the wire."""

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import Field

from pool_api.domain.matching import Difference, Match
from pool_api.rest.proof_forms import ProofShown, show_proof
from pool_api.rest.record_forms import GapShown, VendorRowShown, show_gap, show_row
from pool_api.rest.wire import Credits, Day, EntryNumber, Instant, MonthText, WireModel, stated
from pool_api.services.covering import Gap
from pool_api.services.reconciling import Reconciliation
from pool_api.store.vendor import Decision

Json = dict[str, Any]


class ScorePart(WireModel):
    """One reason for or against a match, in thousandths of a bit."""

    name: str
    millibits: int
    says: str


class MatchShown(WireModel):
    """Entries and rows that are one movement, and why."""

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


class MendShown(WireModel):
    """What could be recorded so that a difference is gone; asks names what has to be added when accepting."""

    kind: str
    fields: dict[str, Any]
    asks: list[str]


class DecisionShown(WireModel):
    """What was decided on a difference, and the entries that were recorded to mend it."""

    difference: str
    verdict: Literal["accepted", "dismissed"]
    reason: str
    decided_by: str
    decided_at: Instant
    entries: list[EntryNumber]


class DifferenceShown(WireModel):
    """Something that journal and record don't agree on."""

    key: str
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


class ReconciliationShown(WireModel):
    """A month's journal against the vendor's record; gaps are days of which the record's silence proves nothing."""

    month: MonthText
    matches: list[MatchShown]
    differences: list[DifferenceShown]
    undecided: int = Field(ge=0)
    proof: list[ProofShown]
    gaps: list[GapShown]
    rows: list[VendorRowShown]
    limits: list[str]


def show_reconciliation(found: Reconciliation, gaps: Sequence[Gap]) -> Json:
    """Give a comparison, with the rows that its matches and differences speak of."""
    spoken = {row for match in found.matches for row in match.rows}
    spoken |= {row for difference in found.differences for row in difference.rows}
    spoken |= {each.parting.row for each in found.proof if each.parting and each.parting.row}
    return {
        "month": str(found.month),
        "matches": [_match(each) for each in found.matches],
        "differences": [_difference(each, found.decisions.get(each.key)) for each in found.differences],
        "undecided": len(found.undecided()),
        "proof": [show_proof(each, found.accounts.member_of(each.account, each.last)) for each in found.proof],
        "gaps": [show_gap(each) for each in gaps],
        "rows": [show_row(row) for identity, row in found.rows.items() if identity in spoken],
        "limits": list(found.limits),
    }


def _match(each: Match) -> Json:
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
        }
    )


def _difference(each: Difference, decision: Decision | None) -> Json:
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
            "mend": None
            if mend is None
            else {"kind": mend.kind.value, "fields": dict(mend.fields), "asks": list(mend.asks)},
            "decision": None if decision is None else show_decision(decision),
        }
    )


def show_decision(made: Decision) -> Json:
    """Give a decision."""
    return {
        "difference": made.difference,
        "verdict": made.verdict,
        "reason": made.reason,
        "decided_by": made.decided_by,
        "decided_at": made.decided_at,
        "entries": list(made.entries),
    }
