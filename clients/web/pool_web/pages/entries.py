"""Entries: searched, all of them verified, and one with its history, and the word of its other side; of a use, what its
job comes to."""

from typing import Any

from pool_client.calls import reading
from pool_client.calls.reading import EntryInFull
from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.entries import BODIES, Acknowledgement, Entry, Payment, Use, Verdict
from pool_client.models.months import Job
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, form, listed, page, to, together

_ROWS = 50
UNDOABLE = frozenset(
    {"purchase", "draw", "loan", "return", "use", "write_off", "outside", "relocation", "charge", "payment"}
)
_SIDES = ("member", "lender", "borrower", "paid_by", "into", "from_member", "to_member", "holder")


async def search(visit: Visit) -> Response:
    """List entries, newest first, as the address asks for them."""
    asked = Form(texts=visit.query, key="")
    wanted: dict[str, Any] = {name: asked[name] or None for name in ("member", "kind", "text", "job")}
    wanted |= {name: asked.day(name) for name in ("from_day", "to_day")}
    call = reading.entries(visit.place("pool"), limit=_ROWS, **wanted)
    found, members = await together(visit.page_of(call), listed(visit.book.members()))
    return visit.show("entries.html", found=found, form=asked, members=members, kinds=sorted(BODIES))


async def one(visit: Visit) -> Response:
    """Show an entry with all that refers to it."""
    found = await entry_of(visit)
    return visit.show(
        "entry.html",
        found=found,
        left=left_of(found),
        sides=_sides(found.entry),
        form=visit.form({}),
        recorded=visit.query.get("recorded") == "yes",
        **await _beside(visit, found.entry),
    )


async def acknowledged(visit: Visit) -> Response:
    """Record the word of an entry's other side."""
    found, filled = await entry_of(visit), await visit.filled_in()
    member = filled.chosen("member", _sides(found.entry))
    verdict = filled.chosen("verdict", [each.value for each in Verdict])
    note = filled.text("note", needed=False, most=MOST_NOTE)
    refusal: PoolError | None = None
    if not filled.problems:
        body = Acknowledgement(entry=found.entry.number, member=member, verdict=Verdict(verdict))
        try:
            await visit.book.record(body, note=note, idempotency_key=filled.key)
        except (Refused, Misused) as error:
            refusal = error
        else:
            return to(f"{visit.home}/entries/{found.entry.number}")
    return visit.show(
        "entry.html",
        status=409,
        found=found,
        left=left_of(found),
        sides=_sides(found.entry),
        form=visit.renewed(filled),
        recorded=False,
        refusal=refusal.sentence if refusal else "",
        **await _beside(visit, found.entry),
    )


async def verified(visit: Visit) -> Response:
    """Have the whole book recomputed, and say whether it holds."""
    return visit.show("verification.html", found=await visit.book.verification())


async def _beside(visit: Visit, entry: Entry) -> dict[str, Any]:
    """Give what an entry leads to: of a use its job, of a payment the month that it settles."""
    paid = entry.body.pays if isinstance(entry.body, Payment) else None
    job = await _job(visit, entry.body.job) if isinstance(entry.body, Use) else None
    return {"job": job, "settled": paid.rpartition("-")[0] if paid else ""}


async def _job(visit: Visit, name: str) -> Job | None:
    try:
        return await visit.allowed(visit.book.job(job=name))
    except (NotThere, Refused):
        return None


async def entry_of(visit: Visit) -> EntryInFull:
    """Give the entry that the address names, with all that refers to it."""
    number = visit.place("number")
    return await visit.book.entry(number=int(number))


def left_of(found: EntryInFull) -> int | None:
    """Give how many credits of an entry can still be undone, None where it moves none."""
    quantity = getattr(found.entry.body, "quantity", None)
    return None if quantity is None else quantity - found.undone


def _sides(entry: Entry) -> list[str]:
    told = (getattr(entry.body, name, None) for name in _SIDES)
    return [each for each in dict.fromkeys(told) if isinstance(each, str) and each != "stock"]


ROUTES = (
    page("/entries", search),
    page("/entries/verification", verified),
    page("/entries/{number:int}", one),
    form("/entries/{number:int}/acknowledgement", one, acknowledged),
)
