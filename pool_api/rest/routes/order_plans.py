"""Order plans: made for stated or forecast needs, kept, and read."""

from typing import Annotated

from fastapi import Path, Response
from starlette.responses import JSONResponse

from pool_api.domain.values import Month
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.plan_forms import (
    PLAN_ID,
    PlanForm,
    PlanListed,
    PlanSavingShown,
    PlanShown,
    show_listed,
    show_plan,
    show_saving,
)
from pool_api.rest.wire import IdempotencyKey, PoolId
from pool_api.services import order_plans
from pool_api.services.order_plans import PlanRequest

router = gated_router("buying", "/pools/{pool}")

PlanId = Annotated[str, Path(pattern=PLAN_ID, description="The id of an order plan.")]


@router.post(
    "/order-plans",
    status_code=201,
    response_model=PlanShown,
    operation_id="make_order_plan",
    summary="Make the cheapest order plan",
    responses={201: {"headers": LOCATION}},
)
def make(pool: PoolId, asked: PlanForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
    """For the needs stated, or else those of `needs`, from what the book has, by the ladders of the months: exactly the
    cheapest, with the next order, what waiting would cost, and what changes if the needs are a fifth off. It orders
    nothing."""
    currency = office.currency(pool)
    wanted = PlanRequest(
        first_month=None if asked.first_month is None else Month.parse(asked.first_month),
        needs=asked.stated_needs(),
        months=asked.months,
        opening=asked.opening,
        order_cost=currency.minor(asked.order_cost),
        holding_cost=asked.holding_cost,
        expiry=asked.expiry,
        cash_limit=None if asked.cash_limit is None else currency.minor(asked.cash_limit),
        stock_cap=asked.stock_cap,
        key=key,
    )
    made = order_plans.make_plan(office, caller, pool, wanted)
    address = f"/pools/{pool}/order-plans/{made.kept.plan_id}"
    return replies.made(show_plan(made), address, replayed=made.replayed)


@router.get(
    "/order-plans", response_model=Page[PlanListed], operation_id="list_order_plans", summary="List the order plans"
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first, with what each was asked for."""
    return cursors.page(
        "list_order_plans",
        {"pool": pool},
        cursor,
        limit,
        read=lambda before, most: order_plans.list_plans(office, caller, pool, before=before, limit=most),
        show=show_listed,
        place=lambda each: each.plan_id,
    )


@router.get(
    "/order-plans/{plan_id}", response_model=PlanShown, operation_id="read_order_plan", summary="Read an order plan"
)
def read(pool: PoolId, plan_id: PlanId, caller: CallerOf, office: OfficeOf) -> Response:
    """As it was made, whatever the book and the ladders say by now."""
    return JSONResponse(show_plan(order_plans.read_plan(office, caller, pool, plan_id)))


@router.get(
    "/order-plans/{plan_id}/savings",
    response_model=Page[PlanSavingShown],
    operation_id="list_plan_savings",
    summary="List what an order plan saves each member",
)
def list_savings(
    pool: PoolId,
    plan_id: PlanId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Each member's share of what the plan costs beside the cheapest orders for its own needs alone, in order of member
    code."""
    currency = office.currency(pool)
    return cursors.page(
        "list_plan_savings",
        {"pool": pool, "plan_id": plan_id},
        cursor,
        limit,
        read=lambda after, most: order_plans.plan_shares(office, caller, pool, plan_id, after=after, limit=most),
        show=lambda each: show_saving(each, currency),
        place=lambda each: each.member,
    )
