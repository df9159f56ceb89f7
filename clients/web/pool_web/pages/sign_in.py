"""Signing in and out. Who somebody is, is the service's to say; here its token goes into the browser's cookie."""

from urllib.parse import quote

from pool_client.errors import Busy, NotAllowed, PoolError
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from pool_web import session
from pool_web.forms import Form, texts_of
from pool_web.visit import Visit, listed, outside, site_of, to


async def sign_in(request: Request) -> Response:
    """Show the form, or let somebody in by what they filled in."""
    site = site_of(request)
    back = request.query_params.get("back", "")
    if request.method != "POST":
        return _shown(request, Form(texts={}, key=""))
    form = Form(texts=texts_of((await request.form(max_files=0)).multi_items()), key="")
    token = form.text("token")
    try:
        await listed(site.client(token).pools())
    except NotAllowed:
        form.problems["token"] = "The service doesn't know this key, or not any more."
    except Busy as error:
        form.problems["token"] = error.sentence
    except ValueError:
        form.problems["token"] = "That is no key."
    except PoolError as error:
        form.problems["token"] = error.sentence
    if form.problems:
        return _shown(request, form, 403)
    answer = to(quote(back) if back.startswith("/book/") else "/")
    session.hold(answer, token)
    return answer


def _shown(request: Request, form: Form, status: int = 200) -> Response:
    return site_of(request).view.answer("sign_in.html", {"path": request.url.path, "form": form}, status)


async def sign_out(_: Visit) -> Response:
    """Forget who it was."""
    answer = to("/sign-in")
    session.let_go(answer)
    return answer


async def books(visit: Visit) -> Response:
    """Show the pools that somebody sees; where it is one, go there."""
    found = await listed(visit.client.pools())
    if len(found) == 1:
        return to(f"/book/{found[0].id}")
    return visit.show("books.html", pools=found)


ROUTES = (
    Route("/sign-in", sign_in, methods=["GET", "POST"]),
    outside("/sign-out", None, sign_out),
    outside("/", books),
)
