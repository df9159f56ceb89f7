"""The site put together: which pages there are, where they stand, and what every one of them knows."""

from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import httpx
from pool_client.line import new_idempotency_key
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from pool_web.deeds import DEEDS
from pool_web.edge import Edge
from pool_web.own_files import OwnFiles
from pool_web.pages import (
    access,
    account,
    catalogue_files,
    closing,
    cost,
    entries,
    founding,
    in_hand,
    ladder_files,
    ladders,
    members,
    months,
    needs,
    now,
    people,
    plans,
    reconciling,
    recording,
    requests,
    round_ends,
    rounds,
    second_factor,
    sign_in,
    undoing,
    vendor,
)
from pool_web.view import View
from pool_web.visit import Site, site_of

ASSETS = Path(__file__).with_name("assets")


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Somewhere to go from everywhere, below the pool's address. first says that there is always room for it; roles
    have no use for it where they aren't named."""

    path: str
    words: str
    first: bool = False
    roles: tuple[str, ...] = ("keeper", "clerk", "reader")


PLACES = (
    Place(path="", words="Now", first=True),
    Place(path="/entries", words="Entries", first=True),
    Place(path="/months", words="Months", first=True, roles=("keeper", "reader")),
    Place(path="/requests", words="Requests"),
    Place(path="/buying", words="Buying"),
    Place(path="/cost", words="Cost"),
    Place(path="/vendor", words="Vendor's record", roles=("keeper", "reader")),
    Place(path="/in-hand", words="Questions", roles=("keeper", "clerk")),
    Place(path="/members", words="Shops"),
    Place(path="/people", words="People and keys", roles=("keeper",)),
)
"""In the order of the menu."""

_PAGES: tuple[Iterable[BaseRoute], ...] = (
    sign_in.ROUTES,
    now.ROUTES,
    recording.ROUTES,
    entries.ROUTES,
    undoing.ROUTES,
    months.ROUTES,
    closing.ROUTES,
    requests.ROUTES,
    rounds.ROUTES,
    round_ends.ROUTES,
    needs.ROUTES,
    ladder_files.ROUTES,
    ladders.ROUTES,
    catalogue_files.ROUTES,
    plans.ROUTES,
    cost.ROUTES,
    vendor.ROUTES,
    reconciling.ROUTES,
    in_hand.ROUTES,
    members.ROUTES,
    people.ROUTES,
    access.ROUTES,
    account.ROUTES,
    second_factor.ROUTES,
    founding.ROUTES,
)

FIRST_SEGMENTS = frozenset({"", "account", "assets", "book", "founding", "invitation", "sign-in", "sign-out"})
"""What the paths of pages begin with; all others are free for the service itself."""


def create_site(*, api: str, http: httpx.AsyncClient, now: Callable[[], datetime]) -> Starlette:
    """Put the site together.

    Takes:   api — the service's address; http — what speaks with it, and is closed when the site ends; now — the
             aware present instant."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        await http.aclose()

    files = OwnFiles(ASSETS)

    async def own_file(request: Request) -> Response:
        answer = files.answer(request, request.path_params["name"])
        return answer or await _not_found(request, ValueError())

    routes = [*(route for page in _PAGES for route in page), Route("/assets/{name}", own_file)]
    made = Starlette(
        routes=routes,
        lifespan=lifespan,
        middleware=[Middleware(Edge)],
        exception_handlers={404: _not_found, 405: _not_found, 500: _failed},
    )
    view = View(
        {"places": PLACES, "undoable": entries.UNDOABLE, "recordable": DEEDS, "own_file": files.address},
    )
    made.state.site = Site(api=api, http=http, view=view, now=now, new_key=new_idempotency_key)
    return made


async def _not_found(request: Request, _: Exception) -> Response:
    told = {"path": request.url.path, "title": "Not found", "sentence": "There is no such page."}
    return site_of(request).view.answer("problem.html", told, 404)


async def _failed(request: Request, _: Exception) -> Response:
    told = {"path": request.url.path, "title": "Something went wrong", "sentence": _FAILED}
    return site_of(request).view.answer("problem.html", told, 500)


_FAILED = "The page could not be made. Nothing is lost; what you recorded before stands."
