"""Joint orders: opened, committed to, closed into a purchase and its draws, or called off."""

from typing import Annotated

from fastapi import Path, Response
from starlette.responses import JSONResponse

from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, also, replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.round_forms import (
    ROUND_ID,
    CallingOffForm,
    ClosedShown,
    ClosingForm,
    CommitmentForm,
    CommitmentShown,
    ExtensionForm,
    RoundForm,
    RoundListed,
    RoundShown,
    RoundStepShown,
    show_closed,
    show_commitment,
    show_listed,
    show_round,
    show_step,
)
from pool_api.rest.wire import IdempotencyKey, MemberCode, PoolId
from pool_api.services import rounds
from pool_api.services.arranging import Taken
from pool_api.services.rounds import Closing

router = gated_router("buying", "/pools/{pool}")

RoundId = Annotated[str, Path(pattern=ROUND_ID, description="The id of an order round.")]
_ROUND = "/order-rounds/{round_id}"
_COMMITMENT = f"{_ROUND}/commitments/{{member}}"


@router.post(
    "/order-rounds",
    status_code=201,
    response_model=RoundStepShown,
    operation_id="open_order_round",
    summary="Open an order round",
    responses={201: {"headers": LOCATION}},
)
def open_(pool: PoolId, asked: RoundForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
    """Members commit to it until its deadline."""
    made = rounds.open_round(office, caller, pool, deadline=asked.deadline, note=asked.note, key=key)
    return _step_taken(pool, made)


@router.get(
    "/order-rounds", response_model=Page[RoundListed], operation_id="list_order_rounds", summary="List the order rounds"
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first, whatever has become of them."""
    return cursors.page(
        "list_order_rounds",
        {"pool": pool},
        cursor,
        limit,
        read=lambda before, most: rounds.list_rounds(office, caller, pool, before=before, limit=most),
        show=lambda each: show_listed(*each),
        place=lambda each: each[0].round_id,
    )


@router.get(_ROUND, response_model=RoundShown, operation_id="read_order_round", summary="Read an order round")
def read(pool: PoolId, round_id: RoundId, caller: CallerOf, office: OfficeOf) -> Response:
    """As it is now: what is committed, who hasn't answered, what an order of that costs, what each would pay, and what
    the next break would bring. What a draw costs in the end is said by the month sheet."""
    found = rounds.read_round(office, caller, pool, round_id)
    return JSONResponse(show_round(found, office.currency(pool)))


@router.get(
    _COMMITMENT, response_model=CommitmentShown, operation_id="read_commitment", summary="Read a member's commitment"
)
def read_commitment(
    pool: PoolId,
    round_id: RoundId,
    member: MemberCode,
    caller: CallerOf,
    office: OfficeOf,
    copies: IfNoneMatch = None,
) -> Response:
    """The ETag is what a change has to state."""
    found = rounds.read_commitment(office, caller, pool, round_id, member)
    return replies.read(show_commitment(found), found.number, copies)


@router.put(
    _COMMITMENT,
    response_model=CommitmentShown,
    operation_id="put_commitment",
    summary="Commit a member to a quantity or change it",
    responses={**replaceable(CommitmentShown), **also(409)},
)
def put_commitment(
    pool: PoolId,
    round_id: RoundId,
    member: MemberCode,
    asked: CommitmentForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """Until the deadline; 0 is an answer too."""
    made = rounds.put_commitment(office, caller, pool, round_id, member, asked.quantity, version_in(tag))
    address = f"/pools/{pool}/order-rounds/{round_id}/commitments/{member}"
    return replies.put(show_commitment(made), made.number, address, new=tag is None)


@router.post(
    f"{_ROUND}/extensions",
    status_code=201,
    response_model=RoundStepShown,
    operation_id="extend_order_round",
    summary="Extend an order round",
    responses={201: {"headers": LOCATION}},
)
def extend(
    pool: PoolId, round_id: RoundId, asked: ExtensionForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Its deadline moves to a later instant, also when it has passed; extensions are kept."""
    made = rounds.extend(office, caller, pool, round_id, deadline=asked.deadline, reason=asked.reason, key=key)
    return _step_taken(pool, made)


@router.post(
    f"{_ROUND}/calling-off",
    status_code=201,
    response_model=RoundStepShown,
    operation_id="call_off_order_round",
    summary="Call an order round off",
    responses={201: {"headers": LOCATION}},
)
def call_off(
    pool: PoolId, round_id: RoundId, asked: CallingOffForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Nothing is ordered, and nothing recorded."""
    return _step_taken(pool, rounds.call_off(office, caller, pool, round_id, reason=asked.reason, key=key))


@router.post(
    f"{_ROUND}/close",
    status_code=201,
    response_model=ClosedShown,
    operation_id="close_order_round",
    summary="Close an order round",
    responses={201: {"headers": LOCATION}, **also(412)},
)
async def close(
    pool: PoolId, round_id: RoundId, asked: ClosingForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Records one purchase into stock and the draws of those who committed, all or nothing and once: closed again with
    the same order, it answers with the same entries. What was bought beyond the commitments stays in stock."""
    currency = office.currency(pool)
    closing = Closing(
        seen=asked.seen,
        paid_by=asked.paid_by,
        quantity=asked.quantity,
        amount=None if asked.amount is None else currency.minor(asked.amount),
        order_number=asked.order_number,
        effective_on=asked.effective_on,
        note=asked.note,
        accept_unanswered=asked.accept_unanswered,
    )
    recorded = await rounds.close(office, caller, pool, round_id, closing, key=key)
    return replies.made(show_closed(round_id, recorded, currency), _address(pool, round_id), replayed=recorded.replayed)


def _step_taken(pool: str, made: Taken) -> Response:
    return replies.made(show_step(made.name, made.step), _address(pool, made.name), replayed=made.replayed)


def _address(pool: str, round_id: str) -> str:
    return f"/pools/{pool}/order-rounds/{round_id}"
