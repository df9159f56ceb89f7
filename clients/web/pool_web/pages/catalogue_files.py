"""Catalogues from the vendor's file: its columns looked at and put right, what the catalogue would say otherwise than
the one before, entered as it was shown."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from hashlib import sha256
from typing import Any

from pool_client.calls.call import Versioned
from pool_client.errors import Missing, Misused, PoolError, Refused, Stale
from pool_client.models.catalogue import Catalogue, CatalogueProfile, CatalogueRead, Item
from starlette.responses import Response

from pool_web import columns, headers
from pool_web.carried import DIGEST, File, carrying
from pool_web.forms import Form
from pool_web.pages.sent import ANOTHER, MOVED, SHOWN, file_of, keep
from pool_web.visit import Visit, form, listed, to

MEANINGS = (
    ("code", "the item's code"),
    ("title", "what it is called"),
    ("credits", "the credits that it takes"),
    ("vehicle_class", "the vehicle class"),
    ("family", "the family"),
    ("covers", "other items that it includes"),
    ("covers_families", "families that it includes"),
    ("covers_classes", "vehicle classes that it includes"),
    ("trade_only", "whether it is for trade only"),
    ("road_restricted", "whether it isn't lawful on every public road"),
)
"""What a column of a catalogue's file can say."""

_NAME = "catalogue"
"""What a layout is called unless somebody says otherwise."""
_FEW = 10
_MOST_ROWS = 100


async def ask(visit: Visit) -> Response:
    """Ask for a file."""
    return await _asked(visit, visit.form({"valid_from": visit.today.isoformat()}))


async def take(visit: Visit) -> Response:
    """Show what the catalogue of a file would be, or enter it as it was shown."""
    filled = await visit.filled_in()
    file = await file_of(visit, filled)
    day = filled.day("valid_from")
    if day is None:
        filled.problems.setdefault("valid_from", "This is needed.")
    if file is None or day is None or filled.problems:
        return await _asked(visit, filled, status=422)
    if filled[DIGEST] != file.digest:
        return await _first_look(visit, filled, file, day, refusal=ANOTHER if filled.step == "enter" else "")
    try:
        guess = await _read(visit, filled, file, day)
    except (Refused, Misused) as refusal:
        return await _asked(visit, filled, refusal)
    not_yet, profile = replace(guess, profile=None, items=(), set_aside=()), _profile_of(filled)
    if profile is None:
        return await _looked_at(visit, filled, file, not_yet, status=422)
    try:
        found = guess if _is_as(guess, profile) else await _read_by(visit, filled, file, day, profile)
    except (Refused, Misused, Stale) as error:
        status = error.status or 409
        return await _looked_at(visit, filled, file, not_yet, refusal=error.sentence, status=status)
    if filled.step == "enter":
        return await _entered(visit, filled, file, day, found, profile)
    return await _looked_at(visit, filled, file, found)


async def _first_look(visit: Visit, filled: Form, file: File, day: date, *, refusal: str) -> Response:
    """Show a file by the layout that was chosen; by a guess where none was, or where it doesn't fit."""
    try:
        try:
            found = await _read(visit, filled, file, day, layout=filled["layout"])
        except Refused as unfit:
            if not filled["layout"] or unfit.code != "column-missing":
                raise
            refusal = f"{unfit.sentence} So its columns are guessed anew."
            found = await _read(visit, filled, file, day)
    except (Refused, Misused, Missing) as error:
        return await _asked(visit, filled, error)
    signs = found.profile or CatalogueProfile(name="", code="", credits="")
    texts = {name: filled[name] for name in ("valid_from", "sheet", "layout")}
    texts |= {"name": filled["layout"] or _NAME, **headers.means(found.header, found.columns)}
    texts |= columns.texts_of_signs(signs.decimal, signs.thousands)
    return await _looked_at(visit, replace(filled, texts=texts), file, found, refusal=refusal)


async def _read(visit: Visit, filled: Form, file: File, day: date, layout: str = "") -> CatalogueRead:
    return await visit.book.propose_catalogue(
        file.content, profile=layout or None, on=day, sheet=filled["sheet"] or None
    )


async def _read_by(visit: Visit, filled: Form, file: File, day: date, profile: CatalogueProfile) -> CatalogueRead:
    """Read a file as the form says. The service reads by layouts that are kept, so this one is."""
    await keep(profile, visit.book.catalogue_profile(name=profile.name), visit.book.put_catalogue_profile)
    return await _read(visit, filled, file, day, layout=profile.name)


def _is_as(guess: CatalogueRead, profile: CatalogueProfile) -> bool:
    return guess.profile is not None and replace(guess.profile, name=profile.name) == profile


def _profile_of(filled: Form) -> CatalogueProfile | None:
    """Read a layout from the form; None where something is to be mended first."""
    roles: dict[str, Any] = headers.roles_in(filled, MEANINGS)
    if not {"code", "credits"} <= roles.keys():
        filled.problems["columns"] = "One of the columns has to say the item's code, and one the credits that it takes."
    name, (decimal, thousands) = headers.layout_name(filled, "name"), columns.signs_in(filled)
    if filled.problems:
        return None
    return CatalogueProfile(name=name, decimal=decimal, thousands=thousands, **roles)


async def _there(visit: Visit, day: date) -> Versioned[Catalogue] | None:
    try:
        return await visit.book.catalogue(valid_from=day)
    except Missing:
        return None


def _is_new(found: CatalogueRead, there: Versioned[Catalogue] | None) -> bool:
    return there is None or _by_code(there.value.items) != _by_code(found.items)


def _by_code(items: Sequence[Item]) -> list[Item]:
    return sorted(items, key=lambda each: each.code)


def _digest(found: CatalogueRead, there: Versioned[Catalogue] | None) -> str:
    """Give what stands for all that was shown: what would be entered, what would be left out, and what is replaced."""
    told = (_by_code(found.items), len(found.set_aside), there.tag if there else "")
    return sha256(repr(told).encode()).hexdigest()[:32]


async def _entered(  # noqa: PLR0917 - what the page shows, as take had it
    visit: Visit, filled: Form, file: File, day: date, found: CatalogueRead, profile: CatalogueProfile
) -> Response:
    """Enter the items of a file, unless they are on file as they are, if they are those that were shown."""
    there = await _there(visit, day)
    if not found.items or (_is_new(found, there) and filled[SHOWN] != _digest(found, there)):
        return await _looked_at(visit, filled, file, found, refusal=MOVED, status=409)
    if found.set_aside and not filled.ticked("leave_out"):
        filled.problems["leave_out"] = "Tick this, or put right what isn't read."
        return await _looked_at(visit, filled, file, found, status=422)
    try:
        await keep(profile, visit.book.catalogue_profile(name=profile.name), visit.book.put_catalogue_profile)
        if _is_new(found, there):
            await visit.book.put_catalogue(found.items, valid_from=day, tag=there.tag if there else None)
    except (Refused, Misused, Stale) as error:
        status = error.status or 409
        return await _looked_at(visit, filled, file, found, refusal=error.sentence, status=status)
    return to(f"{visit.home}/buying/catalogue", done="entered")


async def _asked(visit: Visit, filled: Form, refusal: PoolError | None = None, *, status: int = 200) -> Response:
    layouts = [each.name for each in await listed(visit.book.catalogue_profiles())]
    if layouts and "layout" not in filled.texts:
        filled = replace(filled, texts={**filled.texts, "layout": layouts[0]})
    return visit.show(
        "catalogue_file.html",
        status=(refusal.status or 409) if refusal else status,
        form=filled,
        layouts=layouts,
        refusal=refusal.sentence if refusal else "",
    )


async def _looked_at(
    visit: Visit, filled: Form, file: File, found: CatalogueRead, *, refusal: str = "", status: int = 200
) -> Response:
    """Show how a file is understood."""
    there = await _there(visit, date.fromisoformat(filled["valid_from"]))
    told = {**headers.carried_words(found.header), **carrying(file), SHOWN: _digest(found, there)}
    return visit.show(
        "catalogue_columns.html",
        status=status,
        form=replace(filled, texts={**filled.texts, **told}),
        found=found.changes,
        read=found,
        on=date.fromisoformat(filled["valid_from"]),
        items=_by_code(found.items)[:_FEW],
        aside=found.set_aside[:_MOST_ROWS],
        most=_MOST_ROWS,
        new=bool(found.items) and _is_new(found, there),
        replaces=there is not None,
        values=headers.samples(found.header, found.rows),
        meanings=MEANINGS,
        choices=columns,
        refusal=refusal,
    )


ROUTES = (form("/buying/catalogue/file", ask, take),)
