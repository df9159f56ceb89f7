"""What the vendor asks: price ladders, read and entered, what an order costs, and the catalogue."""

from datetime import date

from pool_client.calls import catalogue as calls
from pool_client.calls.call import Call
from pool_client.calls.call import Page as Rows
from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.buying import OrderPrice, PriceLadder, Tier
from pool_client.models.catalogue import Item
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, form, listed, page, to, together

TIERS = 8
"""Rows of the form; a ladder with more is entered from a file."""
_ROWS = 50
_MOVED = "Somebody has changed this ladder since you looked. Look at it again before you change it."


async def overview(visit: Visit) -> Response:
    """Show the ladders, the latest first, and what an order would cost."""
    asked = Form(texts=visit.query, key="")
    ladders, (price, refusal) = await together(listed(visit.book.ladders()), _price(visit, asked))
    return visit.show(
        "ladders.html",
        ladders=ladders[::-1],
        today=visit.today,
        form=asked,
        price=price,
        refusal=refusal,
        done=visit.query.get("done", ""),
        most_tiers=TIERS,
    )


async def _price(visit: Visit, asked: Form) -> tuple[OrderPrice | None, str]:
    if not asked["quantity"]:
        return None, ""
    quantity = asked.quantity("quantity")
    if quantity is None:
        return None, ""
    try:
        return await visit.book.order_price(quantity=quantity), ""
    except (Refused, Misused, NotThere) as error:
        return None, error.sentence


async def new(visit: Visit) -> Response:
    """Show an empty form for a ladder."""
    return _form(visit, visit.form({"valid_from": visit.today.isoformat()}))


async def enter(visit: Visit) -> Response:
    """Enter a ladder."""
    filled = await visit.filled_in()
    return await _written(visit, filled, filled.day("valid_from"))


async def change(visit: Visit) -> Response:
    """Show a ladder in a form."""
    found = await visit.book.ladder(valid_from=_day(visit))
    return _form(visit, visit.form(_texts(found.value)), tag=found.tag)


async def changed(visit: Visit) -> Response:
    """Change a ladder."""
    return await _written(visit, await visit.filled_in(), _day(visit))


async def _written(visit: Visit, filled: Form, valid_from: date | None) -> Response:
    tiers = _tiers(filled)
    if valid_from is None:
        filled.problems.setdefault("valid_from", "This is needed.")
    if filled.problems or valid_from is None:
        return _form(visit, filled, status=422, tag=filled["tag"])
    try:
        await visit.book.put_ladder(tiers, valid_from=valid_from, tag=filled["tag"] or None)
    except Stale as refusal:
        return _form(visit, filled, refusal, _MOVED, tag=filled["tag"])
    except (Refused, Misused) as refusal:
        return _form(visit, filled, refusal, tag=filled["tag"])
    return to(f"{visit.home}/buying/ladders", done="entered")


def _tiers(filled: Form) -> list[Tier]:
    """Read the rows that are filled in."""
    tiers = []
    for nth in range(1, TIERS + 1):
        if not filled[f"from_{nth}"] and not filled[f"price_{nth}"]:
            continue
        credits, price = filled.quantity(f"from_{nth}"), filled.money(f"price_{nth}")
        if credits is not None and price is not None:
            tiers.append(Tier(from_credits=credits, unit_price=price))
    if not tiers:
        filled.problems.setdefault("from_1", "At least one tier is needed.")
    return tiers


def _texts(ladder: PriceLadder) -> dict[str, str]:
    texts = {"valid_from": ladder.valid_from.isoformat()}
    for nth, tier in enumerate(ladder.tiers, 1):
        texts |= {f"from_{nth}": str(tier.from_credits), f"price_{nth}": f"{tier.unit_price:f}"}
    return texts


def _form(
    visit: Visit,
    filled: Form,
    refusal: PoolError | None = None,
    sentence: str = "",
    *,
    tag: str = "",
    status: int = 200,
) -> Response:
    return visit.show(
        "ladder.html",
        status=(refusal.status or 409) if refusal else status,
        form=filled,
        tag=tag,
        rows=range(1, TIERS + 1),
        refusal=sentence or (refusal.sentence if refusal else ""),
    )


def _day(visit: Visit) -> date:
    text = visit.place("day")
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise NotThere(f"There is nothing from {text[:20]} on.") from error


async def catalogue(visit: Visit) -> Response:
    """Search what the vendor sells today."""
    asked = Form(texts=visit.query, key="")
    call = calls.catalogue_items(
        visit.place("pool"), text=asked["text"] or None, vehicle_class=asked["class"] or None, limit=_ROWS
    )
    found, kept = await together(_items(visit, call), listed(visit.book.catalogues()))
    done = visit.query.get("done", "")
    return visit.show("catalogue.html", found=found, form=asked, kept=kept[::-1], done=done)


async def _items(visit: Visit, call: Call[Rows[Item]]) -> Rows[Item] | None:
    try:
        return await visit.page_of(call)
    except (Refused, NotThere):
        return None


async def changes(visit: Visit) -> Response:
    """Show what a catalogue says otherwise than the one before it."""
    day = _day(visit)
    try:
        told = await visit.book.catalogue_changes(valid_from=day)
    except Refused as refusal:
        return visit.show("catalogue_changes.html", found=None, on=day, refusal=refusal.sentence)
    return visit.show("catalogue_changes.html", found=told, on=day, refusal="")


ROUTES = (
    page("/buying/ladders", overview),
    form("/buying/ladders/new", new, enter),
    form("/buying/ladders/{day}/change", change, changed),
    page("/buying/catalogue", catalogue),
    page("/buying/catalogue/{day}/changes", changes),
)
