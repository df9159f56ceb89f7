"""The vendor's record against the journal: comparing a month, deciding, confirming, handing over, signing off."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from pool_client.calls.call import POOL, Answer, Call, Page, get, items, model, page, query
from pool_client.models.entries import Entry
from pool_client.models.mending import Act, DealtWith
from pool_client.models.mending import Answer as Reply
from pool_client.models.vendor import Decision, HandedDifference, Reconciliation
from pool_client.wire import write

T = TypeVar("T")

_MONTH = f"{POOL}/reconciliations/{{month}}"

Fields = Mapping[str, str | int | Decimal | date]
"""What a mend asks for, or what is to stand in place of what it offers, by name: paid_by, quantity, effective_on, …"""


def reconciliation(pool: str, /, *, month: str) -> Call[Reconciliation]:
    """Compare a month's journal with the vendor's record."""
    return get(_MONTH, {"pool": pool, "month": month}, model(Reconciliation))


def decide(
    pool: str,
    /,
    *,
    month: str,
    difference: str,
    verdict: str,
    reason: str,
    fields: Fields | None = None,
    as_answered: bool = False,
    idempotency_key: str | None = None,
) -> Call[Decision]:
    """Accept a difference's mend, or dismiss the difference, for good.

    Takes:   verdict — accepted or dismissed; fields — what the mend asks for, or changes of what it offers; as_answered
             — take over the answer of the member that has it in hand."""
    told = {"difference": difference, **_verdict(verdict, reason, fields), "as_answered": as_answered}
    return _post("decisions", pool, month, told, model(Decision), idempotency_key)


def preview_all(
    pool: str, /, *, month: str, kind: str, verdict: str, reason: str, fields: Fields | None = None
) -> Call[DealtWith]:
    """Show what deciding on all undecided differences of a kind would record; nothing is kept."""
    return Call(
        method="POST",
        path=f"{_MONTH}/decisions/preview",
        places={"pool": pool, "month": month},
        body={"kind": kind, **_verdict(verdict, reason, fields)},
        understand=model(DealtWith),
        harmless=True,
    )


def decide_all(
    pool: str,
    /,
    *,
    month: str,
    kind: str,
    verdict: str,
    reason: str,
    fields: Fields | None = None,
    idempotency_key: str | None = None,
) -> Call[DealtWith]:
    """Decide on all undecided differences of a kind; those that are refused stay undecided, and say why."""
    told = {"kind": kind, **_verdict(verdict, reason, fields)}
    return _post("decisions/all", pool, month, told, model(DealtWith), idempotency_key)


def confirm(
    pool: str,
    /,
    *,
    month: str,
    matches: Sequence[str] = (),
    all_suggested: bool = False,
    entries: Sequence[int] = (),
    rows: Sequence[str] = (),
    word: str = "",
    idempotency_key: str | None = None,
) -> Call[tuple[Act, ...]]:
    """Confirm matches, so that nothing moves them: by their keys, all suggested ones, or a pair by hand.

    Takes:   entries and rows — numbers and identities of what is one movement, though the service didn't see it.
    Refuses: Refused for a pair that doesn't agree."""
    told = {
        "matches": list(matches),
        "all_suggested": all_suggested,
        "entries": list(entries),
        "rows": list(rows),
        "word": word,
    }
    return _post("confirmations", pool, month, told, items(Act), idempotency_key)


def take_back(pool: str, /, *, month: str, match: str, word: str, idempotency_key: str | None = None) -> Call[Act]:
    """Take back that a match is confirmed, by its key or the name that it is kept under."""
    return _post("withdrawals", pool, month, {"match": match, "word": word}, model(Act), idempotency_key)


def hand(
    pool: str,
    /,
    *,
    month: str,
    difference: str,
    member: str | None = None,
    word: str = "",
    idempotency_key: str | None = None,
) -> Call[Act]:
    """Hand a difference to a member that can say what happened, or (None) back to the keeper."""
    told = {"difference": difference, "member": member, "word": word}
    return _post("handings", pool, month, told, model(Act), idempotency_key)


def handed(pool: str, /, *, member: str | None = None, limit: int | None = None) -> Call[Page[HandedDifference]]:
    """Give the open differences in members' hands, first handed first; to a clerk its own member's only."""
    return get(
        f"{POOL}/handed-differences", {"pool": pool}, page(HandedDifference), query=query(member=member, limit=limit)
    )


def answer(
    pool: str,
    /,
    *,
    month: str,
    difference: str,
    answer: Reply,
    fields: Fields | None = None,
    word: str = "",
    idempotency_key: str | None = None,
) -> Call[Act]:
    """Answer a difference in one's hands; the keeper decides."""
    told = {"difference": difference, "answer": answer, "fields": dict(fields or {}), "word": word}
    return _post("answers", pool, month, told, model(Act), idempotency_key)


def sign_off(
    pool: str,
    /,
    *,
    month: str,
    digest: str,
    accept_open: bool = False,
    note: str = "",
    idempotency_key: str | None = None,
) -> Call[Entry]:
    """Sign a month's reconciliation off as it was seen; signed again unchanged, the entry is given that stands.

    Takes:   digest — of the comparison that was seen; accept_open — what is open was seen.
    Refuses: Stale when it is another by now; Refused for what is open."""
    told = {"digest": digest, "accept_open": accept_open, "note": note}
    return _post("sign-offs", pool, month, told, model(Entry), idempotency_key)


def _verdict(verdict: str, reason: str, fields: Fields | None) -> dict[str, Any]:
    return {"verdict": verdict, "reason": reason, "fields": write(dict(fields or {}))}


def _post(  # noqa: PLR0917 - the parts of a call, in the order of the address
    what: str, pool: str, month: str, told: Mapping[str, Any], understand: Callable[[Answer], T], key: str | None
) -> Call[T]:
    return Call(
        method="POST",
        path=f"{_MONTH}/{what}",
        places={"pool": pool, "month": month},
        body=write(told),
        understand=understand,
        keyed=True,
        key=key,
    )
