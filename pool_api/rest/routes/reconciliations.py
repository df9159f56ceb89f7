"""The vendor's record against the journal: comparing a month, deciding on what differs, and signing it off."""

from typing import Annotated

from fastapi import Path, Query, Response
from starlette.responses import JSONResponse

from pool_api.domain.values import Month
from pool_api.rest import replies
from pool_api.rest.act_forms import ActShown, ActsShown, DecisionShown, show_act, show_decision
from pool_api.rest.auth import CallerOf
from pool_api.rest.entry_forms import EntryShown, entry_answer
from pool_api.rest.gate import gated_router
from pool_api.rest.mending_forms import (
    AnswerForm,
    ConfirmationForm,
    DealtWithShown,
    DecisionForm,
    DecisionsForm,
    HandedDifferenceShown,
    HandingForm,
    SignOffForm,
    WithdrawalForm,
    show_dealt_with,
    show_in_hand,
)
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, also
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.vendor_forms import ReconciliationShown, show_reconciliation
from pool_api.rest.wire import IdempotencyKey, MemberCode, MonthText, PoolId
from pool_api.services import confirming, coverage, handing, mending, reconciling, signing
from pool_api.services.confirming import Confirmation
from pool_api.services.handing import Reply
from pool_api.services.mending import OfAKind, Verdict
from pool_api.services.signing import Signature

router = gated_router("vendor-records", "/pools/{pool}")

AMonth = Annotated[MonthText, Path()]


@router.get(
    "/reconciliations/{month}",
    response_model=ReconciliationShown,
    operation_id="read_reconciliation",
    summary="Compare a month with the vendor's record",
)
def read(pool: PoolId, month: AMonth, caller: CallerOf, office: OfficeOf) -> Response:
    """Matches and differences with reasons, what would mend each difference, and the proof per vendor account."""
    wanted = Month.parse(month)
    found = reconciling.reconcile(office, caller, pool, wanted)
    return JSONResponse(show_reconciliation(found, coverage.gaps(office, pool, wanted)))


@router.post(
    "/reconciliations/{month}/decisions",
    status_code=201,
    response_model=DecisionShown,
    operation_id="decide_difference",
    summary="Accept or dismiss a difference",
    responses={201: {"headers": LOCATION}},
)
async def decide(
    pool: PoolId, month: AMonth, asked: DecisionForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Accepting records what mends the difference. A difference is decided once, whatever key asks."""
    verdict = Verdict(
        difference=asked.difference,
        accepted=asked.verdict == "accepted",
        reason=asked.reason,
        fields=asked.fields.said(),
        key=key,
        as_answered=asked.as_answered,
    )
    made = await mending.decide(office, caller, pool, Month.parse(month), verdict)
    return replies.made(show_decision(made), _address(pool, month))


def _address(pool: str, month: str) -> str:
    return f"/pools/{pool}/reconciliations/{month}"


@router.post(
    "/reconciliations/{month}/decisions/preview",
    response_model=DealtWithShown,
    operation_id="preview_decisions",
    summary="See what deciding on all differences of a kind would record",
)
async def preview(pool: PoolId, month: AMonth, asked: DecisionsForm, caller: CallerOf, office: OfficeOf) -> Response:
    """Nothing is recorded or decided: it shows what would be, and what would be refused, and why."""
    of = Month.parse(month)
    made = await mending.preview_all(office, caller, pool, of, _of_a_kind(asked))
    return JSONResponse(show_dealt_with(made, of, office.currency(pool), recorded=False))


@router.post(
    "/reconciliations/{month}/decisions/all",
    status_code=201,
    response_model=DealtWithShown,
    operation_id="decide_all_differences",
    summary="Accept or dismiss all differences of a kind",
    responses={201: {"headers": LOCATION}},
)
async def decide_all(
    pool: PoolId, month: AMonth, asked: DecisionsForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Each is mended wholly or not at all; those that need more, or are refused, are listed with reasons."""
    of = Month.parse(month)
    made = await mending.decide_all(office, caller, pool, of, _of_a_kind(asked), key=key)
    shown = show_dealt_with(made, of, office.currency(pool), recorded=True)
    return replies.made(shown, _address(pool, month), replayed=made.replayed)


def _of_a_kind(asked: DecisionsForm) -> OfAKind:
    return OfAKind(
        kind=asked.kind, accepted=asked.verdict == "accepted", reason=asked.reason, fields=asked.fields.said()
    )


@router.post(
    "/reconciliations/{month}/confirmations",
    status_code=201,
    response_model=ActsShown,
    operation_id="confirm_matches",
    summary="Confirm matches",
    responses={201: {"headers": LOCATION}},
)
def confirm(
    pool: PoolId, month: AMonth, asked: ConfirmationForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Confirmed matches go before all others and stay, whatever rows and entries come later."""
    wanted = Confirmation(
        matches=tuple(asked.matches),
        all_suggested=asked.all_suggested,
        entries=tuple(asked.entries),
        rows=tuple(asked.rows),
        word=asked.word,
    )
    made = confirming.confirm(office, caller, pool, Month.parse(month), wanted, key=key)
    return replies.made({"items": [show_act(act) for act in made]}, _address(pool, month))


@router.post(
    "/reconciliations/{month}/withdrawals",
    status_code=201,
    response_model=ActShown,
    operation_id="take_match_back",
    summary="Take back that a match is confirmed",
    responses={201: {"headers": LOCATION}},
)
def take_back(
    pool: PoolId, month: AMonth, asked: WithdrawalForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Its entries and rows are matched again like all others."""
    made = confirming.take_back(office, caller, pool, Month.parse(month), asked.match, word=asked.word, key=key)
    return replies.made(show_act(made), _address(pool, month))


@router.post(
    "/reconciliations/{month}/handings",
    status_code=201,
    response_model=ActShown,
    operation_id="hand_difference",
    summary="Hand a difference to a member",
    responses={201: {"headers": LOCATION}},
)
def hand(
    pool: PoolId, month: AMonth, asked: HandingForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """It stays open; the member's clerks see it and answer, and the keeper decides. It can be handed on, or back."""
    made = handing.hand(
        office, caller, pool, Month.parse(month), asked.difference, member=asked.member, word=asked.word, key=key
    )
    return replies.made(show_act(made), _address(pool, month))


@router.get(
    "/handed-differences",
    response_model=Page[HandedDifferenceShown],
    operation_id="list_handed_differences",
    summary="List the differences in members' hands",
)
def list_handed(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    member: Annotated[MemberCode | None, Query(description="Only what is in this member's hands.")] = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Those that are still open, first handed first; a clerk sees its own member's only."""
    return cursors.page(
        "list_handed_differences",
        {"pool": pool, "member": member},
        cursor,
        limit,
        read=lambda after, most: handing.in_hands(office, caller, pool, member, after=after or 0, limit=most),
        show=show_in_hand,
        place=lambda each: each.handed.act.number,
    )


@router.post(
    "/reconciliations/{month}/answers",
    status_code=201,
    response_model=ActShown,
    operation_id="answer_difference",
    summary="Answer a difference in one's hands",
    responses={201: {"headers": LOCATION}},
)
def answer(
    pool: PoolId, month: AMonth, asked: AnswerForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """A proposal: the keeper records it by accepting the difference as answered, or decides otherwise."""
    reply = Reply(
        difference=asked.difference, answer=asked.answer, fields=asked.fields.said(), word=asked.word, key=key
    )
    made = handing.answer(office, caller, pool, Month.parse(month), reply)
    return replies.made(show_act(made), f"/pools/{pool}/handed-differences")


@router.post(
    "/reconciliations/{month}/sign-offs",
    status_code=201,
    response_model=EntryShown,
    operation_id="sign_off_reconciliation",
    summary="Sign a month's reconciliation off",
    responses={201: {"headers": LOCATION}, **also(412)},
)
async def sign_off(
    pool: PoolId, month: AMonth, asked: SignOffForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """An entry of the journal that says what it came to. Its matches are confirmed by it; later changes show."""
    signature = Signature(seen=asked.digest, accept_open=asked.accept_open, note=asked.note, key=key)
    recorded = await signing.sign_off(office, caller, pool, Month.parse(month), signature)
    return entry_answer(pool, recorded, office.currency(pool))
