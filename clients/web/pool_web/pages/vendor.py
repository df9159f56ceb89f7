"""The vendor's record: a file sent, its columns looked at, taken; and which days of which account are on file."""

from dataclasses import replace
from datetime import date, timedelta

from pool_client.errors import Missing, Misused, Refused, Stale
from pool_client.models.vendor import ColumnProfile, Proposal
from starlette.responses import Response

from pool_web import columns, headers
from pool_web.carried import DIGEST, File, carrying
from pool_web.forms import Form
from pool_web.pages.sent import ANOTHER, file_of, keep
from pool_web.visit import Visit, form, listed, page, to, together

_NAME = "vendor"
"""What a layout is called unless somebody says otherwise."""
_MOST_IMPORTS = 100
_MOST_CHANGES = 100
_MOST_MONTHS = 12


async def overview(visit: Visit) -> Response:
    """Show which days are on file, what was imported, and the months to compare."""
    asked = Form(texts=visit.query, key="")
    coverage, imports, months = await together(
        visit.book.coverage(from_day=asked.day("from_day"), to_day=asked.day("to_day")),
        listed(visit.book.imports()),
        visit.book.months(),
    )
    return visit.show(
        "vendor.html",
        coverage=coverage,
        imports=imports[: -_MOST_IMPORTS - 1 : -1],
        months=months[::-1],
        form=asked,
    )


async def ask(visit: Visit) -> Response:
    """Ask for a file."""
    return await _asked(visit, visit.form({"member": visit.query.get("member", "")}))


async def take(visit: Visit) -> Response:
    """Show how a file's columns are understood, or take it as it was shown."""
    filled = await visit.filled_in()
    file = await file_of(visit, filled)
    for name in ("from_day", "to_day"):
        filled.day(name)
    if not filled["member"]:
        filled.problems["member"] = "Choose one."
    if file is None or filled.problems:
        return await _asked(visit, filled, status=422)
    seen = filled[DIGEST] == file.digest
    if filled.step == "import" and seen:
        return await _imported(visit, filled, file)
    refusal = ANOTHER if filled.step == "import" else ""
    return await _looked_at(visit, filled, file, keep=seen, refusal=refusal)


async def _imported(visit: Visit, filled: Form, file: File) -> Response:
    profile = columns.profile_of(filled, headers.layout_name(filled, "name"))
    if profile is None:
        return await _looked_at(visit, filled, file, keep=True, status=422)
    try:
        await keep(profile, visit.book.column_profile(name=profile.name), visit.book.put_column_profile)
        made = await visit.book.import_record(
            file.content,
            member=filled["member"],
            profile=profile.name,
            account=filled["account"] or None,
            sheet=filled["sheet"] or None,
            from_day=filled.day("from_day"),
            to_day=filled.day("to_day"),
            idempotency_key=filled.key,
        )
    except (Refused, Misused, Stale) as error:
        return await _looked_at(
            visit, visit.renewed(filled), file, keep=True, refusal=error.sentence, status=error.status or 409
        )
    return to(f"{visit.home}/vendor/imports/{made.import_id}", taken="copy" if made.repeats else "yes")


async def _asked(visit: Visit, filled: Form, *, refusal: str = "", status: int = 200) -> Response:
    members, profiles = await together(listed(visit.book.members()), listed(visit.book.column_profiles()))
    layouts = [each.name for each in profiles]
    if layouts and "layout" not in filled.texts:
        filled = replace(filled, texts={**filled.texts, "layout": layouts[0]})
    return visit.show(
        "vendor_file.html",
        status=status,
        form=filled,
        members=members,
        layouts=layouts,
        records=columns.RECORDS,
        refusal=refusal,
    )


async def _looked_at(
    visit: Visit, filled: Form, file: File, *, keep: bool, refusal: str = "", status: int = 200
) -> Response:
    """Show how a file is understood.

    Takes:   keep — whether what is filled in is about this very file, and so stays."""
    try:
        kept = await _layout(visit, filled["layout"])
        record = kept.record if kept else filled["record"] or None
        found = await visit.book.propose_column_profile(
            file.content, name=_NAME, record=record, sheet=filled["sheet"] or None
        )
    except (Refused, Misused) as error:
        return await _asked(visit, filled, refusal=error.sentence, status=error.status or 409)
    if keep and "word_0" in filled.texts:
        filled = replace(filled, texts={**filled.texts, **columns.kinds_added(filled, found)})
    else:
        filled = _first_look(filled, found, kept)
    told = {**filled.texts, **headers.carried_words(found.header), **carrying(file)}
    lacking = columns.missing(found, kept) if kept and not keep else []
    return visit.show(
        "vendor_columns.html",
        status=status,
        form=replace(filled, texts=told),
        found=found,
        values=headers.samples(found.header, found.rows),
        kinds=list(columns.kinds_of(filled)),
        choices=columns,
        kept=kept,
        lacking=lacking,
        refusal=refusal,
    )


def _first_look(filled: Form, found: Proposal, kept: ColumnProfile | None) -> Form:
    """Fill the form in for a file that nobody has looked at. What a kept layout misses in it is guessed."""
    profile = kept if kept and not columns.missing(found, kept) else found.profile
    name = kept.name if kept else _NAME
    told = {each: filled[each] for each in ("member", "account", "sheet", "from_day", "to_day", "layout")}
    texts = {**told, "name": name, **columns.texts_of_profile(found, profile)}
    if profile is None and filled["record"]:
        texts["record"] = filled["record"]
    return replace(filled, texts=texts)


async def _layout(visit: Visit, name: str) -> ColumnProfile | None:
    """Give a layout that is kept."""
    try:
        return (await visit.book.column_profile(name=name)).value if name else None
    except Missing:
        return None


async def imported(visit: Visit) -> Response:
    """Show what an import brought, and what it says of rows that were on file."""
    import_id = visit.place("import_id")
    found = await visit.book.imported(import_id=import_id)
    said = found.rows_changed + found.rows_vanished + found.rows_back
    changes = await listed(visit.book.changes(import_id=import_id)) if said else []
    return visit.show(
        "vendor_import.html",
        found=found,
        changes=changes[:_MOST_CHANGES],
        more=max(0, len(changes) - _MOST_CHANGES),
        months=_months(found.first_day, found.last_day),
        taken=visit.query.get("taken", ""),
    )


def _months(first: date | None, last: date | None) -> list[str]:
    """Give the months of the days that a file shows, a few."""
    months: list[str] = []
    day = first
    while day and last and day <= last and len(months) < _MOST_MONTHS:
        months.append(f"{day:%Y-%m}")
        day = (day.replace(day=1) + timedelta(days=31)).replace(day=1)
    return months


ROUTES = (
    page("/vendor", overview),
    form("/vendor/file", ask, take),
    page("/vendor/imports/{import_id}", imported),
)
