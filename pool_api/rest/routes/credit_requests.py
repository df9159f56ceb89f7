"""Requests for credits: asked, seen by members who hold enough, taken up as a loan, or withdrawn."""

from typing import Annotated

from fastapi import Path, Query, Response
from starlette.responses import JSONResponse

from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.entry_forms import EntryShown, entry_answer
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.request_forms import (
    REQUEST_ID,
    CreditRequestAsked,
    CreditRequestForm,
    CreditRequestShown,
    RequestWithdrawalForm,
    TakingUpForm,
    show_asked,
    show_request,
)
from pool_api.rest.wire import FlagParam, IdempotencyKey, PoolId
from pool_api.services import credit_requests

router = gated_router("credit-requests", "/pools/{pool}")

RequestId = Annotated[str, Path(pattern=REQUEST_ID, description="The id of a credit request.")]
_REQUEST = "/credit-requests/{request_id}"


@router.post(
    "/credit-requests",
    status_code=201,
    response_model=CreditRequestAsked,
    operation_id="ask_for_credits",
    summary="Ask for credits",
    responses={201: {"headers": LOCATION}},
)
def ask(pool: PoolId, asked: CreditRequestForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
    """Seen by members who hold enough; it expires by itself."""
    made = credit_requests.ask(
        office,
        caller,
        pool,
        asked.member,
        asked.quantity,
        needed_by=asked.needed_by,
        note=asked.note,
        key=key,
    )
    return replies.made(show_asked(made.name, made.step), _address(pool, made.name), replayed=made.replayed)


@router.get(
    "/credit-requests",
    response_model=Page[CreditRequestShown],
    operation_id="list_credit_requests",
    summary="List the credit requests",
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    ended: Annotated[FlagParam | None, Query(description="With true, those that are over are listed too.")] = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first. A clerk sees its member's own, those that it took up, and open ones that it holds enough for."""
    return cursors.page(
        "list_credit_requests",
        {"pool": pool, "ended": ended},
        cursor,
        limit,
        read=lambda before, most: credit_requests.list_requests(
            office, caller, pool, ended=ended or False, before=before, limit=most
        ),
        show=show_request,
        place=lambda each: each.request.request_id,
    )


@router.get(
    _REQUEST, response_model=CreditRequestShown, operation_id="read_credit_request", summary="Read a credit request"
)
def read(pool: PoolId, request_id: RequestId, caller: CallerOf, office: OfficeOf) -> Response:
    """With what has become of it."""
    return JSONResponse(show_request(credit_requests.read_request(office, caller, pool, request_id)))


@router.post(
    f"{_REQUEST}/loan",
    status_code=201,
    response_model=EntryShown,
    operation_id="take_up_credit_request",
    summary="Take up a credit request",
    responses={201: {"headers": LOCATION}},
)
async def take_up(
    pool: PoolId, request_id: RequestId, asked: TakingUpForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Records the loan of all that is asked for; of several members who take it up at once, one lends."""
    recorded = await credit_requests.take_up(office, caller, pool, request_id, asked.lender, note=asked.note, key=key)
    return entry_answer(pool, recorded, office.currency(pool))


@router.post(
    f"{_REQUEST}/withdrawal",
    status_code=201,
    response_model=CreditRequestShown,
    operation_id="withdraw_credit_request",
    summary="Withdraw a credit request",
    responses={201: {"headers": LOCATION}},
)
def withdraw(
    pool: PoolId,
    request_id: RequestId,
    asked: RequestWithdrawalForm,
    key: IdempotencyKey,
    caller: CallerOf,
    office: OfficeOf,
) -> Response:
    """The credits aren't needed any more, or came from elsewhere."""
    seen = credit_requests.withdraw(office, caller, pool, request_id, reason=asked.reason, key=key)
    return replies.made(show_request(seen), _address(pool, request_id), replayed=seen.replayed)


def _address(pool: str, request_id: str) -> str:
    return f"/pools/{pool}/credit-requests/{request_id}"
