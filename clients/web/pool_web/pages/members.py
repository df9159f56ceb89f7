"""The shops of a pool: who belongs to it, with which account at the vendor, and in whose account the stock is kept."""

from dataclasses import replace

from pool_client.errors import Misused, PoolError, Refused, Stale
from pool_client.models.directory import Handle, Member
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import THERE_ALREADY, Visit, deed, form, listed, to, together

_MOST_CODE, _MOST_NAME, _MOST_HANDLE = 20, 100, 100
_DONE = {
    "added": "The shop is in the pool.",
    "changed": "The change counts.",
    "custodian": "The stock is kept in that shop's account.",
}


async def show(visit: Visit) -> Response:
    """List the shops."""
    return await _shown(visit)


async def add(visit: Visit) -> Response:
    """Let a shop join."""
    filled = await visit.filled_in()
    code, name = filled.text("code", most=_MOST_CODE).upper(), filled.text("name", most=_MOST_NAME)
    joined_on, handle = filled.day("joined_on") or visit.today, filled.text("handle", needed=False, most=_MOST_HANDLE)
    if filled.problems:
        return await _shown(visit, adding=filled, status=422)
    handles = (Handle(handle=handle, since=joined_on),) if handle else ()
    try:
        await visit.book.put_member(Member(code=code, name=name, joined_on=joined_on, handles=handles))
    except (Refused, Misused, Stale) as refusal:
        if refusal.status == THERE_ALREADY:
            filled.problems["code"] = f"There is a shop with the code {code} already."
            return await _shown(visit, adding=filled, status=409)
        return await _shown(visit, adding=filled, refusal=refusal)
    return to(f"{visit.home}/members", done="added")


async def one(visit: Visit) -> Response:
    """Show what can be changed of a shop."""
    found = await visit.book.member(code=visit.place("code"))
    told = {"name": found.value.name, "left_on": found.value.left_on.isoformat() if found.value.left_on else ""}
    return _one(visit, found.value, visit.form({**told, "tag": found.tag}))


async def change(visit: Visit) -> Response:
    """Change a shop's name or account, or the day on which it left."""
    filled, found = await visit.filled_in(), (await visit.book.member(code=visit.place("code"))).value
    name, left_on = filled.text("name", most=_MOST_NAME), filled.day("left_on")
    handle, since = filled.text("handle", needed=False, most=_MOST_HANDLE), filled.day("since")
    if filled.problems:
        return _one(visit, found, filled, status=422)
    more = (Handle(handle=handle, since=since or visit.today),) if handle else ()
    changed = replace(found, name=name, left_on=left_on, handles=(*found.handles, *more))
    try:
        await visit.book.put_member(changed, tag=filled["tag"])
    except (Refused, Misused, Stale) as refusal:
        return _one(visit, found, filled, refusal=refusal)
    return to(f"{visit.home}/members", done="changed")


def _one(visit: Visit, found: Member, filled: Form, *, refusal: PoolError | None = None, status: int = 200) -> Response:
    sentence = refusal.sentence if refusal else ""
    status = (refusal.status or 409) if refusal else status
    return visit.show("member.html", status=status, found=found, form=filled, refusal=sentence)


async def name_custodian(visit: Visit) -> Response:
    """Say in whose account the stock is kept, before anything is recorded."""
    filled = await visit.filled_in()
    terms = await visit.book.terms()
    custodian = filled.chosen("custodian", [each.code for each in await listed(visit.book.members())])
    if filled.problems:
        return await _shown(visit, keeping=filled, status=422)
    try:
        await visit.client.put_pool(replace(terms.value, custodian=custodian), tag=terms.tag)
    except (Refused, Misused, Stale) as refusal:
        return await _shown(visit, keeping=filled, refusal=refusal)
    return to(f"{visit.home}/members", done="custodian")


async def _shown(
    visit: Visit,
    *,
    adding: Form | None = None,
    keeping: Form | None = None,
    refusal: PoolError | None = None,
    status: int = 200,
) -> Response:
    members, positions = await together(listed(visit.book.members()), visit.book.positions())
    began = visit.pool.began_on if visit.pool and not positions.number else visit.today
    return visit.show(
        "members.html",
        status=(refusal.status or 409) if refusal else status,
        members=members,
        positions=positions,
        adding=adding or visit.form({"joined_on": began.isoformat()}),
        keeping=keeping or visit.form({"custodian": positions.custodian or ""}),
        done=_DONE.get(visit.query.get("done", ""), ""),
        refusal=refusal.sentence if refusal else "",
    )


ROUTES = (
    form("/members", show, add),
    deed("/members/custodian", name_custodian),
    form("/members/{code}", one, change),
)
