"""The people of a pool, invitations and API keys. What is shown once, such as an invitation's link, is on the answer to
the form that made it and nowhere else."""

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from pool_client.errors import Misused, NotAllowed, PoolError, Refused, Stale
from pool_client.models.directory import Role
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, deed, listed, page, to, together

_ROLES = [each.value for each in Role]
_MOST_WORDS = 100


async def show(visit: Visit) -> Response:
    """Show who belongs to the pool."""
    return await _shown(visit)


async def invite(visit: Visit) -> Response:
    """Invite somebody, and show the link to hand on."""
    form = await visit.filled_in()
    role, member = await _part(visit, form)
    note = form.text("note", needed=False, most=_MOST_WORDS)
    if form.problems or not await visit.confirmed(form):
        return await _shown(visit, inviting=form, status=422)
    try:
        made = await visit.book.invite(role=Role(role), member=member, note=note, idempotency_key=form.key)
    except (Refused, Misused, NotAllowed) as refusal:
        return await _shown(visit, inviting=visit.renewed(form), refusal=refusal, status=refusal.status or 409)
    link = f"{visit.request.url.scheme}://{visit.request.url.netloc}/invitation#{made.token}" if made.token else ""
    return await _shown(visit, invited=made, link=link)


async def make_key(visit: Visit) -> Response:
    """Make an API key, and show its text."""
    form = await visit.filled_in()
    role, member = await _part(visit, form)
    name, until = form.text("name", most=_MOST_WORDS), form.day("until")
    if until and until < visit.today:
        form.problems["until"] = "This day is over."
    if form.problems or not await visit.confirmed(form):
        return await _shown(visit, keying=form, status=422)
    zone = ZoneInfo(visit.pool.time_zone if visit.pool else "UTC")
    expires_at = None if until is None else datetime.combine(until + timedelta(days=1), time(), zone)
    try:
        made = await visit.book.make_key(
            name=name, role=Role(role), member=member, expires_at=expires_at, idempotency_key=form.key
        )
    except (Refused, Misused, NotAllowed) as refusal:
        return await _shown(visit, keying=visit.renewed(form), refusal=refusal, status=refusal.status or 409)
    return await _shown(visit, key_made=made)


async def change(visit: Visit) -> Response:
    """Change what somebody is in the pool, or take them out."""
    form, person = await visit.filled_in(), visit.place("person")
    if form.step == "out":
        return await _done(visit, form, visit.book.take_person_out(person=person))
    role, member = await _part(visit, form)
    if form.problems:
        return await _shown(visit, changing=form, status=422)
    found = await visit.book.person(person=person)
    changed = type(found.value)(
        person=person, name=found.value.name, role=Role(role), joined_at=found.value.joined_at, member=member
    )
    return await _done(visit, form, visit.book.put_person(changed, tag=found.tag))


async def withdraw(visit: Visit) -> Response:
    """Withdraw an invitation."""
    form = await visit.filled_in()
    return await _done(visit, form, visit.book.withdraw_invitation(invitation=visit.place("invitation")))


async def end_key(visit: Visit) -> Response:
    """End an API key."""
    form = await visit.filled_in()
    return await _done(visit, form, visit.book.end_key(key_id=visit.place("key")))


async def _done(visit: Visit, form: Form, work: Any) -> Response:
    if not await visit.confirmed(form):
        work.close()
        return await _shown(visit, changing=form, status=422)
    try:
        await work
    except (Refused, Misused, NotAllowed, Stale) as refusal:
        return await _shown(visit, changing=form, refusal=refusal, status=refusal.status or 409)
    return to(f"{visit.home}/people", done="yes")


async def _part(visit: Visit, form: Form) -> tuple[str, str | None]:
    """Read a role, with the member of a clerk."""
    role = form.chosen("role", _ROLES)
    if role != Role.CLERK:
        return role, None
    return role, form.chosen("member", [each.code for each in await listed(visit.book.members())])


async def _shown(
    visit: Visit,
    *,
    status: int = 200,
    refusal: PoolError | None = None,
    inviting: Form | None = None,
    keying: Form | None = None,
    changing: Form | None = None,
    **told: Any,
) -> Response:
    people, invitations, keys, members = await together(
        listed(visit.book.people()),
        listed(visit.book.invitations()),
        listed(visit.book.keys()),
        listed(visit.book.members()),
    )
    now = visit.site.now()
    ended = [each for each in keys if each.revoked_at or (each.expires_at and each.expires_at <= now)]
    return visit.show(
        "people.html",
        status=status,
        people=people,
        invitations=invitations,
        keys=[each for each in keys if each not in ended],
        ended=ended,
        members=members,
        inviting=inviting or visit.form({"role": "clerk"}),
        keying=keying or visit.form({"role": "reader", "until": _in_a_year(visit.today).isoformat()}),
        changing=changing or visit.form({}),
        changed=_changed(visit) if changing else "",
        wants_password=visit.wants_password,
        roles=_ROLES,
        now=now,
        refusal=refusal.sentence if refusal else "",
        **{"invited": None, "link": "", "key_made": None, "done": visit.query.get("done") == "yes", **told},
    )


def _changed(visit: Visit) -> str:
    """Give the person, the invitation or the key that the address names."""
    named: dict[str, str] = visit.request.path_params
    return next((named[each] for each in ("person", "invitation", "key") if each in named), "")


def _in_a_year(day: date) -> date:
    """Give how long a key is good unless somebody says otherwise: a forgotten one ends by itself."""
    return day + timedelta(days=365)


ROUTES = (
    page("/people", show),
    deed("/people/invitations", invite),
    deed("/people/keys", make_key),
    deed("/people/{person}/change", change),
    deed("/people/invitations/{invitation}/withdrawal", withdraw),
    deed("/people/keys/{key}/end", end_key),
)
