"""Requests for credits: asked, taken up as a loan, or withdrawn."""

from datetime import datetime

from pool_client.calls.call import POOL, Call, Page, get, model, page, query
from pool_client.models.entries import Entry
from pool_client.models.requests import CreditRequest, CreditRequestAsked
from pool_client.wire import write

_REQUESTS = f"{POOL}/credit-requests"
_REQUEST = f"{_REQUESTS}/{{request_id}}"


def ask(
    pool: str,
    /,
    *,
    member: str,
    quantity: int,
    needed_by: datetime,
    note: str = "",
    idempotency_key: str | None = None,
) -> Call[CreditRequestAsked]:
    """Ask for credits that a member needs by an instant."""
    said = {"member": member, "quantity": quantity, "needed_by": needed_by, "note": note or None}
    return Call(
        method="POST",
        path=_REQUESTS,
        places={"pool": pool},
        body=write(said),
        understand=model(CreditRequestAsked),
        keyed=True,
        key=idempotency_key,
    )


def credit_requests(pool: str, /, *, ended: bool | None = None, limit: int | None = None) -> Call[Page[CreditRequest]]:
    """Give the open requests, with ended True all of them, newest first; a clerk gets those that concern it."""
    return get(_REQUESTS, {"pool": pool}, page(CreditRequest), query=query(ended=ended, limit=limit))


def credit_request(pool: str, /, *, request_id: str) -> Call[CreditRequest]:
    """Give one request, with what has become of it."""
    return get(_REQUEST, _places(pool, request_id), model(CreditRequest))


def take_up(
    pool: str, /, *, request_id: str, lender: str, note: str | None = None, idempotency_key: str | None = None
) -> Call[Entry]:
    """Record the loan that a request asks for, all of it, from a lender.

    Refuses: Refused when somebody was faster, it has expired, or the lender holds less."""
    return Call(
        method="POST",
        path=f"{_REQUEST}/loan",
        places=_places(pool, request_id),
        body=write({"lender": lender, "note": note}),
        understand=model(Entry),
        keyed=True,
        key=idempotency_key,
    )


def withdraw_request(
    pool: str, /, *, request_id: str, reason: str = "", idempotency_key: str | None = None
) -> Call[CreditRequest]:
    """Withdraw a request of one's own member."""
    return Call(
        method="POST",
        path=f"{_REQUEST}/withdrawal",
        places=_places(pool, request_id),
        body=write({"reason": reason or None}),
        understand=model(CreditRequest),
        keyed=True,
        key=idempotency_key,
    )


def _places(pool: str, request_id: str) -> dict[str, str]:
    return {"pool": pool, "request_id": request_id}
