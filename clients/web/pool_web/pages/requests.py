"""Requests for credits: asked for when a customer waits, taken up by somebody who has some, or withdrawn."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from pool_client.errors import Misused, PoolError, Refused
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, deed, form, listed, to, together

_MOST_REASON = 200


async def show(visit: Visit) -> Response:
    """Show the open requests, and the form for another."""
    return await _shown(visit)


async def ask(visit: Visit) -> Response:
    """Ask for credits."""
    filled = await visit.filled_in()
    member, quantity = filled.text("member"), filled.quantity("quantity")
    needed_by, note = _instant(visit, filled), filled.text("note", needed=False, most=MOST_NOTE)
    if filled.problems or quantity is None or needed_by is None:
        return await _shown(visit, filled, status=422)
    asked = visit.book.ask(member=member, quantity=quantity, needed_by=needed_by, note=note, idempotency_key=filled.key)
    return await _done(visit, filled, asked)


async def take_up(visit: Visit) -> Response:
    """Lend what a request asks for, and show the receipt."""
    filled = await visit.filled_in()
    lender = filled.text("lender")
    if filled.problems:
        return await _shown(visit, filled, status=422)
    try:
        entry = await visit.book.take_up(
            request_id=visit.place("request_id"), lender=lender, idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return await _shown(visit, visit.renewed(filled), refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


async def withdraw(visit: Visit) -> Response:
    """Withdraw a request."""
    filled = await visit.filled_in()
    asked = visit.book.withdraw_request(request_id=visit.place("request_id"), idempotency_key=filled.key)
    return await _done(visit, filled, asked)


async def _done(visit: Visit, filled: Form, asked: Any) -> Response:
    try:
        await asked
    except (Refused, Misused) as refusal:
        return await _shown(visit, visit.renewed(filled), refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/requests", done="yes")


def _instant(visit: Visit, filled: Form) -> datetime | None:
    """Read an instant on the pool's clocks."""
    zone = ZoneInfo(visit.pool.time_zone if visit.pool else "UTC")
    try:
        return datetime.fromisoformat(filled["needed_by"]).replace(tzinfo=zone)
    except ValueError:
        filled.problems["needed_by"] = "A day and a time."
        return None


async def _shown(
    visit: Visit, filled: Form | None = None, *, refusal: PoolError | None = None, status: int = 200
) -> Response:
    found, members, positions = await together(
        listed(visit.book.credit_requests()), listed(visit.book.members()), visit.book.positions()
    )
    return visit.show(
        "requests.html",
        status=status,
        found=found,
        members=[each for each in members if each.left_on is None],
        held={each.member: each.held for each in positions.members},
        form=filled or visit.form(visit.query),
        refusal=refusal.sentence if refusal else "",
        done=visit.query.get("done") == "yes",
    )


ROUTES = (
    form("/requests", show, ask),
    deed("/requests/{request_id}/loan", take_up),
    deed("/requests/{request_id}/withdrawal", withdraw),
)
