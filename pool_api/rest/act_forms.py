"""How what people did about reconciliations is shown on the wire: acts, decisions, and what stands by them."""

from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.acts import Act, ActKind, Answer, Handed, Kept
from pool_api.rest.wire import (
    CreditChange,
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
from pool_api.services.reconciling import Signed
from pool_api.store.vendor import Decision

Json = dict[str, Any]

DifferenceKey = Annotated[
    str, Field(pattern="^[0-9a-f:-]{8,200}$", description="The key of a difference.", examples=["bae5a3cb" * 8])
]


class DecisionShown(WireModel):
    """What was decided on a difference, and the entries that were recorded to mend it."""

    difference: str
    verdict: Literal["accepted", "dismissed"]
    reason: str
    decided_by: str
    decided_at: Instant
    entries: list[EntryNumber]


class ActShown(WireModel):
    """Something that was done about a match (kept under a name, with its entries and rows) or a difference (handed to a
    member, or to nobody but the keeper; answered by it, with the fields of a mend)."""

    number: int = Field(ge=1)
    month: MonthText
    act: ActKind
    subject: str = Field(description="The name that a match is kept under, or the key of a difference.")
    entries: list[EntryNumber] | None = None
    rows: list[str] | None = None
    member: MemberCode | None = None
    answer: Answer | None = None
    fields: dict[str, Any] | None = None
    word: str
    made_by: str
    made_at: Instant


class ActsShown(WireModel):
    """Several acts, in order."""

    items: list[ActShown]


class SignedAccountShown(WireModel):
    """What a vendor account held at the end of a day by the journal and by the vendor's record, if that says it."""

    account: ShortText
    on: Day
    journal: CreditChange
    record: CreditChange | None = None


class SignOffShown(WireModel):
    """The entry that signed a month off, and whether the month is another by now than was signed."""

    entry: EntryNumber
    digest: Digest
    signed_by: str
    signed_at: Instant
    accepted_open: bool
    changed: bool
    accounts: list[SignedAccountShown]


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


_TOLD = ("entries", "rows", "member", "answer", "fields")


def show_act(act: Act) -> Json:
    """Give an act."""
    told = {name: act.content.get(name) for name in _TOLD}
    shown = {"number": act.number, "month": act.month, "act": act.kind.value, "subject": act.subject, **told}
    return stated({**shown, "word": act.word, "made_by": act.made_by, "made_at": act.made_at})


def show_kept(kept: Kept | None) -> Json | None:
    """Give by which act a match is kept."""
    return None if kept is None else show_act(kept.act)


def show_handed(handed: Handed | None) -> list[Json] | None:
    """Give all that was done with a difference in a member's hands, in order."""
    return None if handed is None else [show_act(act) for act in handed.acts]


def show_sign_off(signed: Signed | None, *, changed: bool) -> Json | None:
    """Give what signed a month off."""
    if signed is None:
        return None
    return {
        "entry": signed.entry.number,
        "digest": signed.body.digest,
        "signed_by": signed.entry.recorded_by,
        "signed_at": signed.entry.recorded_at,
        "accepted_open": signed.body.accepted_open,
        "changed": changed,
        "accounts": [
            stated({"account": each.account, "on": each.on, "journal": each.journal, "record": each.record})
            for each in signed.body.accounts
        ],
    }
