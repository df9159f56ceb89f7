"""The keeper's report of a month: what its plots show as figures, and the report itself to print."""

from datetime import date
from typing import Any, Literal

from fastapi import Response
from pydantic import Field

from pool_api.domain.values import Month
from pool_api.reports.cautions import of_record
from pool_api.reports.overview import MonthCosts, Overview, OverviewFacts, Pair, overview
from pool_api.reports.plots import costs_words, lending_words, stock_words
from pool_api.reports.report import report_pdf
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.media import JSON, PDF, Accept, choose
from pool_api.rest.month_forms import UnitCostShown, show_unit_cost
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import files
from pool_api.rest.wire import (
    CreditChange,
    CreditCount,
    Day,
    Digest,
    MemberCode,
    MoneyText,
    MonthText,
    PoolId,
    ShortText,
    WireModel,
)
from pool_api.services import documents
from pool_api.services.documents import MonthEntries

router = gated_router("months", "/pools/{pool}/months")


class MemberUnitCostShown(WireModel):
    """What a member had available in a month, what that had cost, and its blended unit cost."""

    member: MemberCode
    available: CreditCount
    cost: MoneyText
    blended_unit_cost: UnitCostShown


class MonthCostsShown(WireModel):
    """What credits cost in one month: the pool price, and those members that had credits."""

    month: MonthText
    pool_price: UnitCostShown | None = None
    members: list[MemberUnitCostShown]


class StockLevelShown(WireModel):
    """The credits in stock at the end of a day."""

    on: Day
    credits: CreditChange


class PairShown(WireModel):
    """What a lender lent a borrower in a month and got back, what of it the month settles for which amount, and what
    stays open."""

    lender: MemberCode
    borrower: MemberCode
    lent: CreditChange
    returned: CreditChange
    settled: CreditCount
    amount: MoneyText
    open: CreditCount


class PlotWords(WireModel):
    """Each plot in words."""

    costs: str
    stock: str
    lending: str


class BasisShown(WireModel):
    """The entry of the journal that something rests on."""

    number: int = Field(ge=0)
    hash: Digest


class ReportShown(WireModel):
    """What the report's plots show: costs of up to twelve months, stock day by day, and who lends and borrows."""

    pool: PoolId
    pool_name: ShortText
    currency: str
    month: MonthText
    state: Literal["open", "closed"]
    rests_on: BasisShown
    costs: list[MonthCostsShown]
    stock_before: CreditChange
    stock: list[StockLevelShown]
    lending: list[PairShown]
    words: PlotWords
    cautions: list[str]


@router.get(
    "/{month}/report",
    response_model=ReportShown,
    operation_id="read_report",
    summary="Read the keeper's report of a month",
    responses=files(PDF),
)
def read(pool: PoolId, month: MonthText, caller: CallerOf, office: OfficeOf, accept: Accept = None) -> Response:
    """What its plots show as JSON, or the report with the plots for those who accept application/pdf."""
    wanted = choose(accept, (JSON, PDF))
    found = documents.report_of(office, caller, pool, Month.parse(month))
    made = overview(_facts(found, office.pool_today(pool)))
    if wanted == JSON:
        return replies.told(_shown(made))
    return replies.file(report_pdf(made), wanted, f"report-{pool}-{month}")


def _facts(found: MonthEntries, today: date) -> OverviewFacts:
    costed, month = found.pool, found.month
    rests_on = month.close or costed
    return OverviewFacts(
        pool=costed.directory.pool,
        sheets=[each.sheet for each in costed.months.values() if each.month <= month.month],
        entries=found.entries,
        targets=found.targets,
        stock_before=costed.stock_before(month.month),
        today=today,
        closed=month.close is not None,
        number=rests_on.number,
        hash=rests_on.hash,
        remarks=of_record(month.close.body if month.close else None),
    )


def _shown(made: Overview) -> dict[str, Any]:
    currency = made.pool.currency
    return {
        "pool": made.pool.id,
        "pool_name": made.pool.name,
        "currency": currency.code,
        "month": made.month,
        "state": "closed" if made.closed else "open",
        "rests_on": {"number": made.number, "hash": made.hash},
        "costs": [_costs(each, made) for each in made.costs],
        "stock_before": made.stock_before,
        "stock": [{"on": level.on.isoformat(), "credits": level.credits} for level in made.stock],
        "lending": [_pair(pair, made) for pair in made.pairs],
        "words": {"costs": costs_words(made), "stock": stock_words(made), "lending": lending_words(made)},
        "cautions": list(made.cautions),
    }


def _costs(costs: MonthCosts, made: Overview) -> dict[str, Any]:
    currency = made.pool.currency
    shown: dict[str, Any] = {"month": costs.month}
    if costs.price is not None:
        shown["pool_price"] = show_unit_cost(costs.price, currency)
    shown["members"] = [
        {
            "member": each.member,
            "available": each.available.quantity,
            "cost": currency.text(each.available.cost),
            "blended_unit_cost": show_unit_cost(each.unit_cost, currency),
        }
        for each in costs.members
    ]
    return shown


def _pair(pair: Pair, made: Overview) -> dict[str, Any]:
    return {
        "lender": pair.lender,
        "borrower": pair.borrower,
        "lent": pair.lent,
        "returned": pair.returned,
        "settled": pair.settled,
        "amount": made.pool.currency.text(pair.amount),
        "open": pair.open,
    }
