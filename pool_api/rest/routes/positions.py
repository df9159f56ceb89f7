"""What everybody has and owes on a day, and what credits cost, or would cost to replace."""

from typing import Any, Literal

from fastapi import Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.job_forms import ReplacementShown, show_replacement
from pool_api.rest.month_forms import UnitCostShown, show_unit_cost
from pool_api.rest.office import OfficeOf
from pool_api.rest.wire import (
    CreditChange,
    CreditCount,
    Credits,
    Day,
    MemberCode,
    MoneyText,
    MonthText,
    PoolId,
    WireModel,
    stated,
)
from pool_api.services import months
from pool_api.services.months import Valued
from pool_api.services.replacement import replacement_on

router = gated_router("positions", "/pools/{pool}")


class MemberPosition(WireModel):
    """What a member has and owes: due and blended unit cost are of the month so far."""

    member: MemberCode
    held: CreditCount
    lent: CreditCount
    borrowed: CreditCount
    due: MoneyText
    blended_unit_cost: UnitCostShown | None = None


class OpenLoan(WireModel):
    """Credits that one member has from another and has not made good."""

    lender: MemberCode
    borrower: MemberCode
    quantity: Credits


class PositionsShown(WireModel):
    """Everybody's position now, or as of the end of a day; replacement is what the next order would be, by the price
    ladder of the day, and so what a credit costs to replace."""

    as_of: Day | None = None
    number: int = Field(ge=0, description="The number of the last entry that counts.")
    month: MonthText
    stock: CreditCount
    custodian: MemberCode | None = None
    closed_through: MonthText | None = None
    replacement: ReplacementShown | None = None
    members: list[MemberPosition]
    open_loans: list[OpenLoan]


class MonthCost(WireModel):
    """What a member's credits cost in one month."""

    month: MonthText
    state: Literal["open", "closed"]
    available: CreditChange
    cost: MoneyText
    blended_unit_cost: UnitCostShown | None = None


class MemberCostShown(WireModel):
    """A member's blended unit cost, month by month, and what a credit costs to replace today."""

    member: MemberCode
    items: list[MonthCost]
    replacement: ReplacementShown | None = None


@router.get("/positions", response_model=PositionsShown, operation_id="read_positions", summary="Read positions")
def positions(pool: PoolId, caller: CallerOf, office: OfficeOf, as_of: Day | None = None) -> Response:
    """Now, or as of the end of a day: what was effective on it or before."""
    shown = _show(months.valued(office, caller, pool, as_of))
    return JSONResponse(shown if as_of is None else {"as_of": as_of.isoformat(), **shown})


def _show(values: Valued) -> dict[str, Any]:
    book = values.book
    shown: dict[str, Any] = {
        "number": book.number,
        "month": str(values.month),
        "stock": book.stock,
        "members": [_position(values, member.code) for member in values.members],
        "open_loans": [
            {"lender": lender, "borrower": borrower, "quantity": quantity}
            for (lender, borrower), quantity in sorted(book.open.items())
            if quantity
        ],
    }
    if values.replacement is not None:
        shown["replacement"] = show_replacement(values.replacement)
    if book.custodian is not None:
        shown["custodian"] = book.custodian
    if book.closed_through is not None:
        shown["closed_through"] = str(book.closed_through)
    return shown


def _position(values: Valued, code: str) -> dict[str, Any]:
    book, sheet = values.book, values.sheets.get(code)
    shown: dict[str, Any] = {
        "member": code,
        "held": book.held.get(code, 0),
        "lent": sum(quantity for (lender, _), quantity in book.open.items() if lender == code),
        "borrowed": sum(quantity for (_, borrower), quantity in book.open.items() if borrower == code),
        "due": values.currency.text(sheet.due.total if sheet else 0),
    }
    if sheet is not None and sheet.unit_cost is not None:
        shown["blended_unit_cost"] = show_unit_cost(sheet.unit_cost, values.currency)
    return shown


@router.get(
    "/members/{member}/cost",
    response_model=MemberCostShown,
    operation_id="read_member_cost",
    summary="Read a member's blended unit cost by month",
)
def member_cost(pool: PoolId, member: MemberCode, caller: CallerOf, office: OfficeOf) -> Response:
    """Months in which the member had credits, first month first."""
    currency = office.currency(pool)
    items = []
    for each in months.member_costs(office, caller, pool, member):
        shown: dict[str, Any] = {
            "month": str(each.month),
            "state": "closed" if each.closed else "open",
            "available": each.available,
            "cost": currency.text(each.cost),
        }
        if each.unit_cost is not None:
            shown["blended_unit_cost"] = show_unit_cost(each.unit_cost, currency)
        items.append(shown)
    replaced = replacement_on(office, pool)
    return JSONResponse(
        stated({"member": member, "items": items, "replacement": replaced and show_replacement(replaced)})
    )
