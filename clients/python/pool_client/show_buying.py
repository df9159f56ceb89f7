"""What people are shown of ladders, orders and plans. Pure, as show.py, which shows all the rest."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from pool_client.cells import tabulated
from pool_client.models.buying import (
    LaddersRead,
    LadderVersion,
    NextOrder,
    Order,
    OrderPlan,
    OrderPrice,
    OtherNeeds,
    PlanListed,
    PlanSaving,
    PriceLadder,
    PurchaseCheck,
    Tier,
)
from pool_client.table import Table

_TIERS = ">from credits|>unit price"


def ladders(found: Iterable[PriceLadder]) -> list[Table]:
    """Show price ladders, a table each."""
    return [
        tabulated(
            f"Price ladder from {each.valid_from} (version {each.version})",
            _TIERS,
            _rows(each.tiers),
            *(f"Doubt: {doubt}." for doubt in each.doubts),
        )
        for each in found
    ] or [tabulated("Price ladders", _TIERS, [])]


def ladders_read(found: LaddersRead) -> list[Table]:
    """Show how a file of ladders was read: its columns, the doubts, and the ladders."""
    columns = [(role.replace("_", " "), word) for role, word in found.columns.items()]
    words = [f"Doubt: {each}" for each in found.doubts]
    if found.other_sheets:
        words.append(f"The sheet {found.sheet} is read; others are {', '.join(found.other_sheets)}.")
    return [
        tabulated("Columns", "says|column", columns, *words),
        *(tabulated(f"Price ladder from {each.valid_from}", _TIERS, _rows(each.tiers)) for each in found.ladders),
    ]


def versions(found: Iterable[LadderVersion]) -> list[Table]:
    """Show the versions of a ladder, a table each."""
    return [
        tabulated(
            f"Version {each.version}, {each.written_at} by {each.written_by}",
            _TIERS,
            _rows(each.tiers or ()),
            *(() if each.tiers else ("Withdrawn.",)),
        )
        for each in found
    ]


def _rows(tiers: Iterable[Tier]) -> list[tuple[int, object]]:
    return [(each.from_credits, each.unit_price) for each in tiers]


def order_price(found: OrderPrice) -> list[Table]:
    """Show what an order costs, and the larger ones that cost less in total."""
    orders: list[tuple[Order, object, object]] = [(found.order, None, None)] if found.order else []
    orders += [(each, each.more, each.saves) for each in found.cheaper]
    if not found.order:
        orders.append((found.cheapest, None, None))
    rows = [(each.quantity, each.from_credits, each.unit_price, each.amount, *more) for each, *more in orders]
    title = f"An order of {found.quantity:,} on {found.on} (price ladder from {found.ladder})"
    return [tabulated(title, ">credits|>tier from|>unit price|>amount|>more credits|>saves", rows, *_advice(found))]


def _advice(found: OrderPrice) -> Iterator[str]:
    if not found.order:
        yield f"Orders of {found.quantity:,} have no price; the smallest one that is sold is shown."
    elif found.cheaper:
        first = found.cheaper[0]
        yield f"{first.more:,} more credits would cost {first.saves:,} less in total."
    best = found.cheapest
    yield f"The cheapest order of at least {found.quantity:,} credits is of {best.quantity:,}, for {best.amount:,}."


def purchase_checks(found: Iterable[PurchaseCheck]) -> list[Table]:
    """Show purchases beside the ladder of their day."""
    rows = [
        (
            str(each.entry),
            each.on,
            each.paid_by,
            each.order_number,
            each.quantity,
            each.order and each.order.unit_price,
            each.amount,
            each.order and each.order.amount,
            each.difference,
            each.undone or None,
        )
        for each in found
    ]
    columns = ">entry|day|paid by|order|>credits|>unit price|>paid|>by the ladder|>difference|>undone"
    words = "What was paid includes fees, which the ladder doesn't know."
    return [tabulated("Purchases beside the price ladder", columns, rows, words)]


def order_plans(found: Iterable[PlanListed]) -> list[Table]:
    """Show plans as they were asked for."""
    rows = [
        (
            each.plan_id,
            each.made_at.date(),
            f"{each.first_month} to {each.last_month}",
            each.need,
            each.opening.quantity,
            each.order_cost,
            each.holding_cost,
            each.expiry,
            each.cash_limit,
            each.stock_cap,
        )
        for each in found
    ]
    columns = (
        "id|made on|months|>need|>at hand|>cost of an order|>holding a month|>good for months|>cash limit|>stock cap"
    )
    return [tabulated("Order plans", columns, rows)]


def order_plan(found: OrderPlan) -> list[Table]:
    """Show a plan: the next order on top, then its months, its costs, and what other needs would change."""
    months = [
        (
            each.month,
            each.opening,
            each.order and each.order.quantity,
            each.order and each.order.unit_price,
            each.order and each.order.amount,
            each.need,
            each.surplus or None,
            each.closing,
            each.holding or None,
        )
        for each in found.months
    ]
    columns = "month|>opening|>order|>unit price|>amount|>need|>surplus|>closing|>holding"
    costs = found.costs
    total = (
        f"Credits {costs.credits:,}, ordering {costs.ordering:,}, holding {costs.holding:,}: {costs.total:,} in total."
    )
    others = [_other(each) for each in found.other_needs]
    return [
        tabulated(f"Next order (plan {found.plan_id})", "", [], *_next_order(found.next_order), *_opening(found)),
        tabulated("Months", columns, months, total),
        tabulated("If the needs are others", "needs|next order|>credits|>total", others, *found.cautions),
    ]


def _next_order(found: NextOrder | None) -> Iterator[str]:
    if found is None:
        yield "Nothing has to be ordered."
        return
    order, waiting = found.order, found.waiting
    yield (
        f"In {found.month}: {order.quantity:,} credits at {order.unit_price:,} (tier from {order.from_credits:,}), "
        f"for {order.amount:,}; covers the needs through {found.covers_through}."
    )
    if waiting.missing:
        yield f"It can't wait: {waiting.missing:,} credits would be missing in {found.month}."
    elif waiting.cost is None:
        yield "It can't wait: a later need could no longer be met within the limits."
    else:
        yield f"Ordering nothing in {found.month} would cost {waiting.cost:,} more, at the least."


def _opening(found: OrderPlan) -> Iterator[str]:
    opening = found.opening
    if found.forecast_at is not None:
        yield f"Needs as forecast, or stated by hand, up to entry {found.forecast_at}."
    if opening.entry is None:
        yield f"At hand: {opening.quantity:,} credits, as stated."
    else:
        yield (
            f"At hand: {opening.quantity:,} credits as of entry {opening.entry}, {opening.stock or 0:,} in stock and "
            f"{opening.held or 0:,} with members."
        )
    if found.unused:
        yield f"Of these {found.unused:,} are used by no need in time."


def _other(each: OtherNeeds) -> tuple[object, ...]:
    if each.state == "unmet":
        in_the_way = ", ".join(each.limits)
        return f"{each.percent} %", f"{each.month}: {each.need:,} can't be met ({in_the_way})", None, None
    return f"{each.percent} %", each.month, each.order and each.order.quantity, each.total


def plan_savings(found: Iterable[PlanSaving]) -> list[Table]:
    """Show what a plan saves each member."""
    members = list(found)
    rows = [(each.member, each.need, each.at_hand, each.alone, each.share, each.saving) for each in members]
    alone, share = (sum((getattr(each, name) for each in members), Decimal(0)) for name in ("alone", "share"))
    words = [f"Together {share:,}, alone {alone:,}: saves {alone - share:,}."]
    if worse := [each.member for each in members if each.saving < 0]:
        words.append(f"Better off alone: {', '.join(worse)}.")
    columns = "member|>need|>at hand|>alone|>share|>saving"
    return [tabulated("What the plan saves beside ordering alone", columns, rows, *words)]
