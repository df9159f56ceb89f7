"""A joint order becomes one purchase and its draws: previewed, and closed only as it was seen."""

from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.rounds import RoundOrder
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.pages.acting import acted_for
from pool_web.visit import Visit, form, to, together

_MOVED = "Somebody has committed since you looked, so nothing was recorded. This is how the order stands now."


async def preview(visit: Visit) -> Response:
    """Show what closing a round would record."""
    return await _shown(visit)


async def close(visit: Visit) -> Response:
    """Record the purchase and the draws of a round."""
    filled = await visit.filled_in()
    order = await _order(visit, filled)
    seen = filled.quantity("seen")
    if filled.problems or seen is None:
        return await _shown(visit, filled, status=422)
    try:
        await visit.book.close_round(
            order,
            round_id=visit.place("round"),
            seen=seen,
            accept_unanswered=filled.ticked("accept_unanswered"),
            idempotency_key=filled.key,
        )
    except Stale as refusal:
        return await _shown(visit, visit.renewed(filled), refusal, _MOVED)
    except (Refused, Misused) as refusal:
        return await _shown(visit, visit.renewed(filled), refusal)
    return to(f"{visit.home}/buying/rounds/{visit.place('round')}", done="closed")


async def _order(visit: Visit, filled: Form) -> RoundOrder:
    paid_by = filled.chosen("paid_by", [each.code for each in await acted_for(visit)])
    return RoundOrder(
        paid_by=paid_by,
        quantity=filled.quantity("quantity", needed=False),
        amount=filled.money("amount", needed=False),
        order_number=filled.text("order_number", needed=False, most=100) or None,
        effective_on=filled.day("on"),
        note=filled.text("note", needed=False, most=MOST_NOTE) or None,
    )


async def _shown(
    visit: Visit, filled: Form | None = None, refusal: PoolError | None = None, sentence: str = "", *, status: int = 200
) -> Response:
    found, members = await together(visit.book.round_(round_id=visit.place("round")), acted_for(visit))
    return visit.show(
        "round_close.html",
        status=(refusal.status or 409) if refusal else status,
        found=found,
        members=members,
        form=filled or visit.form({}),
        shares={each.member: each.amount for each in found.effect.shares} if found.effect else {},
        refusal=sentence or (refusal.sentence if refusal else ""),
    )


ROUTES = (form("/buying/rounds/{round}/close", preview, close),)
