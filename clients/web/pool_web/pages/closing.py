"""Month's end: the settlement, closing as the preview was seen, opening again, and payments ticked off."""

from pool_client.errors import Misused, PoolError, Refused, Stale
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, form, listed, page, to, together

_MOST_REASON = 200


async def settlement(visit: Visit) -> Response:
    """Show who pays whom, as a preview or as it was closed."""
    return await _shown(visit)


async def close(visit: Visit) -> Response:
    """Close a month as its preview was seen."""
    month, filled = visit.place("month"), await visit.filled_in()
    note = filled.text("note", needed=False, most=MOST_NOTE)
    try:
        entry = await visit.book.close(
            month=month,
            digest=filled["digest"],
            accept_warnings=filled.ticked("accept_warnings"),
            accept_differences=filled.ticked("accept_differences"),
            note=note,
            idempotency_key=filled.key,
        )
    except Stale:
        moved = "The book has moved since you looked, so nothing was closed. This is how the month stands now."
        return await _shown(visit, visit.renewed(filled), moved, 412)
    except (Refused, Misused) as refusal:
        return await _shown(visit, visit.renewed(filled), refusal.sentence, refusal.status or 409)
    return to(f"{visit.home}/months/{month}/settlement", closed=str(entry.number))


async def reopening(visit: Visit) -> Response:
    """Ask why a month is to be opened again."""
    return visit.show("reopening.html", month=visit.place("month"), form=visit.form({}), refusal="")


async def reopen(visit: Visit) -> Response:
    """Open the last closed month again."""
    month, filled = visit.place("month"), await visit.filled_in()
    reason = filled.text("reason", most=_MOST_REASON)
    refusal: PoolError | None = None
    if not filled.problems:
        try:
            entry = await visit.book.reopen(month=month, reason=reason, idempotency_key=filled.key)
        except (Refused, Misused) as error:
            refusal = error
        else:
            return to(f"{visit.home}/entries/{entry.number}", recorded="yes")
    sentence = refusal.sentence if refusal else ""
    return visit.show("reopening.html", status=409, month=month, form=visit.renewed(filled), refusal=sentence)


async def _shown(visit: Visit, filled: Form | None = None, refusal: str = "", status: int = 200) -> Response:
    month = visit.place("month")
    found, sheet, payments = await together(
        visit.book.settlement(month=month),
        visit.book.sheet(month=month),
        listed(visit.book.settlement_payments(month=month)),
    )
    if refusal and found.state != "preview":
        refusal = "The month was closed meanwhile, so nothing was done. This is how it was closed."
    return visit.show(
        "settlement.html",
        status=status,
        closed=visit.query.get("closed", "") if visit.query.get("closed", "").isdecimal() else "",
        month=month,
        found=found,
        sheet=sheet,
        payments={each.id: each for each in payments},
        form=filled or visit.form({}),
        refusal=refusal,
    )


ROUTES = (
    page("/months/{month:month}/settlement", settlement),
    form("/months/{month:month}/close", settlement, close),
    form("/months/{month:month}/reopening", reopening, reopen),
)
