"""A visit: one request of a person who is signed in, with the book that it is about; and routes made of what pages do.

A page is a function from a visit to an answer. Whatever the service refuses on the way, and no page has foreseen, is
said on a page of its own; who isn't known any more is asked to sign in again.
"""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, TypeVar, overload
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import httpx
from pool_client import AsyncBook, AsyncClient
from pool_client.attempts import Patience
from pool_client.calls.call import Call
from pool_client.calls.call import Page as Rows
from pool_client.errors import Busy, Missing, NotAllowed, PoolError, Refused, ServerFault, Stale, Unreachable
from pool_client.models.directory import Pool, Role
from pool_client.models.people import PoolOfCaller, Who
from starlette.convertors import Convertor, register_url_convertor
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pool_web import session
from pool_web.forms import KEY, PROOF, Form, texts_of
from pool_web.kept import address_of, keep
from pool_web.view import View

PATIENCE = Patience(tries=3, first_pause_s=0.05, longest_pause_s=1.0)
"""A person is waiting."""

MOST_AT_ONCE = 20
"""Calls of one page; so many connections the client keeps open (httpx's usual limit)."""
_MOST_FIELDS = 1_000
_SIGN_IN = "/sign-in"

T = TypeVar("T")
A = TypeVar("A")
B = TypeVar("B")
C = TypeVar("C")
D = TypeVar("D")
E = TypeVar("E")


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What all visits share. api is the service's address, http goes there; now and new_key give the present instant
    and keys that were never used."""

    api: str
    http: httpx.AsyncClient
    view: View
    now: Callable[[], datetime]
    new_key: Callable[[], str]

    def client(self, token: str | None) -> AsyncClient:
        """Give a client that acts for whoever has a token, or for anybody.

        Refuses: ValueError for what can't be a token."""
        return AsyncClient(self.api, token, http=self.http, patience=PATIENCE)


def site_of(request: Request) -> Site:
    """Give the site that a request came to."""
    site: Site = request.app.state.site
    return site


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One request of somebody who is signed in. pool is the one that the address names, None outside of any; who is
    whom the service knows."""

    request: Request
    site: Site
    token: str
    client: AsyncClient
    pool: Pool | None = None
    who: Who | None = None

    @property
    def book(self) -> AsyncBook:
        """The book of the pool that the address names."""
        return self.client.book(self.request.path_params["pool"])

    @property
    def home(self) -> str:
        """The address of the pool's first page."""
        return f"/book/{self.request.path_params['pool']}"

    @property
    def query(self) -> dict[str, str]:
        """What the address asks for."""
        return dict(self.request.query_params)

    @property
    def today(self) -> date:
        """The present day where the pool is."""
        zone = ZoneInfo(self.pool.time_zone if self.pool else "UTC")
        return self.site.now().astimezone(zone).date()

    @property
    def own(self) -> PoolOfCaller | None:
        """What whoever is signed in is in this pool."""
        pools = self.who.pools if self.who else ()
        return next((each for each in pools if self.pool and each.pool == self.pool.id), None)

    @property
    def is_keeper(self) -> bool:
        """Whether this is the keeper of the pool."""
        return self.own is not None and self.own.role is Role.KEEPER

    @property
    def is_clerk(self) -> bool:
        """Whether this is a clerk of a member."""
        return self.own is not None and self.own.role is Role.CLERK

    @property
    def wants_password(self) -> bool:
        """Whether what changes who may do what needs the password again."""
        session = self.who.session if self.who else None
        return session is not None and session.confirmed_until <= self.site.now()

    @property
    def wants_second_factor(self) -> bool:
        """Whether this is a person who keeps some book, and has no second factor yet."""
        who = self.who
        keeps = who is not None and any(each.role is Role.KEEPER for each in who.pools)
        return who is not None and who.session is not None and keeps and not who.has_second_factor

    async def confirmed(self, form: Form) -> bool:
        """Tell whether whoever asks has given the password lately, or gives it now; if not, the form says so."""
        if not self.wants_password:
            return True
        try:
            await self.client.confirm_session(password=form.texts.get("password", ""))
        except PoolError as error:
            form.problems["password"] = error.sentence if form["password"] else "Give your password again for this."
            return False
        return True

    def place(self, name: str) -> str:
        """Give a part of the address."""
        part: str = self.request.path_params[name]
        return part

    def form(self, texts: dict[str, str]) -> Form:
        """Give a form to be shown, with a new key."""
        return Form(texts=texts, key=self.site.new_key())

    def renewed(self, form: Form) -> Form:
        """Give a form as it was filled in, with a new key: what it says is something else than before."""
        return Form(texts=form.texts, key=self.site.new_key(), problems=form.problems)

    async def filled_in(self) -> Form:
        """Give the form that was sent, fields and key."""
        texts = await _texts(self.request)
        return Form(texts=texts, key=texts.get(KEY, ""))

    async def file(self, name: str) -> bytes | None:
        """Give the bytes of a file that was sent with the form, None where none was chosen."""
        sent = await self.request.form(max_files=1, max_fields=_MOST_FIELDS)
        file = sent.get(name)
        return await file.read() if isinstance(file, UploadFile) and file.filename else None

    async def page_of(self, call: Call[Rows[T]]) -> Rows[T]:
        """Give the rows of a list that the address asks for, from its cursor on."""
        cursor = self.query.get("cursor")
        return await self.client.line.send(call.on(cursor) if cursor else call)

    def show(self, template: str, /, *, status: int = 200, **told: Any) -> Response:
        """Answer with a page."""
        beside = {
            "pool": self.pool,
            "home": self.home if self.pool else "",
            "proof": session.proof(self.token),
            "who": self.who,
            "own": self.own,
            "is_keeper": self.is_keeper,
            "wants_second_factor": self.wants_second_factor,
            "today": self.today,
        }
        return self.site.view.answer(template, {"path": self.request.url.path, **beside, **told}, status)

    async def allowed(self, asked: Awaitable[T]) -> T | None:
        """Give an answer, or None where it isn't this person's to see."""
        try:
            return await asked
        except NotAllowed as error:
            if is_unknown(error):
                raise
            return None


async def _texts(request: Request) -> dict[str, str]:
    sent = await request.form(max_files=1, max_fields=_MOST_FIELDS)
    return texts_of(sent.multi_items())


@overload
async def together(one: Awaitable[A], two: Awaitable[B], /) -> tuple[A, B]: ...
@overload
async def together(one: Awaitable[A], two: Awaitable[B], three: Awaitable[C], /) -> tuple[A, B, C]: ...
@overload
async def together(
    one: Awaitable[A], two: Awaitable[B], three: Awaitable[C], four: Awaitable[D], /
) -> tuple[A, B, C, D]: ...
@overload
async def together(
    one: Awaitable[A], two: Awaitable[B], three: Awaitable[C], four: Awaitable[D], five: Awaitable[E], /
) -> tuple[A, B, C, D, E]: ...
@overload
async def together(*asked: Awaitable[T]) -> tuple[T, ...]: ...
async def together(*asked: Awaitable[Any]) -> tuple[Any, ...]:
    """Ask several things at once, as many as there are connections that are kept, and give the answers. Where one is
    refused the others are waited for before that is said, so that nothing goes on behind a page."""
    turns = asyncio.Semaphore(MOST_AT_ONCE)

    async def in_turn(one: Awaitable[Any]) -> Any:
        async with turns:
            return await one

    answers = await asyncio.gather(*map(in_turn, asked), return_exceptions=True)
    for each in answers:
        if isinstance(each, BaseException):
            raise each
    return tuple(answers)


async def listed(rows: AsyncIterator[T]) -> list[T]:
    """Give all rows of a list."""
    return [row async for row in rows]


def to(address: str, **query: str) -> Response:
    """Send a person on to an address."""
    return RedirectResponse(f"{address}?{urlencode(query)}" if query else address, 303)


class _Month(Convertor[str]):
    """A month in an address, as the service writes it."""

    regex = "2[0-9]{3}-(0[1-9]|1[0-2])"

    def convert(self, value: str) -> str:
        """Give the month that a part of an address names."""
        return value

    def to_string(self, value: str) -> str:
        """Give the part of an address for a month."""
        return value


register_url_convertor("month", _Month())

Page = Callable[[Visit], Awaitable[Response]]


def page(path: str, show: Page) -> Route:
    """Give the route of a page that is read, below the pool's address."""
    return Route(f"/book/{{pool}}{path}", _in_pool(show), methods=["GET"])


def form(path: str, show: Page, take: Page) -> Route:
    """Give the route of a page with a form: shown, and taken when it is sent."""
    return Route(f"/book/{{pool}}{path}", _in_pool(show, take), methods=["GET", "POST"])


def deed(path: str, take: Page) -> Route:
    """Give the route of a form that stands on another page."""
    return Route(f"/book/{{pool}}{path}", _in_pool(None, take), methods=["POST"])


def outside(path: str, show: Page | None, take: Page | None = None) -> Route:
    """Give the route of a page that is about no pool, for people who are signed in."""
    methods = [*(["GET"] if show else []), *(["POST"] if take else [])]
    return Route(path, _signed_in(show and _known(show), take and _known(take)), methods=methods)


Endpoint = Callable[[Request], Awaitable[Response]]


def _known(page: Page) -> Page:
    async def with_who(visit: Visit) -> Response:
        return await page(replace(visit, who=await visit.client.who()))

    return with_who


def _in_pool(show: Page | None, take: Page | None = None) -> Endpoint:
    def within(page: Page) -> Page:
        async def with_terms(visit: Visit) -> Response:
            terms, who = await together(visit.book.terms(), visit.client.who())
            return await _told(page, replace(visit, pool=terms.value, who=who))

        return with_terms

    return _signed_in(show and within(show), take and within(take))


def _signed_in(show: Page | None, take: Page | None) -> Endpoint:
    async def answered(visit: Visit) -> Response:
        writes = visit.request.method == "POST"
        if writes and not session.is_proof(visit.token, (await visit.filled_in())[PROOF]):
            return await _again(visit, 403, title="Not done yet", sentence=_NOT_OURS)
        page = take if writes else show
        return await _told(page, visit) if page else Response(status_code=405)

    async def answer(request: Request) -> Response:
        visit = _visit(request)
        try:
            return await (answered(visit) if visit else _ask_who(request))
        finally:
            await request.close()  # and the files that were sent with it

    return answer


async def _told(page: Page, visit: Visit) -> Response:
    """Give a page, or say on one that stands in the same place why there is none."""
    try:
        return await page(visit)
    except PoolError as error:
        return await (_ask_who(visit.request) if is_unknown(error) else _problem(visit, error))


def _visit(request: Request) -> Visit | None:
    """Give the visit of whoever holds a token, None where nobody does, or it can't be one."""
    site, token = site_of(request), session.token_of(request)
    try:
        return Visit(request=request, site=site, token=token, client=site.client(token)) if token else None
    except ValueError:
        return None


async def _ask_who(request: Request) -> Response:
    """Ask to sign in: on the way back to the page that was asked for, or with what was filled in kept."""
    if request.method == "POST":
        kept = keep(request, await _texts(request))
        told = {"path": _SIGN_IN, "action": _SIGN_IN, "form": Form(texts={}, key=""), "kept": kept}
        answer = site_of(request).view.answer("sign_in.html", told, 403)
    else:
        back = address_of(request)
        answer = to(_SIGN_IN, **({"back": back} if request.url.path != "/" else {}))
    session.let_go(answer)
    return answer


def is_unknown(error: PoolError) -> bool:
    """Tell whether the service says that it doesn't know a token, or not any more."""
    return error.status == 401 and error.code not in {WRONG, WANTS_PASSWORD}


WRONG = "sign-in-refused"
"""The code under which the service says that a name or a password is wrong."""
THERE_ALREADY = 428
"""The status with which the service answers that what would be made is there, and can only be changed."""
WANTS_PASSWORD = "confirmation-required"  # noqa: S105 - a code of the service

_NOT_OURS = (
    "This form was made for another sign-in, so nothing was done. Where it is yours and still right, send it again."
)
_TITLES: tuple[tuple[type[PoolError], str, int], ...] = (
    (NotAllowed, "Not yours to see or do", 403),
    (Missing, "Not found", 404),
    (Stale, "Something has moved since", 412),
    (Refused, "Not done", 409),
    (Busy, "Too busy just now", 503),
    (Unreachable, "The book can't be reached", 503),
)
_UNKNOWN_OUTCOME = (Busy, Unreachable, ServerFault)


async def _problem(visit: Visit, error: PoolError) -> Response:
    title, status = next(
        ((title, status) for kind, title, status in _TITLES if isinstance(error, kind)), ("Something went wrong", 502)
    )
    passing = isinstance(error, _UNKNOWN_OUTCOME)
    sentence = _UNREACHABLE if isinstance(error, Unreachable) else error.sentence
    if passing and visit.request.method == "POST":
        return await _again(visit, status, title=title, sentence=sentence)
    once_more = address_of(visit.request) if passing else ""
    return visit.show("problem.html", status=status, title=title, sentence=sentence, again=once_more)


_UNREACHABLE = "The pages get no answer from the book just now. What was recorded before stands."


async def _again(visit: Visit, status: int, *, title: str, sentence: str) -> Response:
    """Say why nothing was done, with what was filled in to be sent again."""
    kept = keep(visit.request, await _texts(visit.request))
    return visit.show("again.html", status=status, title=title, sentence=sentence, kept=kept, welcome=False)
