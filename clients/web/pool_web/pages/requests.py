"""Requests for credits: asked at the counter, seen by everybody who may serve them, lent in one step, or withdrawn."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import timedelta

from pool_client.calls import requests as calls
from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.entries import Loan
from pool_client.models.months import Positions
from pool_client.models.requests import CreditRequest, RequestState
from starlette.responses import Response

from pool_web.effects import effect_of
from pool_web.forms import MOST_NOTE, Form
from pool_web.pages.acting import acted_for, later, zone_of
from pool_web.visit import Visit, deed, form, to, together

_USUAL_WAIT = timedelta(hours=4)
_MOST_REASON = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Open:
    """An open request, with whoever could lend: what is sent and what is read. effect is told where only one could;
    withdrawing is None where it isn't theirs to withdraw."""

    found: CreditRequest
    form: Form
    lenders: list[tuple[str, str]]
    effect: tuple[str, ...]
    withdrawing: Form | None


async def open_requests(visit: Visit) -> list[CreditRequest]:
    """Give the requests that wait."""
    found = await visit.client.line.send(calls.credit_requests(visit.place("pool")))
    return [each for each in found.items if each.state is RequestState.OPEN]


def to_serve(
    visit: Visit, found: Iterable[CreditRequest], positions: Positions, members: Collection[str]
) -> list[Open]:
    """Give requests with what members that somebody acts for could do about them."""
    return [_open(visit, each, positions, members) for each in found]


def _open(visit: Visit, found: CreditRequest, positions: Positions, members: Collection[str]) -> Open:
    able = sorted(
        (
            each
            for each in positions.members
            if each.member in members and each.member != found.member and each.held >= found.quantity
        ),
        key=lambda each: -each.held,
    )
    words = [
        (each.member, f"{each.member} – holds {each.held:,}, then {each.held - found.quantity:,}") for each in able
    ]
    effect: tuple[str, ...] = ()
    if len(able) == 1:
        loan = Loan(lender=able[0].member, borrower=found.member, quantity=found.quantity)
        effect = effect_of(loan, positions).lines
    lending = visit.form({"lender": able[0].member} if able else {})
    withdrawing = visit.form({}) if found.member in members else None
    return Open(found=found, form=lending, lenders=words, effect=effect, withdrawing=withdrawing)


async def show(visit: Visit) -> Response:
    """Show the requests that wait, and a form to ask."""
    return await _shown(visit)


async def ask(visit: Visit) -> Response:
    """Ask for credits."""
    filled = await visit.filled_in()
    member = filled.chosen("member", [each.code for each in await acted_for(visit)])
    quantity, needed_by = filled.quantity("quantity"), filled.instant("needed_by", zone_of(visit))
    note = filled.text("note", needed=False, most=MOST_NOTE)
    if filled.problems or quantity is None or needed_by is None:
        return await _shown(visit, asking=filled, status=422)
    try:
        await visit.book.ask(
            member=member, quantity=quantity, needed_by=needed_by, note=note, idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return await _shown(visit, asking=visit.renewed(filled), refusal=refusal)
    return to(f"{visit.home}/requests", done="asked")


async def lend(visit: Visit) -> Response:
    """Record the loan that a request asks for."""
    filled = await visit.filled_in()
    lender = filled.chosen("lender", [each.code for each in await acted_for(visit)])
    if filled.problems:
        return await _shown(visit, status=422)
    try:
        entry = await visit.book.take_up(request_id=visit.place("request"), lender=lender, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return await _shown(visit, refusal=refusal)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


async def withdraw(visit: Visit) -> Response:
    """Withdraw a request."""
    filled = await visit.filled_in()
    reason = filled.text("reason", needed=False, most=_MOST_REASON)
    try:
        await visit.book.withdraw_request(request_id=visit.place("request"), reason=reason, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return await _shown(visit, refusal=refusal)
    return to(f"{visit.home}/requests", done="withdrawn")


async def _shown(
    visit: Visit, *, asking: Form | None = None, refusal: PoolError | None = None, status: int = 200
) -> Response:
    positions, members, waiting, everything = await together(
        visit.book.positions(),
        acted_for(visit),
        open_requests(visit),
        visit.page_of(calls.credit_requests(visit.place("pool"), ended=True)),
    )
    codes = [each.code for each in members]
    usual = {"member": codes[0] if len(codes) == 1 else "", "needed_by": later(visit, _USUAL_WAIT)}
    return visit.show(
        "requests.html",
        status=(refusal.status or 409) if refusal else status,
        waiting=to_serve(visit, waiting, positions, codes),
        ended=[each for each in everything.items if each.state is not RequestState.OPEN],
        everything=everything,
        members=members,
        asking=asking or visit.form(usual),
        done=visit.query.get("done", ""),
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    form("/requests", show, ask),
    deed("/requests/{request}/loan", lend),
    deed("/requests/{request}/withdrawal", withdraw),
)
