"""Joint orders: opened, answered with a quantity whose effect is shown first, and followed to the next break."""

from dataclasses import dataclass
from datetime import timedelta

from pool_client.calls import rounds as calls
from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.directory import Member
from pool_client.models.rounds import Commitment, Round, RoundState
from starlette.responses import Response

from pool_web.effects import Effect
from pool_web.forms import MOST_NOTE, Form
from pool_web.pages.acting import acted_for, later, zone_of
from pool_web.sentences import credits_of
from pool_web.visit import Visit, deed, form, page, to, together

TAG = "tag"
"""The field with the version of the commitment that the effect was shown for: not a thing that people fill in."""
_USUAL_WAIT = timedelta(days=3)
_MOST_REASON = 200
_MOST_ROUNDS = 20
_MOST_ON_NOW = 3
_MOVED = "Somebody has answered for this member since you looked. This is how it stands now."


@dataclass(frozen=True, slots=True, kw_only=True)
class Committing:
    """What a commitment would do, and the tag of the one that it replaces."""

    effect: Effect
    tag: str = ""


async def open_rounds(visit: Visit) -> list[Round]:
    """Give the rounds that take commitments, newest first."""
    found = await visit.client.line.send(calls.rounds(visit.place("pool"), limit=_MOST_ROUNDS))
    taking = [each for each in found.items if each.state is RoundState.OPEN][:_MOST_ON_NOW]
    return list(await together(*(visit.book.round_(round_id=each.round_id) for each in taking)))


async def overview(visit: Visit) -> Response:
    """List the rounds, newest first."""
    return await _listed(visit)


async def open_one(visit: Visit) -> Response:
    """Open a round."""
    filled = await visit.filled_in()
    deadline, note = filled.instant("deadline", zone_of(visit)), filled.text("note", needed=False, most=MOST_NOTE)
    if filled.problems or deadline is None:
        return await _listed(visit, filled, status=422)
    try:
        made = await visit.book.open_round(deadline=deadline, note=note, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return await _listed(visit, visit.renewed(filled), refusal)
    return to(f"{visit.home}/buying/rounds/{made.round_id}", done="opened")


async def one(visit: Visit) -> Response:
    """Show a round, with a form to answer it."""
    found, members = seen = await _read(visit)
    codes = [each.code for each in members]
    asked = visit.query.get("member", "")
    member = asked if asked in codes else next((each for each in found.unanswered if each in codes), "")
    if not member and len(codes) == 1:
        member = codes[0]
    there = next((each.quantity for each in found.commitments if each.member == member), None)
    return _shown(visit, seen, visit.form({"member": member, "quantity": "" if there is None else str(there)}))


async def commit(visit: Visit) -> Response:
    """Show what a commitment would do, or make it."""
    sent = await visit.filled_in()
    filled = Form(texts={name: text for name, text in sent.texts.items() if name != TAG}, key=sent.key)
    found, members = seen = await _read(visit)
    member = filled.chosen("member", [each.code for each in members])
    quantity = filled.quantity("quantity", least=0)
    if filled.problems or quantity is None:
        return _shown(visit, seen, filled, status=422)
    if not filled.is_to_record:
        return _shown(visit, seen, filled, await _effect_of(visit, found, member, quantity))
    try:
        await visit.book.put_commitment(
            round_id=found.round_id, member=member, quantity=quantity, tag=sent[TAG] or None
        )
    except (Refused, Misused, Stale) as refusal:
        there, _ = await _commitment(visit, found.round_id, member)
        if there is None or there.quantity != quantity:
            sentence = _MOVED if isinstance(refusal, Stale) else refusal.sentence
            seen = await _read(visit)
            return _shown(visit, seen, filled, refusal=sentence, status=refusal.status or 409)
    return to(f"{visit.home}/buying/rounds/{found.round_id}", done="committed")


async def _effect_of(visit: Visit, found: Round, member: str, quantity: int) -> Committing:
    """Say what the order comes to when a member commits to a quantity."""
    there, tag = await _commitment(visit, found.round_id, member)
    now = "has not answered" if there is None else f"now {there.quantity:,}"
    lines = [f"{member} takes {credits_of(quantity)} of the joint order ({now})."]
    ordered = found.committed - (there.quantity if there else 0) + quantity
    if ordered:
        lines += await _order_lines(visit, member, quantity, ordered)
    return Committing(effect=Effect(lines=tuple(lines)), tag=tag)


async def _order_lines(visit: Visit, member: str, quantity: int, ordered: int) -> list[str]:
    try:
        price = await visit.book.order_price(quantity=ordered)
    except (Refused, NotThere):
        return [f"The order comes to {credits_of(ordered)}; no price is on file."]
    if price.order is None:
        return [f"The order comes to {credits_of(ordered)}; so few are not sold."]
    order = price.order
    part = (order.amount * quantity / ordered).quantize(order.amount)
    lines = [
        f"The order comes to {credits_of(ordered)} at {order.unit_price:,} each, {order.amount:,} in all.",
        f"{member} would pay about {part:,}.",
    ]
    lines += [f"{credits_of(each.more)} more would cost {each.saves:,} less in total." for each in price.cheaper[:1]]
    return lines


async def _commitment(visit: Visit, round_id: str, member: str) -> tuple[Commitment | None, str]:
    """Give what a member has committed to, with its tag."""
    try:
        there = await visit.book.commitment(round_id=round_id, member=member)
    except NotThere:
        return None, ""
    return there.value, there.tag


async def extend(visit: Visit) -> Response:
    """Move a round's deadline."""
    filled = await visit.filled_in()
    deadline, reason = filled.instant("deadline", zone_of(visit)), filled.text("reason", most=_MOST_REASON)
    if filled.problems or deadline is None:
        return await _ending_wrong(visit, extending=filled)
    try:
        await visit.book.extend_round(
            round_id=visit.place("round"), deadline=deadline, reason=reason, idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return await _ending_wrong(visit, refusal, extending=visit.renewed(filled))
    return to(f"{visit.home}/buying/rounds/{visit.place('round')}", done="extended")


async def call_off(visit: Visit) -> Response:
    """End a round without a purchase."""
    filled = await visit.filled_in()
    reason = filled.text("reason", most=_MOST_REASON)
    if filled.problems:
        return await _ending_wrong(visit, calling_off=filled)
    try:
        await visit.book.call_off_round(round_id=visit.place("round"), reason=reason, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return await _ending_wrong(visit, refusal, calling_off=visit.renewed(filled))
    return to(f"{visit.home}/buying/rounds/{visit.place('round')}", done="called off")


async def _ending_wrong(
    visit: Visit, refusal: PoolError | None = None, *, extending: Form | None = None, calling_off: Form | None = None
) -> Response:
    return _shown(
        visit,
        await _read(visit),
        visit.form({}),
        refusal=refusal.sentence if refusal else "",
        status=(refusal.status or 409) if refusal else 422,
        extending=extending,
        calling_off=calling_off,
    )


_Seen = tuple[Round, list[Member]]
"""A round, and for whom whoever looks at it may answer."""


async def _read(visit: Visit) -> _Seen:
    found, members = await together(visit.book.round_(round_id=visit.place("round")), acted_for(visit))
    return found, members


def _shown(
    visit: Visit,
    seen: _Seen,
    filled: Form,
    committing: Committing | None = None,
    *,
    refusal: str = "",
    status: int = 200,
    extending: Form | None = None,
    calling_off: Form | None = None,
) -> Response:
    found, members = seen
    return visit.show(
        "round.html",
        status=status,
        found=found,
        members=members,
        form=filled,
        committing=committing,
        shares={each.member: each.amount for each in found.effect.shares} if found.effect else {},
        extending=extending or visit.form({"deadline": later(visit, _USUAL_WAIT)}),
        calling_off=calling_off or visit.form({}),
        is_moving=extending is not None,
        is_calling_off=calling_off is not None,
        done=visit.query.get("done", ""),
        refusal=refusal,
    )


async def _listed(
    visit: Visit, opening: Form | None = None, refusal: PoolError | None = None, *, status: int = 200
) -> Response:
    return visit.show(
        "rounds.html",
        status=(refusal.status or 409) if refusal else status,
        rounds=await visit.page_of(calls.rounds(visit.place("pool"), limit=_MOST_ROUNDS)),
        opening=opening or visit.form({"deadline": later(visit, _USUAL_WAIT)}),
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    form("/buying", overview, open_one),
    page("/buying/rounds/{round}", one),
    form("/buying/rounds/{round}/commitment", one, commit),
    deed("/buying/rounds/{round}/extension", extend),
    deed("/buying/rounds/{round}/calling-off", call_off),
)
