"""One's own account: where one is signed in, what happened with it lately, and the password."""

from collections.abc import Sequence

from pool_client.calls import access
from pool_client.errors import Misused, PoolError
from pool_client.models.access import AccessEvent
from pool_client.models.people import Session
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, listed, outside, to, together

_DONE = {"password": "Your password is changed; your other sessions are ended.", "ended": "That session is ended."}

_LATELY = 20


async def show(visit: Visit) -> Response:
    """Show where somebody is signed in."""
    return await _shown(visit, visit.form({}))


async def change(visit: Visit) -> Response:
    """Change the password."""
    form = await visit.filled_in()
    current, new = (form.texts.get(name, "") for name in ("current", "new"))
    for name in ("current", "new"):
        if not form.texts.get(name):
            form.problems[name] = "This is needed."
    if new != form.texts.get("again"):
        form.problems["again"] = "This is not the same."
    if not form.problems:
        try:
            await visit.client.change_password(current=current, new=new)
        except Misused:
            form.problems["new"] = "It has from 8 to 128 characters."
        except PoolError as error:
            form.problems["current" if error.code == "sign-in-refused" else "new"] = error.sentence
    return await _shown(visit, form, 422) if form.problems else to("/account", done="password")


async def end(visit: Visit) -> Response:
    """End a session, or all but this one."""
    form = await visit.filled_in()
    if form["session"]:
        await visit.client.end_session(session=form["session"])
    else:
        await visit.client.end_other_sessions()
    return to("/account", done="ended")


async def _shown(visit: Visit, form: Form, status: int = 200) -> Response:
    sessions, lately = await _own(visit) if visit.who and visit.who.session else ([], ())
    done = _DONE.get(visit.query.get("done", ""), "")
    return visit.show("account.html", status=status, sessions=sessions, lately=lately, form=form, done=done)


async def _own(visit: Visit) -> tuple[list[Session], Sequence[AccessEvent]]:
    """Give where somebody is signed in, and what happened lately."""
    sessions, found = await together(
        listed(visit.client.sessions()), visit.client.line.send(access.own_access_events(limit=_LATELY))
    )
    return sessions, found.items


ROUTES = (
    outside("/account", show),
    outside("/account/password", show, change),
    outside("/account/sessions", show, end),
)
