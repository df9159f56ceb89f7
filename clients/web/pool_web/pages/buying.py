"""Buying: the vendor's prices for an order of a size, and joint orders that members commit to."""

from datetime import datetime
from zoneinfo import ZoneInfo

from pool_client.errors import Missing, Misused, NotAllowed, PoolError, Refused, Stale
from pool_client.models.buying import OrderPrice
from pool_client.models.rounds import RoundOrder
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, deed, form, listed, to, together

_MOST_ORDER = 100


async def show(visit: Visit) -> Response:
    """Show the joint orders, and what an order of a size costs."""
    return await _shown(visit)


async def open_round(visit: Visit) -> Response:
    """Open a joint order."""
    filled = await visit.filled_in()
    note, deadline = filled.text("note", needed=False, most=MOST_NOTE), _instant(visit, filled)
    if filled.problems or deadline is None:
        return await _shown(visit, filled, status=422)
    try:
        step = await visit.book.open_round(deadline=deadline, note=note, idempotency_key=filled.key)
    except (Refused, Misused, NotAllowed) as refusal:
        return await _shown(visit, visit.renewed(filled), refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/buying/{step.round_id}")


async def one(visit: Visit) -> Response:
    """Show a joint order as it is now, with what it comes to."""
    return await _one(visit)


async def commit(visit: Visit) -> Response:
    """Commit a member to a quantity, or change that."""
    filled, round_id = await visit.filled_in(), visit.place("round_id")
    member, text = filled.text("member"), filled["quantity"]
    quantity = 0 if text == "0" else filled.quantity("quantity")
    if filled.problems or quantity is None:
        return await _one(visit, filled, status=422)
    try:
        tag = (await visit.book.commitment(round_id=round_id, member=member)).tag
    except Missing:
        tag = None
    try:
        await visit.book.put_commitment(round_id=round_id, member=member, quantity=quantity, tag=tag)
    except (Refused, Misused, NotAllowed, Stale) as refusal:
        return await _one(visit, filled, refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/buying/{round_id}", done="yes")


async def close(visit: Visit) -> Response:
    """Record what a joint order became: its purchase and draws."""
    filled, round_id = await visit.filled_in(), visit.place("round_id")
    paid_by, seen = filled.text("paid_by"), filled["seen"]
    quantity, amount = filled.quantity("quantity", needed=False), filled.money("amount", needed=False)
    number = filled.text("order_number", needed=False, most=_MOST_ORDER) or None
    if filled.problems or not seen.isdecimal():
        return await _one(visit, filled, status=422)
    order = RoundOrder(paid_by=paid_by, quantity=quantity, amount=amount, order_number=number)
    try:
        await visit.book.close_round(
            order,
            round_id=round_id,
            seen=int(seen),
            accept_unanswered=filled.ticked("accept_unanswered"),
            idempotency_key=filled.key,
        )
    except (Refused, Misused, NotAllowed, Stale) as refusal:
        return await _one(visit, visit.renewed(filled), refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/buying/{round_id}", done="yes")


async def _one(
    visit: Visit, filled: Form | None = None, *, refusal: PoolError | None = None, status: int = 200
) -> Response:
    found, members = await together(visit.book.round_(round_id=visit.place("round_id")), listed(visit.book.members()))
    known = {"member": (visit.own.member if visit.own else None) or ""}
    return visit.show(
        "round.html",
        status=status,
        found=found,
        members=[each for each in members if each.left_on is None],
        form=filled or visit.form(known),
        refusal=refusal.sentence if refusal else "",
        done=visit.query.get("done") == "yes",
    )


async def _shown(
    visit: Visit, filled: Form | None = None, *, refusal: PoolError | None = None, status: int = 200
) -> Response:
    asked = Form(texts=visit.query, key="")
    quantity = asked.quantity("quantity", needed=False)
    rounds, ladders = await together(listed(visit.book.rounds(limit=50)), listed(visit.book.ladders()))
    price, sentence = await _price(visit, quantity) if quantity else (None, "")
    return visit.show(
        "buying.html",
        status=status,
        rounds=rounds,
        ladders=ladders,
        price=price,
        no_price=sentence,
        asked=asked,
        form=filled or visit.form({}),
        refusal=refusal.sentence if refusal else "",
    )


async def _price(visit: Visit, quantity: int) -> tuple[OrderPrice | None, str]:
    """Give what an order costs, or the sentence that says why that can't be told."""
    try:
        return await visit.book.order_price(quantity=quantity), ""
    except (Refused, Missing) as refusal:
        return None, refusal.sentence


def _instant(visit: Visit, filled: Form) -> datetime | None:
    """Read an instant on the pool's clocks."""
    zone = ZoneInfo(visit.pool.time_zone if visit.pool else "UTC")
    try:
        return datetime.fromisoformat(filled["deadline"]).replace(tzinfo=zone)
    except ValueError:
        filled.problems["deadline"] = "A day and a time."
        return None


ROUTES = (
    form("/buying", show, open_round),
    form("/buying/{round_id}", one, commit),
    deed("/buying/{round_id}/close", close),
)
