"""Pools: their terms and policies."""

from decimal import Decimal
from typing import Any

from fastapi import Response

from pool_api.domain.pool import LoanPrice, PaymentPlan, Policy, Pool, StockCosting, StockFunding, ordered_pairs
from pool_api.domain.values import Currency
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.terms_forms import PairsOfMembers, PolicyShown, show_policy
from pool_api.rest.wire import (
    CurrencyCode,
    Day,
    MemberCode,
    Money,
    PoolId,
    ShortText,
    TimeZone,
    WireModel,
    stated,
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
    no_payments_between: PairsOfMembers = []


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
    return stated(
        {
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
    )


@router.get("", response_model=Page[PoolShown], operation_id="list_pools", summary="List pools")
def list_(
    caller: CallerOf, office: OfficeOf, cursors: CursorsOf, limit: Limit = USUAL_ROWS, cursor: Cursor = None
) -> Response:
    """An operator sees every pool, everyone else its own."""
    return cursors.page(
        "list_pools",
        {"key": caller.key_id},
        cursor,
        limit,
        read=lambda after, most: terms.list_pools(office, caller, after=after or "", limit=most),
        show=_show,
        place=lambda pool: pool.id,
    )


@router.get("/{pool}", response_model=PoolShown, operation_id="read_pool", summary="Read a pool's terms")
def read(pool: PoolId, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """The ETag is what a change has to state."""
    found, version = terms.read_terms(office, caller, pool)
    return replies.read(_show(found), version, copies)


@router.put(
    "/{pool}",
    response_model=PoolShown,
    operation_id="put_pool",
    summary="Make a pool or change its terms",
    responses=replaceable(PoolShown),
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
            no_payments_between=ordered_pairs(asked.policy.no_payments_between),
        ),
    )
    made, version = terms.put_terms(office, caller, wanted, version_in(tag))
    return replies.put(_show(made), version, f"/pools/{pool}", new=tag is None)
