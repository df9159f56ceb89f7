"""Why a figure of a month is what it is, and what the month would be under another policy."""

from typing import Annotated, Any

from fastapi import Depends, Path, Query, Response
from starlette.responses import JSONResponse

from pool_api.domain.pool import LoanPrice, LoansAtClose, PaymentPlan, SavingRule, StockCosting, StockFunding
from pool_api.domain.values import Month
from pool_api.rest.auth import CallerOf
from pool_api.rest.explanation_forms import (
    ComparisonShown,
    ExplainedShown,
    FigureListed,
    FigureName,
    OperandShown,
    show_comparison,
    show_explained,
    show_figure,
    show_operand,
)
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import also
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.terms_forms import PairsParam, pairs_named
from pool_api.rest.wire import PLAIN_DIGITS, Money, MonthText, PoolId, stated
from pool_api.services import explaining

router = gated_router("months", "/pools/{pool}/months/{month}")

MonthPath = Annotated[MonthText, Path()]
Depth = Annotated[
    int,
    Query(ge=0, le=20, description="So many steps down to what it comes from; 0: the figure alone."),
    PLAIN_DIGITS,
]


@router.get(
    "/explanations",
    response_model=Page[FigureListed],
    operation_id="list_figures",
    summary="List the figures of a month that can be explained",
)
def list_(
    pool: PoolId,
    month: MonthPath,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    under: Annotated[
        FigureName | None, Query(description="Only the figure of that name and those whose names go on from it.")
    ] = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of name; a clerk sees what its own member's statement is made of."""
    currency = office.currency(pool)
    return cursors.page(
        "list_figures",
        {"pool": pool, "month": month, "under": under},
        cursor,
        limit,
        read=lambda after, most: explaining.list_figures(
            office, caller, pool, Month.parse(month), under=under, after=after, limit=most
        ),
        show=lambda figure: show_figure(figure, currency),
        place=lambda figure: figure.figure,
    )


@router.get(
    "/explanations/{figure}",
    response_model=ExplainedShown,
    operation_id="read_explanation",
    summary="Explain a figure of a month",
)
def read(
    pool: PoolId,
    month: MonthPath,
    figure: Annotated[FigureName, Path()],
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    depth: Depth = 3,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """The formula and the operands that give it, and the same of the figures among these, down to the entries. To a
    clerk figures of others are operands only."""
    filters = {"pool": pool, "month": month, "figure": figure, "depth": depth}
    (after,) = cursors.open("read_explanation", filters, cursor) or (0,)
    found = explaining.explain(office, caller, pool, Month.parse(month), figure, depth=depth, after=after, limit=limit)
    shown = show_explained(found, office.currency(pool))
    if found.more:
        shown["next"] = cursors.seal("read_explanation", filters, [after + limit])
    return JSONResponse(shown)


@router.get(
    "/explanations/{figure}/operands",
    response_model=Page[OperandShown],
    operation_id="list_operands",
    summary="List all that the formula of a figure is applied to",
)
def list_operands(
    pool: PoolId,
    month: MonthPath,
    figure: Annotated[FigureName, Path()],
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In the order of the formula: an explanation states the first of them."""
    currency = office.currency(pool)
    return cursors.page(
        "list_operands",
        {"pool": pool, "month": month, "figure": figure},
        cursor,
        limit,
        read=lambda after, most: explaining.operands_of(
            office, caller, pool, Month.parse(month), figure, after=after or 0, limit=most
        ),
        show=lambda row: show_operand(row[1], currency),
        place=lambda row: row[0],
    )


def _changed_rules(
    pool: PoolId,
    office: OfficeOf,
    stock_costing: StockCosting | None = None,
    loan_price: LoanPrice | None = None,
    loans_at_close: LoansAtClose | None = None,
    stock_funding: StockFunding | None = None,
    payment_plan: PaymentPlan | None = None,
    smallest_payment: Money | None = None,
    no_payments_between: PairsParam | None = None,
    saving_rule: SavingRule | None = None,
) -> dict[str, Any]:
    """Give the rules of a policy that are stated, by name. Refuses: as the currency does for an amount; NotFound."""
    return stated(
        {
            "stock_costing": stock_costing,
            "loan_price": loan_price,
            "loans_at_close": loans_at_close,
            "stock_funding": stock_funding,
            "payment_plan": payment_plan,
            "smallest_payment": None if smallest_payment is None else office.currency(pool).minor(smallest_payment),
            "no_payments_between": None if no_payments_between is None else pairs_named(no_payments_between),
            "saving_rule": saving_rule,
        }
    )


@router.get(
    "/comparison",
    response_model=ComparisonShown,
    operation_id="compare_month",
    summary="See what a month would be under another policy",
    responses=also(409),
)
def compare(
    pool: PoolId,
    month: MonthPath,
    caller: CallerOf,
    office: OfficeOf,
    changed: Annotated[dict[str, Any], Depends(_changed_rules)],
) -> Response:
    """A rule that isn't given stays as it is. The month alone is costed anew, from what the month before left, a closed
    month beside the policy that its close froze. Nothing is recorded."""
    there, comparison = explaining.compare(office, caller, pool, Month.parse(month), changed)
    return JSONResponse(show_comparison(there, comparison, office.currency(pool)))
