"""Recording by hand: a form, its effect before it is recorded, and the receipt after it, which is the entry's page.

The same form is sent twice: to see what it would change, and to record it. It is recorded only if its effect was shown
for exactly what is filled in. With script the effect is shown while one types, by the same two steps.
"""

import asyncio
from collections.abc import Sequence

from pool_client.errors import Missing, Misused, PoolError, Refused
from pool_client.models.directory import Member
from pool_client.models.entries import Recordable
from pool_client.models.months import Positions
from starlette.responses import Response

from pool_web.deeds import DEEDS, Deed
from pool_web.effects import Effect, effect_of
from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, form, listed, page, to

_USED_BEFORE = "key-reused"


async def show(visit: Visit) -> Response:
    """Show an empty form, with what the address says filled in."""
    deed = _deed(visit)
    positions, members = await _read(visit)
    texts = {**_likely(deed, visit.query, positions), **visit.query}
    return await _shown(visit, deed, visit.form(texts), members)


async def take(visit: Visit) -> Response:
    """Show what a form would change, or record it."""
    deed, filled = _deed(visit), await visit.filled_in()
    positions, members = await _read(visit)
    body = deed.build(filled, [each.code for each in members])
    day, note = filled.day("on"), filled.text("note", needed=False, most=MOST_NOTE)
    if filled.problems or body is None:
        return await _shown(visit, deed, filled, members, status=422)
    if filled.step != "record" or not filled.is_as_seen:
        return await _shown(visit, deed, filled, members, effect=effect_of(body, positions))
    try:
        entry = await visit.book.record(body, effective_on=day, note=note, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return await _refused(visit, deed, visit.renewed(filled), members, refusal, body, positions)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


async def _refused(  # noqa: PLR0917 - what the page shows, as take had it
    visit: Visit,
    deed: Deed,
    filled: Form,
    members: Sequence[Member],
    refusal: PoolError,
    body: Recordable,
    positions: Positions,
) -> Response:
    sentence = refusal.sentence
    if refusal.code == _USED_BEFORE:
        sentence = "This form was recorded before, with something else in it. Press again to record this as well."
    effect = effect_of(body, positions) if refusal.code == _USED_BEFORE else None
    return await _shown(visit, deed, filled, members, effect=effect, refusal=sentence, status=refusal.status or 409)


async def _shown(
    visit: Visit,
    deed: Deed,
    filled: Form,
    members: Sequence[Member],
    *,
    effect: Effect | None = None,
    refusal: str = "",
    status: int = 200,
) -> Response:
    items = await visit.allowed(listed(visit.book.catalogue_items())) if deed.kind == "use" else None
    return visit.show(
        "record.html",
        status=status,
        deed=deed,
        form=filled,
        members=members,
        items=items or (),
        effect=effect,
        refusal=refusal,
    )


async def _read(visit: Visit) -> tuple[Positions, list[Member]]:
    positions, members = await asyncio.gather(visit.book.positions(), listed(visit.book.members()))
    return positions, [each for each in members if each.left_on is None]


def _deed(visit: Visit) -> Deed:
    kind = visit.place("kind")
    if kind not in DEEDS:
        raise Missing(f"Nothing is recorded as {kind[:40]}.")
    return DEEDS[kind]


def _likely(deed: Deed, said: dict[str, str], positions: Positions) -> dict[str, str]:
    """Give what somebody most likely means where they haven't said it: who runs dry borrows, stock takes purchases."""
    if deed.kind == "loan" and "lender" in said:
        others = [each for each in positions.members if each.member != said["lender"]]
        dry = min(others, key=lambda each: each.held, default=None)
        return {"borrower": dry.member} if dry else {}
    return {"into": "stock"} if deed.kind == "purchase" else {}


async def kinds(visit: Visit) -> Response:
    """List what can be recorded."""
    return visit.show("kinds.html", deeds=DEEDS.values())


ROUTES = (page("/record", kinds), form("/record/{kind}", show, take))
