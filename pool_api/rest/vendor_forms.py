"""How the vendor's record, and its comparison with the journal, are shown on the wire."""

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import Field

from pool_api.domain.acts import Handed, Kept
from pool_api.domain.matching import Difference, Match
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
from pool_api.rest.proof_forms import ProofShown, show_proof
from pool_api.rest.record_forms import GapShown, VendorRowShown, show_gap, show_row
from pool_api.rest.wire import Credits, Day, Digest, EntryNumber, MonthText, WireModel, stated
from pool_api.services.coverage import Gap
from pool_api.services.mends import Said, offered
from pool_api.services.reconciling import Reconciliation
from pool_api.store.vendor import Decision

Json = dict[str, Any]


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


class ReconciliationShown(WireModel):
    """A month's journal against the vendor's record. broken are matches that were kept and whose entries or rows aren't
    there any more; sign_off is what signed the month off, absent as long as nobody has; gaps are days of which the
    record's silence proves nothing."""

    month: MonthText
    digest: Digest
    matches: list[MatchShown]
    differences: list[DifferenceShown]
    undecided: int = Field(ge=0)
    suggested: int = Field(ge=0, description="Matches that wait for a person's word.")
    broken: list[ActShown]
    sign_off: SignOffShown | None = None
    proof: list[ProofShown]
    gaps: list[GapShown]
    rows: list[VendorRowShown]
    limits: list[str]


def show_reconciliation(found: Reconciliation, gaps: Sequence[Gap]) -> Json:
    """Give a comparison, with the rows that its matches and differences speak of."""
    spoken = {row for match in found.matches for row in match.rows}
    spoken |= {row for difference in found.differences for row in difference.rows}
    spoken |= {each.parting.row for each in found.proof if each.parting and each.parting.row}
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
        "proof": [show_proof(each, found.accounts.member_of(each.account, each.last)) for each in found.proof],
        "gaps": [show_gap(each) for each in gaps],
        "rows": [show_row(row) for identity, row in (found.rows | found.waiting).items() if identity in spoken],
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
