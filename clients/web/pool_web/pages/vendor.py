"""The vendor's record: files read as their columns are understood, and months compared with the book and mended.

A file is sent twice at the most: to see how its columns are understood, and to be imported. Nothing of it is kept here.
"""

import json
from typing import Any

from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.vendor import ColumnProfile, Row
from pool_client.wire import Unfit, read_json, read_written, write
from starlette.datastructures import UploadFile
from starlette.responses import Response

from pool_web.forms import MOST_NOTE, Form
from pool_web.visit import Visit, deed, listed, page, to, together

_LATEST = 20
_WHOLE = frozenset({"quantity", "entry"})
_FIELD = "mend-"
_MOST_NAME, _MOST_REASON = 40, 200


async def overview(visit: Visit) -> Response:
    """Show what is on file, and the form for another file."""
    return await _overview(visit)


async def propose(visit: Visit) -> Response:
    """Show how a file's columns are understood."""
    filled, content = await visit.filled_in(), await _file(visit)
    name = filled.text("profile", most=_MOST_NAME)
    if content is None:
        filled.problems["file"] = "Choose a file."
    if filled.problems or content is None:
        return await _overview(visit, proposing=filled, status=422)
    try:
        found = await visit.book.propose_column_profile(content, name=name)
    except (Refused, Misused) as refusal:
        return await _overview(visit, proposing=filled, refusal=refusal, status=refusal.status or 422)
    told = json.dumps(write(found.profile)) if found.profile else ""
    return visit.show("proposal.html", found=found, name=name, told=told, form=visit.form({}))


async def confirm_columns(visit: Visit) -> Response:
    """Keep a column profile as it was shown."""
    filled = await visit.filled_in()
    try:
        profile = read_written(ColumnProfile, read_json(filled["told"]))
    except Unfit as flaw:
        filled.problems["profile"] = str(flaw)
        return await _overview(visit, proposing=filled, status=422)
    known = [each for each in await listed(visit.book.column_profiles()) if each.name == profile.name]
    tag = (await visit.book.column_profile(name=profile.name)).tag if known else None
    try:
        await visit.book.put_column_profile(profile, tag=tag)
    except (Refused, Misused, Stale) as refusal:
        return await _overview(visit, proposing=filled, refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/vendor", profile=profile.name)


async def import_file(visit: Visit) -> Response:
    """Import a file of a member's account."""
    filled, content = await visit.filled_in(), await _file(visit)
    member, profile = filled.text("member"), filled.text("profile", most=_MOST_NAME)
    first, last = filled.day("from_day"), filled.day("to_day")
    if content is None:
        filled.problems["file"] = "Choose a file."
    if filled.problems or content is None:
        return await _overview(visit, importing=filled, status=422)
    try:
        made = await visit.book.import_record(
            content, member=member, profile=profile, from_day=first, to_day=last, idempotency_key=filled.key
        )
    except (Refused, Misused) as refusal:
        return await _overview(visit, importing=visit.renewed(filled), refusal=refusal, status=refusal.status or 422)
    return to(f"{visit.home}/vendor/imports/{made.import_id}", done="yes")


async def imported(visit: Visit) -> Response:
    """Show what an import brought, and what it left aside."""
    found = await visit.book.imported(import_id=visit.place("import_id"))
    return visit.show("import.html", found=found, done=visit.query.get("done") == "yes")


async def month(visit: Visit) -> Response:
    """Show a month's book beside the vendor's record."""
    return await _month(visit)


async def decide(visit: Visit) -> Response:
    """Accept what would mend a difference, or dismiss it."""
    filled = await visit.filled_in()
    reason = filled.text("reason", most=_MOST_REASON)
    fields: dict[str, Any] = {
        name.removeprefix(_FIELD): int(text) if name.removeprefix(_FIELD) in _WHOLE and text.isdecimal() else text
        for name, text in filled.texts.items()
        if name.startswith(_FIELD) and text
    }
    accepts = filled.step == "accepted"
    if filled.problems:
        return await _month(visit, filled, status=422)
    return await _acted(
        visit,
        filled,
        visit.book.decide(
            month=visit.place("month"),
            difference=filled["difference"],
            verdict="accepted" if accepts else "dismissed",
            reason=reason,
            fields=fields if accepts else None,
            idempotency_key=filled.key,
        ),
    )


async def confirm(visit: Visit) -> Response:
    """Confirm matches that are only suggested: one, or all."""
    filled = await visit.filled_in()
    match = filled["match"]
    return await _acted(
        visit,
        filled,
        visit.book.confirm(
            month=visit.place("month"),
            matches=(match,) if match else (),
            all_suggested=not match,
            word=filled.text("word", needed=False, most=_MOST_REASON),
            idempotency_key=filled.key,
        ),
    )


async def take_back(visit: Visit) -> Response:
    """Take back that a match is confirmed."""
    filled = await visit.filled_in()
    word = filled.text("word", most=_MOST_REASON)
    if filled.problems:
        return await _month(visit, filled, status=422)
    asked = visit.book.take_back(
        month=visit.place("month"), match=filled["match"], word=word, idempotency_key=filled.key
    )
    return await _acted(visit, filled, asked)


async def sign_off(visit: Visit) -> Response:
    """Sign a month's comparison off as it was seen."""
    filled = await visit.filled_in()
    asked = visit.book.sign_off(
        month=visit.place("month"),
        digest=filled["digest"],
        accept_open=filled.ticked("accept_open"),
        note=filled.text("note", needed=False, most=MOST_NOTE),
        idempotency_key=filled.key,
    )
    return await _acted(visit, filled, asked)


async def _acted(visit: Visit, filled: Form, asked: Any) -> Response:
    try:
        await asked
    except (Refused, Misused, Stale) as refusal:
        return await _month(visit, visit.renewed(filled), refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/vendor/{visit.place('month')}", done="yes")


async def _month(
    visit: Visit, filled: Form | None = None, *, refusal: PoolError | None = None, status: int = 200
) -> Response:
    name = visit.place("month")
    found = await visit.book.reconciliation(month=name)
    rows: dict[str, Row] = {each.identity: each for each in found.rows}
    return visit.show(
        "reconciliation.html",
        status=status,
        month=name,
        found=found,
        rows=rows,
        form=filled or visit.form({}),
        refusal=refusal.sentence if refusal else "",
        done=visit.query.get("done") == "yes",
    )


async def _overview(
    visit: Visit,
    *,
    importing: Form | None = None,
    proposing: Form | None = None,
    refusal: PoolError | None = None,
    status: int = 200,
) -> Response:
    imports, profiles, months, members = await together(
        listed(visit.book.imports()),
        listed(visit.book.column_profiles()),
        visit.book.months(),
        listed(visit.book.members()),
    )
    known = {"profile": visit.query.get("profile") or (profiles[0].name if profiles else "")}
    return visit.show(
        "vendor.html",
        status=status,
        imports=imports[::-1][:_LATEST],
        profiles=profiles,
        months=months[::-1],
        members=[each for each in members if each.handles],
        importing=importing or visit.form(known),
        proposing=proposing or visit.form({}),
        refusal=refusal.sentence if refusal else "",
        saved=visit.query.get("profile", ""),
    )


async def _file(visit: Visit) -> bytes | None:
    """Give the content of the file that was sent, None where there is none."""
    sent = (await visit.request.form()).get("file")
    return await sent.read() or None if isinstance(sent, UploadFile) else None


ROUTES = (
    page("/vendor", overview),
    deed("/vendor/proposal", propose),
    deed("/vendor/profiles", confirm_columns),
    deed("/vendor/imports", import_file),
    page("/vendor/imports/{import_id}", imported),
    page("/vendor/{month:month}", month),
    deed("/vendor/{month:month}/decisions", decide),
    deed("/vendor/{month:month}/confirmations", confirm),
    deed("/vendor/{month:month}/withdrawals", take_back),
    deed("/vendor/{month:month}/sign-offs", sign_off),
)
