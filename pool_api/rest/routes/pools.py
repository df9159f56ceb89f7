"""Pools: their terms and policies."""

from decimal import Decimal
from typing import Any

from fastapi import Response
from starlette.responses import JSONResponse

from pool_api.domain.pool import LoanPrice, PaymentPlan, Policy, Pool, StockCosting, StockFunding
from pool_api.domain.values import Currency
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, is_current, version_in, version_tag
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import ETAG, LOCATION
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.terms_forms import PolicyShown, show_policy
from pool_api.rest.wire import (
    CurrencyCode,
    Day,
    MemberCode,
    Money,
    PoolId,
    ShortText,
    TimeZone,
    WireModel,
)
from pool_api.services import terms

router = gated_router("pools", "/pools")


class PolicyForm(WireModel):
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting = StockCosting.MONTH_AVERAGE
    loan_price: LoanPrice = LoanPrice.POOL
    stock_funding: StockFunding = StockFunding.PAYERS
    payment_plan: PaymentPlan = PaymentPlan.FEWEST
    smallest_payment: Money = Decimal(0)


class PoolForm(WireModel):
    """A pool's terms. Currency and time zone never change; the first day and the first custodian not once the journal
    has entries. keeper_member is the hub of a hub plan and must be a member, as must the custodian."""

    name: ShortText
    vendor: ShortText
    currency: CurrencyCode
    time_zone: TimeZone
    began_on: Day
    keeper_member: MemberCode | None = None
    custodian: MemberCode | None = None
    policy: PolicyForm = PolicyForm()


class PoolShown(WireModel):
    """A pool's terms."""

    id: PoolId
    name: ShortText
    vendor: ShortText
    currency: CurrencyCode
    time_zone: TimeZone
    began_on: Day
    keeper_member: MemberCode | None = None
    custodian: MemberCode | None = None
    policy: PolicyShown


def _show(pool: Pool) -> dict[str, Any]:
    shown = {
        "id": pool.id,
        "name": pool.name,
        "vendor": pool.vendor,
        "currency": pool.currency.code,
        "time_zone": pool.time_zone,
        "began_on": pool.began_on.isoformat(),
        "keeper_member": pool.keeper_member,
        "custodian": pool.custodian,
        "policy": show_policy(pool.policy, pool.currency),
    }
    return {name: value for name, value in shown.items() if value is not None}


@router.get("", response_model=Page[PoolShown], operation_id="list_pools", summary="List pools")
def list_(
    caller: CallerOf, office: OfficeOf, cursors: CursorsOf, limit: Limit = USUAL_ROWS, cursor: Cursor = None
) -> Response:
    """An operator sees every pool, everyone else its own."""
    place = cursors.open("list_pools", {"key": caller.key_id}, cursor)
    found = terms.list_pools(office, caller, after=place[0] if place else "", limit=limit + 1)
    page: dict[str, Any] = {"items": [_show(pool) for pool in found[:limit]]}
    if len(found) > limit:
        page["next"] = cursors.seal("list_pools", {"key": caller.key_id}, [found[limit - 1].id])
    return JSONResponse(page)


@router.get("/{pool}", response_model=PoolShown, operation_id="read_pool", summary="Read a pool's terms")
def read(pool: PoolId, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """The ETag is what a change has to state."""
    found, version = terms.read_terms(office, caller, pool)
    tag = version_tag(version)
    if is_current(copies, tag):
        return Response(status_code=304, headers={"ETag": tag})
    return JSONResponse(_show(found), headers={"ETag": tag})


@router.put(
    "/{pool}",
    response_model=PoolShown,
    operation_id="put_pool",
    summary="Make a pool or change its terms",
    responses={
        200: {"headers": ETAG},
        201: {"model": PoolShown, "headers": {**LOCATION, **ETAG}, "description": "It was made."},
    },
)
def put(pool: PoolId, asked: PoolForm, caller: CallerOf, office: OfficeOf, tag: IfMatchOrNew = None) -> Response:
    """Without If-Match an operator makes a pool; with the ETag that was read its keeper changes it."""
    currency = Currency(asked.currency)
    wanted = Pool(
        id=pool,
        name=asked.name,
        vendor=asked.vendor,
        currency=currency,
        time_zone=asked.time_zone,
        began_on=asked.began_on,
        keeper_member=asked.keeper_member,
        custodian=asked.custodian,
        policy=Policy(
            stock_costing=asked.policy.stock_costing,
            loan_price=asked.policy.loan_price,
            stock_funding=asked.policy.stock_funding,
            payment_plan=asked.policy.payment_plan,
            smallest_payment=currency.minor(asked.policy.smallest_payment),
        ),
    )
    made, version = terms.put_terms(office, caller, wanted, version_in(tag))
    headers = {"ETag": version_tag(version)}
    if tag is None:
        headers["Location"] = f"/v1/pools/{pool}"
    return JSONResponse(_show(made), 201 if tag is None else 200, headers)
