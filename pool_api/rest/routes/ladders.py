"""The vendor's price ladders, what orders cost by them, and purchases beside the ladder of their day."""

from datetime import date
from typing import Annotated

from fastapi import Path, Query, Request, Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.values import MOST_CREDITS, Month
from pool_api.intake.ladder import FROM_CREDITS, UNIT_PRICE, VALID_FROM
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatch, IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router, takes_upload
from pool_api.rest.ladder_forms import (
    CheckedPurchaseShown,
    LadderForm,
    LadderShown,
    LaddersRead,
    LadderVersionShown,
    OrderPriceShown,
    show_checked,
    show_ladder,
    show_ladders_read,
    show_price,
    show_version,
)
from pool_api.rest.media import TABLES
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import also, replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import PLAIN_DIGITS, Day, HeaderWord, MonthText, PoolId, SheetParam, stated
from pool_api.services import ladders
from pool_api.services.ladders import LADDERS, LadderRequest

router = gated_router("buying", "/pools/{pool}")

_LADDER = "/price-ladders/{valid_from}"
ValidFrom = Annotated[Day, Path(description="The day that the ladder is valid from.")]
Quantity = Annotated[
    int,
    Query(ge=1, le=MOST_CREDITS, description="The credits of one order."),
    Field(examples=[48]),
    PLAIN_DIGITS,
]


@router.get(
    "/price-ladders",
    response_model=Page[LadderShown],
    operation_id="list_price_ladders",
    summary="List the price ladders",
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """By the day that they are valid from; each counts until the next one's."""
    return cursors.page(
        "list_price_ladders",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: ladders.list_ladders(
            office, caller, pool, after=date.fromisoformat(after) if after else None, limit=most
        ),
        show=lambda each: show_ladder(*each),
        place=lambda each: each[1].valid_from.isoformat(),
    )


@router.get(_LADDER, response_model=LadderShown, operation_id="read_price_ladder", summary="Read a price ladder")
def read(
    pool: PoolId, valid_from: ValidFrom, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """The ETag is what a change has to state."""
    version, ladder = ladders.read_ladder(office, caller, pool, valid_from)
    return replies.read(show_ladder(version, ladder), version.version, copies)


@router.put(
    _LADDER,
    response_model=LadderShown,
    operation_id="put_price_ladder",
    summary="Enter a price ladder or change it",
    responses=replaceable(LadderShown),
)
def put(
    pool: PoolId,
    valid_from: ValidFrom,
    asked: LadderForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """What is changed stays as a version. Prices needn't fall from tier to tier; where they don't, doubts say so."""
    tiers = tuple(each.tier() for each in asked.tiers)
    made = ladders.put_ladder(office, caller, pool, valid_from, tiers, version_in(tag))
    address = f"/pools/{pool}/price-ladders/{valid_from.isoformat()}"
    return replies.put(show_ladder(*made), made[0].version, address, new=tag is None)


@router.delete(_LADDER, status_code=204, operation_id="withdraw_price_ladder", summary="Withdraw a price ladder")
def withdraw(pool: PoolId, valid_from: ValidFrom, caller: CallerOf, office: OfficeOf, tag: IfMatch) -> Response:
    """It counts no more, as one entered for the wrong day; its versions stay."""
    LADDERS.withdraw(office, caller, pool, valid_from, version_in(tag) or 0)
    return Response(status_code=204)


@router.get(
    f"{_LADDER}/versions",
    response_model=Page[LadderVersionShown],
    operation_id="list_price_ladder_versions",
    summary="List the versions of a price ladder",
)
def list_versions(
    pool: PoolId,
    valid_from: ValidFrom,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first; one without tiers withdrew it."""
    return cursors.page(
        "list_price_ladder_versions",
        {"pool": pool, "valid_from": valid_from.isoformat()},
        cursor,
        limit,
        read=lambda before, most: LADDERS.versions(office, caller, pool, valid_from, before=before, limit=most),
        show=show_version,
        place=lambda each: each.version,
    )


@router.post(
    "/price-ladders/proposal",
    response_model=LaddersRead,
    operation_id="propose_price_ladders",
    summary="Read price ladders from a file",
    openapi_extra=takes_upload(
        *TABLES, description="The vendor's prices, delimited text or a spreadsheet, in whatever columns it has."
    ),
)
async def propose(
    pool: PoolId,
    request: Request,
    caller: CallerOf,
    office: OfficeOf,
    valid_from: Annotated[Day | None, Query(description="The day of a ladder whose file has no such column.")] = None,
    day_column: Annotated[
        HeaderWord | None, Query(description="The column of the days; guessed unless stated.")
    ] = None,
    credits_column: Annotated[HeaderWord | None, Query(description="That of the sizes of an order, likewise.")] = None,
    price_column: Annotated[HeaderWord | None, Query(description="That of the unit prices, likewise.")] = None,
    sheet: SheetParam | None = None,
) -> Response:
    """A size is a number of credits or a range, such as 50, 50-99 or 50+. Nothing is kept: look at what was read and
    its doubts, and enter each ladder."""
    columns = {VALID_FROM: day_column, FROM_CREDITS: credits_column, UNIT_PRICE: price_column}
    asked = LadderRequest(content=await request.body(), sheet=sheet, valid_from=valid_from, columns=stated(columns))
    found = await run_in_threadpool(ladders.propose_ladders, office, caller, pool, asked)
    return JSONResponse(show_ladders_read(found))


@router.get(
    "/order-prices",
    response_model=OrderPriceShown,
    operation_id="read_order_price",
    summary="Read what an order costs",
    responses=also(409),
)
def order_price(
    pool: PoolId,
    quantity: Quantity,
    caller: CallerOf,
    office: OfficeOf,
    on: Annotated[Day | None, Query(description="The day of the order, today unless stated.")] = None,
) -> Response:
    """By the ladder of its day, with the cheapest order of at least as many credits, and larger ones that cost less."""
    return JSONResponse(show_price(ladders.order_price(office, caller, pool, quantity, on), quantity))


@router.get(
    "/months/{month}/purchase-checks",
    response_model=Page[CheckedPurchaseShown],
    operation_id="list_purchase_checks",
    summary="Compare a month's purchases with the ladder of their day",
)
def list_checks(
    pool: PoolId,
    month: Annotated[MonthText, Path()],
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """First entry first. What was paid includes fees, which the ladder doesn't know."""
    currency = office.currency(pool)
    return cursors.page(
        "list_purchase_checks",
        {"pool": pool, "month": month},
        cursor,
        limit,
        read=lambda after, most: ladders.check_purchases(
            office, caller, pool, Month.parse(month), after=after or 0, limit=most
        ),
        show=lambda each: show_checked(each, currency),
        place=lambda each: each.entry.number,
    )
