"""Recording by hand: a form, its effect before it is recorded, and the receipt after it, which is the entry's page.

The same form is sent twice: to see what it would change, and to record it. It is recorded only if its effect was shown
for exactly what is filled in. With script the effect is shown while one types, by the same two steps.
"""

from collections.abc import Sequence
from urllib.parse import urlencode

from pool_client.errors import Missing, Misused, NotAllowed, PoolError, Refused
from pool_client.models.catalogue import Item
from pool_client.models.directory import Member
from pool_client.models.entries import Recordable
from pool_client.models.months import Positions
from starlette.responses import Response

from pool_web.deeds import DEEDS, Deed
from pool_web.effects import Effect, effect_of
from pool_web.forms import KEY, MOST_NOTE, PROOF, SEEN, Form, is_key
from pool_web.visit import Visit, form, listed, page, to, together

_USED_BEFORE = "key-reused"
_AGAIN = "This form was recorded before, with something else in it. Press again to record this as well."
_MOST_ADDRESS = 4_000
"""Proxies cut longer addresses off; such a form is shown in the answer to it."""


async def show(visit: Visit) -> Response:
    """Show a form, filled in as the address says, with its effect where that is asked for.

    The key stands in the address, so that going back leads to the form that was recorded, and not to a new one."""
    deed, query = _deed(visit), visit.query
    positions, members = await _read(visit)
    if not is_key(query.get(KEY, "")):
        return _to_form(visit, {**_likely(visit, deed, query, positions), **query, KEY: visit.site.new_key()})
    filled = Form(texts=query, key=query[KEY])
    if filled.step != "effect":
        return await _shown(visit, deed, filled, members)
    body = _read_form(deed, filled, members)
    effect = effect_of(body, positions) if body else None
    return await _shown(visit, deed, filled, members, effect=effect, status=200 if body else 422)


async def take(visit: Visit) -> Response:
    """Record a form, or lead on to what it would change."""
    deed, filled = _deed(visit), await visit.filled_in()
    asked = {**{name: text for name, text in filled.texts.items() if name not in {PROOF, SEEN}}, "step": "effect"}
    recording = filled.step == "record" and filled.is_as_seen
    if deed.kind == "use" and not filled["quantity"]:
        asked["quantity"] = await _listed_credits(visit, filled["item"])
    if not recording and len(urlencode(asked)) < _MOST_ADDRESS:
        return _to_form(visit, asked)
    positions, members = await _read(visit)
    body = _read_form(deed, filled, members)
    if body is None:
        return await _shown(visit, deed, filled, members, status=422)
    if not recording:
        return await _shown(visit, deed, filled, members, effect=effect_of(body, positions))
    try:
        entry = await visit.book.record(
            body, effective_on=filled.day("on"), note=filled["note"], idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return await _refused(visit, deed, visit.renewed(filled), members, refusal, effect_of(body, positions))
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


def _to_form(visit: Visit, filled: dict[str, str]) -> Response:
    return to(visit.request.url.path, **filled)


def _read_form(deed: Deed, filled: Form, members: Sequence[Member]) -> Recordable | None:
    """Give what a form says, None where something is to be mended first."""
    body = deed.build(filled, [each.code for each in members])
    filled.day("on")
    filled.text("note", needed=False, most=MOST_NOTE)
    return None if filled.problems else body


async def _refused(  # noqa: PLR0917 - what the page shows, as take had it
    visit: Visit, deed: Deed, filled: Form, members: Sequence[Member], refusal: PoolError, effect: Effect
) -> Response:
    used = refusal.code == _USED_BEFORE
    sentence = _AGAIN if used else refusal.sentence
    status = refusal.status or 409
    return await _shown(visit, deed, filled, members, effect=effect if used else None, refusal=sentence, status=status)


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
    return visit.show(
        "record.html",
        status=status,
        deed=deed,
        form=filled,
        members=members,
        items=await _items(visit) if deed.kind == "use" else (),
        effect=effect,
        refusal=refusal,
    )


async def _items(visit: Visit) -> list[Item]:
    """Give what the vendor sells today, nothing where no catalogue is on file."""
    try:
        return await listed(visit.book.catalogue_items())
    except (Missing, NotAllowed, Refused):
        return []


async def _read(visit: Visit) -> tuple[Positions, list[Member]]:
    positions, members = await together(visit.book.positions(), listed(visit.book.members()))
    return positions, [each for each in members if each.left_on is None]


def _deed(visit: Visit) -> Deed:
    kind = visit.place("kind")
    if kind not in DEEDS:
        raise Missing(f"Nothing is recorded as {kind[:40]}.")
    return DEEDS[kind]


async def _listed_credits(visit: Visit, item: str) -> str:
    """Give the credits that the vendor's catalogue asks for an item today, as text; nothing where it doesn't say."""
    return next((str(each.credits) for each in await _items(visit) if each.code == item), "")


def _likely(visit: Visit, deed: Deed, said: dict[str, str], positions: Positions) -> dict[str, str]:
    """Give what somebody most likely means where they haven't said it: a clerk acts for its own shop, who runs dry
    borrows, the only open loan is what comes back, stock takes purchases."""
    own = visit.own.member if visit.own and visit.own.member else ""
    if deed.kind == "return":
        return _only_loan(own, said, positions) or ({"borrower": own} if own else {})
    told = {deed.fields[0].name: own} if own else {}
    lender = said.get("lender") or own
    if deed.kind == "loan" and lender:
        others = [each for each in positions.members if each.member != lender]
        dry = min(others, key=lambda each: each.held, default=None)
        return {**told, "borrower": dry.member} if dry else told
    return {**told, "into": "stock"} if deed.kind == "purchase" else told


def _only_loan(own: str, said: dict[str, str], positions: Positions) -> dict[str, str]:
    """Give the one open loan that can be meant, whole."""
    asked = {said[name] for name in ("borrower", "lender") if said.get(name)} | ({own} if own else set())
    meant = [each for each in positions.open_loans if asked <= {each.lender, each.borrower}]
    if len(meant) != 1:
        return {}
    return {"borrower": meant[0].borrower, "lender": meant[0].lender, "quantity": str(meant[0].quantity)}


async def kinds(visit: Visit) -> Response:
    """List what can be recorded."""
    return visit.show("kinds.html", deeds=DEEDS.values())


ROUTES = (page("/record", kinds), form("/record/{kind}", show, take))
