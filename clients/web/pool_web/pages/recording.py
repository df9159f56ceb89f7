"""Recording by hand: a form, its effect before it is recorded, and the receipt after it, which is the entry's page.

The same form is sent twice: to see what it would change, and to record it. It is recorded only if its effect was shown
for exactly what is filled in. With script the effect is shown while one types, by the same two steps.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pool_client.errors import Missing, Misused, NotAllowed, PoolError, Refused
from pool_client.models.catalogue import Item
from pool_client.models.directory import Member
from pool_client.models.entries import Recordable
from pool_client.models.months import Positions
from starlette.responses import Response

from pool_web.deeds import DEEDS, Deed
from pool_web.effects import Effect, effect_of
from pool_web.forms import KEY, MOST_NOTE, Form, fits_address, is_key
from pool_web.pages.acting import present_on
from pool_web.visit import Visit, form, listed, page, to, together

_USED_BEFORE = "key-reused"
_AGAIN = "This form was recorded before, with something else in it. Press again to record this as well."


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """A deed, and what was read for its form: how the book stands, whom it may name, what the vendor sells."""

    deed: Deed
    positions: Positions
    members: Sequence[Member]
    items: Sequence[Item]


async def show(visit: Visit) -> Response:
    """Show a form, filled in as the address says, with its effect where that is asked for.

    The key stands in the address, so that going back leads to the form that was recorded, and not to a new one."""
    deed, query = _deed(visit), visit.query
    if not is_key(query.get(KEY, "")):
        return _to_form(visit, {**await _likely(visit, deed), **query, KEY: visit.site.new_key()})
    filled, read = Form(texts=query, key=query[KEY]), await _read(visit, deed, query)
    if filled.step != "effect":
        return _shown(visit, read, filled)
    body = _read_form(read, filled)
    effect = effect_of(body, read.positions) if body else None
    return _shown(visit, read, filled, effect=effect, status=200 if body else 422)


async def take(visit: Visit) -> Response:
    """Record a form, or lead on to what it would change."""
    deed, filled = _deed(visit), await visit.filled_in()
    asked, recording = filled.asking, filled.is_to_record
    if deed.kind == "use" and not filled["quantity"]:
        asked["quantity"] = await _listed_credits(visit, deed, filled["item"])
    if not recording and fits_address(asked):
        return _to_form(visit, asked)
    read = await _read(visit, deed, filled.texts)
    body = _read_form(read, filled)
    if body is None:
        return _shown(visit, read, filled, status=422)
    effect = effect_of(body, read.positions)
    if not recording:
        return _shown(visit, read, filled, effect=effect)
    try:
        entry = await visit.book.record(
            body, effective_on=filled.day("on"), note=filled["note"], idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return _refused(visit, read, visit.renewed(filled), refusal, effect)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


def _to_form(visit: Visit, filled: dict[str, str]) -> Response:
    return to(visit.request.url.path, **filled)


def _read_form(read: Read, filled: Form) -> Recordable | None:
    """Give what a form says, None where something is to be mended first."""
    body = read.deed.build(filled, [each.code for each in read.members])
    filled.day("on")
    filled.text("note", needed=False, most=MOST_NOTE)
    return None if filled.problems else body


def _refused(visit: Visit, read: Read, filled: Form, refusal: PoolError, effect: Effect) -> Response:
    used = refusal.code == _USED_BEFORE
    sentence = _AGAIN if used else refusal.sentence
    status = refusal.status or 409
    return _shown(visit, read, filled, effect=effect if used else None, refusal=sentence, status=status)


def _shown(
    visit: Visit,
    read: Read,
    filled: Form,
    *,
    effect: Effect | None = None,
    refusal: str = "",
    status: int = 200,
) -> Response:
    return visit.show(
        "record.html",
        status=status,
        deed=read.deed,
        form=filled,
        members=read.members,
        items=read.items,
        effect=effect,
        refusal=refusal,
    )


async def _read(visit: Visit, deed: Deed, texts: Mapping[str, str]) -> Read:
    """Give what a form with such texts is made of. It may name who is in the pool on its day; who has left may still be
    paid."""
    positions, members, items = await together(
        visit.book.positions(), listed(visit.book.members()), _items(visit, deed)
    )
    on = Form(texts=texts, key="").day("on") or visit.today
    may_be_named = members if deed.kind == "payment" else present_on(on, members)
    return Read(deed=deed, positions=positions, members=may_be_named, items=items)


async def _items(visit: Visit, deed: Deed) -> list[Item]:
    """Give what the vendor sells today, nothing where no catalogue is on file or none of it is chosen."""
    if deed.kind != "use":
        return []
    try:
        return await listed(visit.book.catalogue_items())
    except (Missing, NotAllowed, Refused):
        return []


def _deed(visit: Visit) -> Deed:
    kind = visit.place("kind")
    if kind not in DEEDS:
        raise Missing(f"Nothing is recorded as {kind[:40]}.")
    return DEEDS[kind]


async def _listed_credits(visit: Visit, deed: Deed, item: str) -> str:
    """Give the credits that the vendor's catalogue asks for an item today, as text; nothing where it doesn't say."""
    return next((str(each.credits) for each in await _items(visit, deed) if each.code == item), "")


async def _likely(visit: Visit, deed: Deed) -> dict[str, str]:
    """Give what somebody most likely means where they haven't said it: a clerk acts for its own shop, who runs dry
    borrows, the only open loan is what comes back, stock takes purchases."""
    own, said = visit.own.member if visit.own and visit.own.member else "", visit.query
    if deed.kind == "return":
        return _only_loan(own, said, await visit.book.positions()) or ({"borrower": own} if own else {})
    told = {deed.fields[0].name: own} if own else {}
    lender = said.get("lender") or own
    if deed.kind == "loan" and lender:
        others = [each for each in (await visit.book.positions()).members if each.member != lender]
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
