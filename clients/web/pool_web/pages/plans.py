"""Order plans: the cheapest orders for what coming months need, made, kept and drawn."""

from decimal import Decimal

from pool_client.calls import buying as calls
from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.buying import OrderPlan
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.pages.drawings import drawn
from pool_web.plots import Plan, plan_svg
from pool_web.visit import Visit, form, page, to

_ROWS = 20
_MOST_MONTHS = 36
_USUAL = {"months": "12", "order_cost": "0", "holding_cost": "0"}


async def overview(visit: Visit) -> Response:
    """List the plans that were made, with a form for another."""
    return await _listed(visit)


async def make(visit: Visit) -> Response:
    """Have a plan made."""
    filled = await visit.filled_in()
    months = filled.quantity("months")
    if months is not None and months > _MOST_MONTHS:
        filled.problems["months"] = f"At most {_MOST_MONTHS}."
    order_cost, holding_cost = filled.money("order_cost", needed=False), filled.money("holding_cost", needed=False)
    expiry, stock_cap = filled.quantity("expiry", needed=False), filled.quantity("stock_cap", needed=False)
    opening = filled.quantity("opening", needed=False, least=0)
    cash_limit = filled.money("cash_limit", needed=False)
    if filled.problems or months is None:
        return await _listed(visit, filled, status=422)
    try:
        made = await visit.book.plan_orders(
            months,
            order_cost=order_cost or Decimal(0),
            holding_cost=holding_cost or Decimal(0),
            opening=opening,
            cash_limit=cash_limit,
            expiry=expiry,
            stock_cap=stock_cap,
            idempotency_key=filled.key,
        )
    except (Refused, Misused, NotThere) as refusal:
        return await _listed(visit, visit.renewed(filled), refusal)
    return to(f"{visit.home}/buying/plans/{made.plan_id}")


async def one(visit: Visit) -> Response:
    """Show a plan."""
    found = await visit.book.order_plan(plan_id=visit.place("plan"))
    return visit.show("plan.html", found=found, words=plan_words(found))


async def plot(visit: Visit) -> Response:
    """Draw a plan."""
    found = await visit.book.order_plan(plan_id=visit.place("plan"))
    shown = Plan(
        months=tuple(each.month for each in found.months),
        need=tuple(each.need for each in found.months),
        ordered=tuple(each.order.quantity if each.order else 0 for each in found.months),
        closing=tuple(each.closing for each in found.months),
    )
    return await drawn(visit, lambda look: plan_svg(shown, look))


def plan_words(found: OrderPlan) -> str:
    """Say what the plot of a plan shows."""
    orders = [(each.month, each.order.quantity) for each in found.months if each.order]
    said = ", ".join(f"{quantity:,} in {month}" for month, quantity in orders) or "none"
    most = max(found.months, key=lambda each: each.need)
    return (
        f"Orders, needs and what is left over, month by month from {found.first_month} to {found.last_month}. "
        f"Orders: {said}. Most is needed in {most.month}: {most.need:,}."
    )


async def _listed(
    visit: Visit, making: Form | None = None, refusal: PoolError | None = None, *, status: int = 200
) -> Response:
    return visit.show(
        "plans.html",
        status=(refusal.status or 409) if refusal else status,
        plans=await visit.page_of(calls.order_plans(visit.place("pool"), limit=_ROWS)),
        making=making or visit.form(_USUAL),
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    form("/buying/plans", overview, make),
    page("/buying/plans/{plan}", one),
    page("/buying/plans/{plan}/plot.svg", plot),
)
