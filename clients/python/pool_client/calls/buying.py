"""Buying: price ladders, what orders cost, purchases beside the ladder of their day, and order plans."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from pool_client.calls.call import CSV, POOL, Call, Page, Versioned, get, model, nothing, page, query, upload, versioned
from pool_client.models.buying import (
    LaddersRead,
    LadderVersion,
    Needs,
    OrderPlan,
    OrderPrice,
    PlanListed,
    PlanSaving,
    PriceLadder,
    PurchaseCheck,
    Tier,
)
from pool_client.models.saving import Savings
from pool_client.wire import write

_LADDER = f"{POOL}/price-ladders/{{valid_from}}"
_PLANS = f"{POOL}/order-plans"


def ladders(pool: str, /, *, limit: int | None = None) -> Call[Page[PriceLadder]]:
    """Give the price ladders by the day that they are valid from."""
    return get(f"{POOL}/price-ladders", {"pool": pool}, page(PriceLadder), query=query(limit=limit))


def ladder(pool: str, /, *, valid_from: date) -> Call[Versioned[PriceLadder]]:
    """Give the price ladder that is valid from a day."""
    return get(_LADDER, _places(pool, valid_from), versioned(PriceLadder))


def put_ladder(
    pool: str, tiers: Sequence[Tier], /, *, valid_from: date, tag: str | None = None
) -> Call[Versioned[PriceLadder]]:
    """Enter a price ladder, or change the one that was read with a tag.

    Takes:   tiers — quantities rise from tier to tier; the first one begins at the smallest order.
    Refuses: Refused when they don't, or there is one from that day already; Stale when somebody was faster."""
    headers = {} if tag is None else {"If-Match": tag}
    return Call(
        method="PUT",
        path=_LADDER,
        places=_places(pool, valid_from),
        headers=headers,
        body={"tiers": write(tuple(tiers))},
        understand=versioned(PriceLadder),
    )


def withdraw_ladder(pool: str, /, *, valid_from: date, tag: str) -> Call[None]:
    """Let the ladder that was read with a tag count no more; its versions stay."""
    return Call(
        method="DELETE",
        path=_LADDER,
        places=_places(pool, valid_from),
        headers={"If-Match": tag},
        understand=nothing,
    )


def ladder_versions(pool: str, /, *, valid_from: date, limit: int | None = None) -> Call[Page[LadderVersion]]:
    """Give all that was said of the ladder that is valid from a day, newest first."""
    return get(f"{_LADDER}/versions", _places(pool, valid_from), page(LadderVersion), query=query(limit=limit))


def propose_ladders(
    pool: str,
    content: bytes,
    /,
    *,
    valid_from: date | None = None,
    day_column: str | None = None,
    credits_column: str | None = None,
    price_column: str | None = None,
    sheet: str | None = None,
) -> Call[LaddersRead]:
    """Have the ladders of a file read; nothing is kept.

    Takes:   valid_from — the day of a ladder whose file has no such column; the columns by their header words, guessed
             unless stated; sheet — of a spreadsheet, the first that holds a table unless stated."""
    wanted = query(
        valid_from=valid_from,
        day_column=day_column,
        credits_column=credits_column,
        price_column=price_column,
        sheet=sheet,
    )
    return Call(
        method="POST",
        path=f"{POOL}/price-ladders/proposal",
        places={"pool": pool},
        query=wanted,
        body=upload(content),
        understand=model(LaddersRead),
        harmless=True,
    )


def order_price(pool: str, /, *, quantity: int, on: date | None = None) -> Call[OrderPrice]:
    """Give what an order costs, today unless another day is stated, and which larger ones cost less in total."""
    return get(f"{POOL}/order-prices", {"pool": pool}, model(OrderPrice), query=query(quantity=quantity, on=on))


def purchase_checks(pool: str, /, *, month: str, limit: int | None = None) -> Call[Page[PurchaseCheck]]:
    """Give a month's purchases, each beside the ladder of its day, first entry first."""
    path = f"{POOL}/months/{{month}}/purchase-checks"
    return get(path, {"pool": pool, "month": month}, page(PurchaseCheck), query=query(limit=limit))


def plan_orders(
    pool: str,
    needs: Sequence[Needs] | int = 12,
    /,
    *,
    first_month: str | None = None,
    opening: int | None = None,
    order_cost: Decimal = Decimal(0),
    holding_cost: Decimal = Decimal(0),
    expiry: int | None = None,
    cash_limit: Decimal | None = None,
    stock_cap: int | None = None,
    idempotency_key: str | None = None,
) -> Call[OrderPlan]:
    """Have the cheapest order plan made for needs, and kept. It orders nothing.

    Takes:   needs — for the same months for every member, from first_month on (None: the present one), or else for how
             many months those count that are forecast or stated by hand; opening — what is at hand then (None: what the
             book has); order_cost — with every order; holding_cost — of a credit and month; expiry — months in which a
             credit is good; cash_limit — of a month; stock_cap — where orders stop.
    Refuses: Refused when no plan meets the needs, with the first month and the limits that fail."""
    months = needs if isinstance(needs, int) else max((len(each.credits) for each in needs), default=None)
    asked = {
        "first_month": first_month,
        "needs": None if isinstance(needs, int) else tuple(needs),
        "months": months,
        "opening": opening,
        "order_cost": order_cost,
        "holding_cost": holding_cost,
        "expiry": expiry,
        "cash_limit": cash_limit,
        "stock_cap": stock_cap,
    }
    return Call(
        method="POST",
        path=_PLANS,
        places={"pool": pool},
        body=write(asked),
        understand=model(OrderPlan),
        keyed=True,
        key=idempotency_key,
    )


def order_plans(pool: str, /, *, limit: int | None = None) -> Call[Page[PlanListed]]:
    """Give the order plans that were made, newest first, with what each was asked for."""
    return get(_PLANS, {"pool": pool}, page(PlanListed), query=query(limit=limit))


def order_plan(pool: str, /, *, plan_id: str) -> Call[OrderPlan]:
    """Give one order plan, as it was made."""
    return get(f"{_PLANS}/{{plan_id}}", {"pool": pool, "plan_id": plan_id}, model(OrderPlan))


def plan_savings(pool: str, /, *, plan_id: str, limit: int | None = None) -> Call[Page[PlanSaving]]:
    """Give what an order plan saves each member beside ordering alone, in order of member code."""
    places = {"pool": pool, "plan_id": plan_id}
    return get(f"{_PLANS}/{{plan_id}}/savings", places, page(PlanSaving), query=query(limit=limit))


def savings(pool: str, /, *, from_month: str, to_month: str | None = None) -> Call[Savings]:
    """Give what ordering together was worth to each member in some months, and how each rule would share it."""
    wanted = query(from_month=from_month, to_month=to_month)
    return get(f"{POOL}/savings", {"pool": pool}, model(Savings), query=wanted)


def savings_csv(pool: str, /, *, from_month: str, to_month: str | None = None) -> Call[str]:
    """Give what each of some months was worth to each member as CSV text."""
    wanted, path = query(from_month=from_month, to_month=to_month), f"{POOL}/savings"
    return get(path, {"pool": pool}, lambda answer: answer.content.decode(), query=wanted, headers={"Accept": CSV})


def _places(pool: str, valid_from: date) -> dict[str, str]:
    return {"pool": pool, "valid_from": valid_from.isoformat()}
