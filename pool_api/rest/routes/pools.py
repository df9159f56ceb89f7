"""Pools: their terms and the policies that count from a month on."""

from typing import Any

from fastapi import Response
from starlette.responses import JSONResponse

from pool_api.domain.pool import Policy, Pool
from pool_api.domain.values import Currency, Month
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.terms_forms import PolicyForm, PolicyShown, show_policy
from pool_api.rest.wire import (
    CurrencyCode,
    Day,
    MemberCode,
    MonthText,
    PoolId,
    ShortText,
    TimeZone,
    WireModel,
    stated,
)
from pool_api.services import terms

router = gated_router("pools", "/pools")


class PoolForm(WireModel):
    """A pool's terms. Currency and time zone never change; the first day and the first custodian not once the journal
    has entries. keeper_member is the hub of a hub plan and must be a member, as must the custodian. policy is the one
    that the pool begins with; it can change until the first month is closed, see policies for later months."""

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


class PolicyFromShown(PolicyShown):
    """The policy that counts from a month on, until the next one."""

    from_month: MonthText


class PoliciesShown(WireModel):
    """Every policy of a pool, in the order of the months that they begin with."""

    items: list[PolicyFromShown]


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
        policy=asked.policy.policy(currency),
    )
    made, version = terms.put_terms(office, caller, wanted, version_in(tag))
    return replies.put(_show(made), version, f"/pools/{pool}", new=tag is None)


@router.get("/{pool}/policies", response_model=PoliciesShown, operation_id="list_policies", summary="List the policies")
def list_policies(pool: PoolId, caller: CallerOf, office: OfficeOf) -> Response:
    """The one that the pool began with, and those agreed since; a closed month keeps the one that its close froze."""
    found, _ = terms.read_terms(office, caller, pool)
    return JSONResponse({"items": [_show_from(*each, found.currency) for each in found.agreed().items()]})


def _show_from(month: Month, policy: Policy, currency: Currency) -> dict[str, Any]:
    return {"from_month": str(month), **show_policy(policy, currency)}


@router.get(
    "/{pool}/policies/{month}",
    response_model=PolicyFromShown,
    operation_id="read_policy",
    summary="Read the policy that begins with a month",
)
def read_policy(
    pool: PoolId, month: MonthText, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """The ETag is what a change has to state."""
    found, version = terms.read_policy(office, caller, pool, Month.parse(month))
    return replies.read(_show_from(Month.parse(month), found, office.currency(pool)), version, copies)


@router.put(
    "/{pool}/policies/{month}",
    response_model=PolicyFromShown,
    operation_id="put_policy",
    summary="Agree a policy from a month on, or change it",
    responses=replaceable(PolicyFromShown),
)
def put_policy(
    pool: PoolId,
    month: MonthText,
    asked: PolicyForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """Without If-Match for a month that no policy begins with yet; counts until the month that the next begins with."""
    currency, begins = office.currency(pool), Month.parse(month)
    made, version = terms.put_policy(office, caller, pool, asked.policy(currency), version_in(tag), month=begins)
    address = f"/pools/{pool}/policies/{month}"
    return replies.put(_show_from(begins, made, currency), version, address, new=tag is None)
