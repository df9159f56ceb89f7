"""Asking why a figure is what it is, and what a month would be under another policy."""

from collections.abc import Sequence
from decimal import Decimal

from pool_client.calls.call import POOL, Call, Page, get, model, page, query
from pool_client.models.directory import LoanPrice, LoansAtClose, PaymentPlan, SavingRule, StockCosting, StockFunding
from pool_client.models.explanations import Comparison, Explained, Figure, Operand

_MONTH = f"{POOL}/months/{{month}}"


def figures(pool: str, /, *, month: str, under: str | None = None, limit: int | None = None) -> Call[Page[Figure]]:
    """Give the figures of a month that can be explained, in order of name; with under, those whose names go on from
    it."""
    wanted = query(under=under, limit=limit)
    return get(f"{_MONTH}/explanations", {"pool": pool, "month": month}, page(Figure), query=wanted)


def explanation(
    pool: str,
    /,
    *,
    month: str,
    figure: str,
    depth: int | None = None,
    limit: int | None = None,
    cursor: str | None = None,
) -> Call[Explained]:
    """Explain a figure and, so many steps deep, the figures that it comes from; so many of them, or those after them,
    with their cursor. Parts belong together while computed_at is the same."""
    places = {"pool": pool, "month": month, "figure": figure}
    wanted = query(depth=depth, limit=limit, cursor=cursor)
    return get(f"{_MONTH}/explanations/{{figure}}", places, model(Explained), query=wanted)


def operands(pool: str, /, *, month: str, figure: str, limit: int | None = None) -> Call[Page[Operand]]:
    """Give all that the formula of a figure is applied to, in its order."""
    places = {"pool": pool, "month": month, "figure": figure}
    return get(f"{_MONTH}/explanations/{{figure}}/operands", places, page(Operand), query=query(limit=limit))


def comparison(
    pool: str,
    /,
    *,
    month: str,
    stock_costing: StockCosting | None = None,
    loan_price: LoanPrice | None = None,
    loans_at_close: LoansAtClose | None = None,
    stock_funding: StockFunding | None = None,
    payment_plan: PaymentPlan | None = None,
    smallest_payment: Decimal | None = None,
    no_payments_between: Sequence[tuple[str, str]] | None = None,
    saving_rule: SavingRule | None = None,
) -> Call[Comparison]:
    """Give a month under its policy beside one with other rules; those not given stay as they are."""
    pairs = None if no_payments_between is None else ",".join(map(".".join, no_payments_between)) or "none"
    wanted = query(
        stock_costing=stock_costing,
        loan_price=loan_price,
        loans_at_close=loans_at_close,
        stock_funding=stock_funding,
        payment_plan=payment_plan,
        smallest_payment=smallest_payment,
        no_payments_between=pairs,
        saving_rule=saving_rule,
    )
    return get(f"{_MONTH}/comparison", {"pool": pool, "month": month}, model(Comparison), query=wanted)
