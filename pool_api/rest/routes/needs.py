"""Needs of coming months: read as forecast and stated, stated by hand, and withdrawn."""

from typing import Annotated

from fastapi import Path, Query, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.needs import Notice
from pool_api.domain.values import Month
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatch, IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.need_forms import (
    LEVEL_PATTERN,
    MONTHS_AHEAD,
    NeedForm,
    NeedShown,
    NeedsShown,
    NeedVersionShown,
    level_of,
    show_need,
    show_needs,
)
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import PLAIN_DIGITS, MemberCode, MonthText, PoolId
from pool_api.services import needs
from pool_api.services.needs import NeedOf, Said

router = gated_router("buying", "/pools/{pool}")

_NEED = "/needs/{member}/{month}"
MonthParam = Annotated[MonthText, Path()]
Level = Annotated[
    str,
    Query(
        pattern=LEVEL_PATTERN, max_length=5, examples=["0.95"], description="With what certainty credits are to last."
    ),
]
MonthCount = Annotated[
    int,
    Query(ge=1, le=MONTHS_AHEAD, description="How many months, the present one included."),
    Field(examples=[12]),
    PLAIN_DIGITS,
]


def _days(what: str) -> tuple[object, ...]:
    return Query(ge=0, le=180, description=what), Field(examples=[7]), PLAIN_DIGITS


LeadDays = Annotated[int, *_days("Days from an order to its credits.")]
ReviewDays = Annotated[int, *_days("Days from one look at this to the next.")]


def _of(member: str, month: str) -> NeedOf:
    return NeedOf(member, Month.parse(month))


@router.get("/needs", response_model=NeedsShown, operation_id="read_needs", summary="Read what coming months need")
def read(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    months: MonthCount = 12,
    level: Level = "0.95",
    lead_days: LeadDays = 7,
    review_days: ReviewDays = 7,
    member: Annotated[MemberCode | None, Query(description="Only this member.")] = None,
) -> Response:
    """Forecast from what members used in full months, or as stated by hand; with how far forecasts were off in months
    held back, and for how many days what is at hand lasts. A clerk sees its own member."""
    notice = Notice(level=level_of(level), days=lead_days + review_days)
    told, only = needs.read_needs(office, caller, pool, months, notice, member)
    return JSONResponse(show_needs(told, only, lead_days, review_days))


@router.get(_NEED, response_model=NeedShown, operation_id="read_need", summary="Read a need that was stated by hand")
def read_one(
    pool: PoolId,
    member: MemberCode,
    month: MonthParam,
    caller: CallerOf,
    office: OfficeOf,
    copies: IfNoneMatch = None,
) -> Response:
    """The ETag is what a change has to state."""
    found = needs.read_need(office, caller, pool, _of(member, month))
    return replies.read(show_need(found), found.version, copies)


@router.put(
    _NEED,
    response_model=NeedShown,
    operation_id="put_need",
    summary="State a need by hand, or change it",
    responses=replaceable(NeedShown),
)
def put(
    pool: PoolId,
    member: MemberCode,
    month: MonthParam,
    asked: NeedForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """Of a whole month, the present one or a later one; it counts in place of the forecast, which stays beside it. What
    is changed stays as a version."""
    said = Said(quantity=asked.quantity, reason=asked.reason)
    made = needs.put_need(office, caller, pool, _of(member, month), said, version_in(tag))
    return replies.put(show_need(made), made.version, f"/pools/{pool}/needs/{member}/{month}", new=tag is None)


@router.delete(_NEED, status_code=204, operation_id="withdraw_need", summary="Withdraw a need that was stated by hand")
def withdraw(
    pool: PoolId, member: MemberCode, month: MonthParam, caller: CallerOf, office: OfficeOf, tag: IfMatch
) -> Response:
    """The forecast counts again; what was stated stays as versions."""
    needs.withdraw_need(office, caller, pool, _of(member, month), version_in(tag) or 0)
    return Response(status_code=204)


@router.get(
    f"{_NEED}/versions",
    response_model=Page[NeedVersionShown],
    operation_id="list_need_versions",
    summary="List all that was stated of a need",
)
def list_versions(
    pool: PoolId,
    member: MemberCode,
    month: MonthParam,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first; one without a quantity withdrew it."""
    return cursors.page(
        "list_need_versions",
        {"pool": pool, "member": member, "month": month},
        cursor,
        limit,
        read=lambda before, most: needs.list_versions(
            office, caller, pool, _of(member, month), before=before, limit=most
        ),
        show=show_need,
        place=lambda each: each.version,
    )
