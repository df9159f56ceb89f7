"""Coming in and going out: signing in, accepting an invitation, the books that somebody has. Tokens are the service's;
here they go into the browser's cookie, and never into an address that is sent."""

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any

from pool_client.errors import Misused, NotAllowed, PoolError
from pool_client.models.people import SessionMade
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from pool_web import session
from pool_web.forms import Form, texts_of
from pool_web.kept import KEPT, Kept, address_of, is_in_a_book, unpacked
from pool_web.visit import Visit, listed, outside, site_of, to

_MOST_NAME, _MOST_PASSWORD, _MOST_TOKEN, _MOST_CODE = 100, 128, 200, 40
_CODE_NEEDED = "code-needed"


async def sign_in(request: Request) -> Response:
    """Show the form, or let somebody in by what they filled in."""
    told: dict[str, Any] = {"action": address_of(request), "kept": None}
    if request.method != "POST":
        return _shown(request, "sign_in.html", Form(texts={}, key=""), **told)
    form = await _filled_in(request)
    told["kept"] = kept = unpacked(form.texts.get(KEPT, ""))
    try:
        token = await _admitted(request, form)
    except NotAllowed as refusal:
        needed = {"name": form["name"], "ticket": str(refusal.fields.get("ticket", ""))}
        return _shown(request, "sign_in_code.html", Form(texts=needed, key=""), **told)
    if token is None:
        return _shown(request, "sign_in_code.html" if "ticket" in form.texts else "sign_in.html", form, 403, **told)
    if kept:
        return _kept(request, kept, token)
    back = request.query_params.get("back", "")
    return _let_in(token, back if is_in_a_book(back) else "/")


def _kept(request: Request, kept: Kept, token: str) -> Response:
    """Let somebody in, and show what was filled in before, to be sent now."""
    told = {"path": request.url.path, "proof": session.proof(token), "kept": kept, "welcome": True}
    answer = site_of(request).view.answer("again.html", {**told, "title": "You are signed in again", "sentence": _KEPT})
    session.hold(answer, token)
    return answer


async def _admitted(request: Request, form: Form) -> str | None:
    """Give a token for what was filled in, None where that isn't right. Refuses: NotAllowed when a code is needed."""
    if "token" in form.texts:
        return await _by_key(request, form)
    return await (_by_code(request, form) if "ticket" in form.texts else _by_name(request, form))


async def _by_name(request: Request, form: Form) -> str | None:
    name, password = form.text("name", most=_MOST_NAME), _password(form, "password")
    client = site_of(request).client(None)
    return await _token(form, "password", lambda: client.sign_in(name=name, password=password, label="pages"))


async def _by_code(request: Request, form: Form) -> str | None:
    """Complete a sign-in with a code; which field it stands in says which kind of code it is thought to be."""
    name, ticket = form.text("name", most=_MOST_NAME), form.text("ticket", most=_MOST_TOKEN)
    field = "recovery" if "recovery" in form.texts else "code"
    code = form.text(field, most=_MOST_CODE)
    client = site_of(request).client(None)
    ask = partial(client.complete_sign_in, name=name, ticket=ticket, code=code, label="pages")
    return await _token(form, field, ask)


async def _by_key(request: Request, form: Form) -> str | None:
    """Give the key itself, where it is one."""
    token = form.text("token", most=_MOST_TOKEN)
    try:
        await site_of(request).client(token).who()
    except (PoolError, ValueError) as error:
        form.problems["token"] = _NO_KEY if isinstance(error, ValueError | NotAllowed) else error.sentence
        return None
    return token


async def _token(form: Form, field: str, ask: Callable[[], Awaitable[SessionMade]]) -> str | None:
    """Give the token that the service answers with; what it says instead stands beside a field.

    Refuses: NotAllowed when the password was right and a code is needed."""
    if form.problems:
        return None
    try:
        return (await ask()).token
    except Misused:
        form.problems[field] = "Please look at what you have filled in again."
    except PoolError as error:
        if error.code == _CODE_NEEDED:
            raise
        form.problems[field] = _TOO_LATE if error.code == "ticket-void" else error.sentence
    return None


async def invitation(request: Request) -> Response:
    """Show the form for an invitation, or let in whoever accepts it. The token comes behind the # of a link, which
    browsers keep to themselves, or is pasted."""
    if request.method != "POST":
        return _shown(request, "invitation.html", Form(texts={}, key=""))
    form = await _filled_in(request)
    invited = form.text("invitation", most=_MOST_TOKEN)
    name, password = form.text("name", most=_MOST_NAME), _password(form, "password")
    if password != form.texts.get("again", ""):
        form.problems["again"] = "This is not the same."
    client = site_of(request).client(None)
    token = await _token(
        form,
        "invitation",
        lambda: client.accept_invitation(token=invited, name=name, password=password, label="pages"),
    )
    return _shown(request, "invitation.html", form, 422) if token is None else _let_in(token, "/")


async def joined(visit: Visit) -> Response:
    """Let somebody who is signed in join another pool."""
    form = await visit.filled_in()
    invited = form.text("invitation", most=_MOST_TOKEN)
    if not form.problems:
        try:
            await visit.client.accept_invitation(token=invited)
        except PoolError as error:
            form.problems["invitation"] = error.sentence
    return visit.show("books.html", status=422, pools=await _pools(visit), form=form) if form.problems else to("/")


def _password(form: Form, name: str) -> str:
    """Read a password: as it is, with blanks at its ends."""
    password = form.texts.get(name, "")
    if not 0 < len(password) <= _MOST_PASSWORD:
        form.problems[name] = f"This is needed, with at most {_MOST_PASSWORD} characters."
    return password


def _let_in(token: str, path: str) -> Response:
    answer = to(path)
    session.hold(answer, token)
    return answer


async def _filled_in(request: Request) -> Form:
    return Form(texts=texts_of((await request.form(max_files=0)).multi_items()), key="")


def _shown(request: Request, template: str, form: Form, status: int = 200, **told: Any) -> Response:
    return site_of(request).view.answer(template, {"path": request.url.path, "form": form, **told}, status)


async def sign_out(visit: Visit) -> Response:
    """End the session, here and in the service."""
    if visit.who and visit.who.session:
        await visit.client.sign_out()
    answer = to("/sign-in")
    session.let_go(answer)
    return answer


async def books(visit: Visit) -> Response:
    """Show the pools that somebody sees; where it is one, go there."""
    found = await _pools(visit)
    if len(found) == 1 and not visit.query and not (visit.who and visit.who.is_operator):
        return to(f"/book/{found[0][0]}")
    return visit.show("books.html", pools=found, form=visit.form({}))


async def _pools(visit: Visit) -> list[tuple[str, str, str]]:
    """Give id, name and vendor of the pools."""
    return [(each.id, each.name, each.vendor) for each in await listed(visit.client.pools())]


_TOO_LATE = "That took longer than 5 minutes, or your password was changed meanwhile: begin again."
_KEPT = "This is what you had filled in. Nothing of it was done yet: look at it, and send it."
_NO_KEY = "The service doesn't know this key, or not any more."

ROUTES = (
    Route("/sign-in", sign_in, methods=["GET", "POST"]),
    Route("/invitation", invitation, methods=["GET", "POST"]),
    outside("/sign-out", None, sign_out),
    outside("/", books, joined),
)
