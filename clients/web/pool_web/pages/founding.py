"""Founding: whoever runs the service makes a pool, and hands the book to its keeper by an invitation."""

from zoneinfo import available_timezones

from pool_client.errors import Misused, NotAllowed, PoolError, Refused, Stale
from pool_client.models.directory import Pool, Role
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import THERE_ALREADY, Visit, outside

_MOST_ID, _MOST_WORDS, _CURRENCY = 40, 100, 3
_NOT_YOURS = "Whoever runs the service makes pools. If you have an invitation, its link opens the book."


async def show(visit: Visit) -> Response:
    """Ask what a new pool is called, and what it counts in."""
    if not _runs_the_service(visit):
        return visit.show("problem.html", status=403, title="Not yours to see or do", sentence=_NOT_YOURS)
    return _shown(visit, visit.form({"began_on": f"{visit.today.replace(day=1)}"}))


async def found(visit: Visit) -> Response:
    """Make a pool, and show the link for its keeper."""
    filled = await visit.filled_in()
    name, vendor = filled.text("name", most=_MOST_WORDS), filled.text("vendor", most=_MOST_WORDS)
    time_zone = filled.text("time_zone", most=_MOST_WORDS)
    pool, currency = filled.text("id", most=_MOST_ID), filled.text("currency", most=_CURRENCY).upper()
    began_on = filled.day("began_on") or visit.today
    if filled.problems:
        return _shown(visit, filled, status=422)
    try:
        await visit.client.put_pool(
            Pool(id=pool, name=name, vendor=vendor, currency=currency, time_zone=time_zone, began_on=began_on)
        )
    except (Refused, Misused, NotAllowed, Stale) as refusal:
        if refusal.status == THERE_ALREADY:
            filled.problems["id"] = f"There is a pool {pool} already."
            return _shown(visit, filled, status=409)
        return _shown(visit, filled, refusal)
    return await _handed_on(visit, filled, pool)


def _runs_the_service(visit: Visit) -> bool:
    return visit.who is not None and visit.who.is_operator


async def invite(visit: Visit) -> Response:
    """Invite a keeper for a pool that is there."""
    filled = await visit.filled_in()
    return await _handed_on(visit, filled, filled.text("pool", most=_MOST_ID))


async def _handed_on(visit: Visit, filled: Form, pool: str) -> Response:
    try:
        made = await visit.client.book(pool).invite(
            role=Role.KEEPER, note="to keep the book", idempotency_key=filled.key
        )
    except (Refused, Misused, NotAllowed) as refusal:
        return _shown(visit, filled, refusal)
    url = visit.request.url
    link = f"{url.scheme}://{url.netloc}/invitation#{made.token}" if made.token else ""
    return visit.show("founded.html", founded=pool, link=link, until=made.expires_at)


def _shown(visit: Visit, filled: Form, refusal: PoolError | None = None, *, status: int = 200) -> Response:
    return visit.show(
        "founding.html",
        status=(refusal.status or 409) if refusal else status,
        form=filled,
        zones=sorted(available_timezones()),
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    outside("/founding", show, found),
    outside("/founding/invitation", None, invite),
)
