"""Undoing an entry: how much of it and on which day, what that would change, and then its reversal.

A reversal in the entry's own month makes its figures as if the entry had never been. That is meant most often, so its
day is offered while the month is open; a closed month stays as it was settled, and the reversal counts from today.
"""

from datetime import date

from pool_client.calls.reading import EntryInFull
from pool_client.errors import Misused, PoolError, Refused
from pool_client.models.entries import Entry, Reversal
from starlette.responses import Response

from pool_web.effects import Effect, undoing_of
from pool_web.forms import KEY, MOST_NOTE, Form, fits_address, is_key
from pool_web.pages.entries import entry_of, left_of
from pool_web.sentences import month_words
from pool_web.visit import Visit, form, to, together


async def ask(visit: Visit) -> Response:
    """Ask how much of an entry is to be undone, and on which day; with the effect where the address asks for it.

    The key stands in the address: going back leads to the form that was recorded, and not to a new one."""
    query, (found, closed) = visit.query, await _read(visit)
    if not is_key(query.get(KEY, "")):
        return to(visit.request.url.path, **{**_likely(visit, found, closed), **query, KEY: visit.site.new_key()})
    filled = Form(texts=query, key=query[KEY])
    if filled.step != "effect":
        return _shown(visit, found, closed, filled)
    return await _considered(visit, found, closed, filled)


async def take(visit: Visit) -> Response:
    """Record that an entry is undone, or lead on to what that would change."""
    filled = await visit.filled_in()
    recording = filled.is_to_record
    if not recording and fits_address(filled.asking):
        return to(visit.request.url.path, **filled.asking)
    found, closed = await _read(visit)
    return await _considered(visit, found, closed, filled, recording=recording)


def _likely(visit: Visit, found: EntryInFull, closed: frozenset[str]) -> dict[str, str]:
    """Give what somebody most likely means: all that is left, on the entry's own day while its month is open."""
    own = found.entry.effective_on
    day = visit.today if _month(own) in closed else own
    left = left_of(found)
    return {"on": day.isoformat(), **({} if left is None else {"quantity": str(left)})}


async def _considered(
    visit: Visit, found: EntryInFull, closed: frozenset[str], filled: Form, *, recording: bool = False
) -> Response:
    """Show what undoing would change, or record it."""
    quantity = filled.quantity("quantity") if left_of(found) is not None else None
    day = filled.day("on")
    if day is None:
        filled.problems.setdefault("on", "This is needed.")
    note = filled.text("note", needed=False, most=MOST_NOTE)
    if filled.problems or day is None:
        return _shown(visit, found, closed, filled, status=422)
    effect = await _effect(visit, found.entry, quantity, day, closed)
    if not recording:
        return _shown(visit, found, closed, filled, effect)
    body = Reversal(entry=found.entry.number, quantity=quantity)
    try:
        entry = await visit.book.record(body, effective_on=day, note=note, idempotency_key=filled.key)
    except (Refused, Misused) as refusal:
        return _shown(visit, found, closed, visit.renewed(filled), effect, refusal, status=refusal.status or 409)
    return to(f"{visit.home}/entries/{entry.number}", recorded="yes")


async def _read(visit: Visit) -> tuple[EntryInFull, frozenset[str]]:
    """Give the entry, and the months that are closed."""
    found, months = await together(entry_of(visit), visit.book.months())
    return found, frozenset(each.month for each in months if each.state == "closed")


async def _effect(visit: Visit, entry: Entry, quantity: int | None, day: date, closed: frozenset[str]) -> Effect:
    """Say what undoing would change, and in which month."""
    moved = undoing_of(entry.body, quantity, await visit.book.positions())
    own, then = month_words(_month(entry.effective_on)), month_words(_month(day))
    counts = f"It counts in {then}, whose figures become what they would be without it."
    if own != then:
        counts = f"It counts in {then}, at what it came to in {own}; the figures of {own} stay as they are."
    obstacles = [*moved.obstacles]
    if day < entry.effective_on:
        obstacles.append("This day comes before the entry's own.")
    elif _month(day) in closed:
        obstacles.append(f"{then} is closed: choose a later day.")
    return Effect(lines=(*moved.lines, counts), obstacles=tuple(obstacles))


def _month(day: date) -> str:
    return f"{day:%Y-%m}"


def _shown(  # noqa: PLR0917 - what the page shows
    visit: Visit,
    found: EntryInFull,
    closed: frozenset[str],
    filled: Form,
    effect: Effect | None = None,
    refusal: PoolError | None = None,
    *,
    status: int = 200,
) -> Response:
    own = _month(found.entry.effective_on)
    return visit.show(
        "undo.html",
        status=status,
        found=found,
        left=left_of(found),
        form=filled,
        effect=effect,
        closed_month=own if own in closed else "",
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (form("/entries/{number:int}/undo", ask, take),)
