"""Order plans: the cheapest orders for what coming months need, made, kept and drawn.

Needs are those of the pool, forecast or stated for all; or else figures of the plan's own, a field for each member and
month, filled in with those of the pool.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from pool_client.calls import buying as calls
from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.buying import Needs, OrderPlan
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.pages.drawings import drawn
from pool_web.plots import Plan, plan_svg
from pool_web.visit import Visit, form, page, to

_ROWS = 20
_MOST_MONTHS = 36
_MOST_FIGURES = 600
"""Needs on one page; a form has room for a few fields more."""
_A_NEED = re.compile(r"need_(?P<member>.+)_(?P<month>2[0-9]{3}-(0[1-9]|1[0-2]))")
_USUAL = {"months": "12", "order_cost": "0", "holding_cost": "0"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stating:
    """What is asked of a plan's own needs: for each member the fields with their months."""

    fields: Mapping[str, Sequence[tuple[str, str]]]

    def needs_in(self, filled: Form) -> list[Needs]:
        """Give what a form says of them."""
        found = []
        for member, fields in self.fields.items():
            credits = [filled.quantity(name, least=0) for name, _ in fields]
            found.append(Needs(member=member, credits=tuple(each or 0 for each in credits)))
        return found

    def lacks(self, filled: Form) -> bool:
        """Tell whether a form was sent before there were all these fields in it."""
        return any(name not in filled.texts for fields in self.fields.values() for name, _ in fields)


async def overview(visit: Visit) -> Response:
    """List the plans that were made, with a form for another."""
    return await _listed(visit)


async def make(visit: Visit) -> Response:
    """Have a plan made."""
    filled = await visit.filled_in()
    months = filled.quantity("months")
    if months is not None and months > _MOST_MONTHS:
        filled.problems["months"] = f"At most {_MOST_MONTHS}."
    stating = _carried(filled)
    if months and not filled.problems and filled.step != "forecast" and (filled.step == "needs" or filled["stating"]):
        filled, stating = await _stating(visit, filled, months)
    if filled.step:
        return await _listed(visit, filled, stating=stating, status=422 if filled.problems else 200)
    stated = stating.needs_in(filled) if stating else months
    order_cost, holding_cost = filled.money("order_cost", needed=False), filled.money("holding_cost", needed=False)
    expiry, stock_cap = filled.quantity("expiry", needed=False), filled.quantity("stock_cap", needed=False)
    opening = filled.quantity("opening", needed=False, least=0)
    cash_limit = filled.money("cash_limit", needed=False)
    if filled.problems or stated is None:
        return await _listed(visit, filled, stating=stating, status=422)
    try:
        made = await visit.book.plan_orders(
            stated,
            order_cost=order_cost or Decimal(0),
            holding_cost=holding_cost or Decimal(0),
            opening=opening,
            cash_limit=cash_limit,
            expiry=expiry,
            stock_cap=stock_cap,
            idempotency_key=filled.key,
        )
    except (Refused, Misused, NotThere) as refusal:
        return await _listed(visit, visit.renewed(filled), refusal, stating=stating)
    return to(f"{visit.home}/buying/plans/{made.plan_id}")


async def _stating(visit: Visit, filled: Form, months: int) -> tuple[Form, Stating | None]:
    """Give the form with a field for each need, those that are new filled in with what counts so far."""
    found = await visit.book.needs(months=months)
    if len(found.members) * months > _MOST_FIGURES:
        most = _MOST_FIGURES // len(found.members)
        filled.problems["months"] = f"With so many members, needs are stated for at most {most} months on a page."
        return filled, _carried(filled)
    fields, known = dict[str, list[tuple[str, str]]](), dict[str, str]()
    for each in found.members:
        fields[each.member] = [(f"need_{each.member}_{of.month}", of.month) for of in each.months]
        known |= {f"need_{each.member}_{of.month}": str(of.need) for of in each.months}
    stating = Stating(fields=fields)
    if filled["stating"] and stating.lacks(filled):
        filled.problems["months"] = "Look at the needs of the months that came in addition."
    return replace(filled, texts={**known, **filled.texts, "stating": "yes"}), stating


def _carried(filled: Form) -> Stating | None:
    """Give the fields that a form was sent with."""
    fields = dict[str, list[tuple[str, str]]]()
    for name in filled.texts if filled["stating"] and filled.step != "forecast" else ():
        if found := _A_NEED.fullmatch(name):
            fields.setdefault(found["member"], []).append((name, found["month"]))
    return Stating(fields=fields) if fields else None


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
    visit: Visit,
    making: Form | None = None,
    refusal: PoolError | None = None,
    *,
    stating: Stating | None = None,
    status: int = 200,
) -> Response:
    return visit.show(
        "plans.html",
        status=(refusal.status or 409) if refusal else status,
        plans=await visit.page_of(calls.order_plans(visit.place("pool"), limit=_ROWS)),
        making=making or visit.form(_USUAL),
        stating=stating,
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    form("/buying/plans", overview, make),
    page("/buying/plans/{plan}", one),
    page("/buying/plans/{plan}/plot.svg", plot),
)
