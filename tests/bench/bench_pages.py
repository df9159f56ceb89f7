"""How long the server takes for every page, beside the calls of the service that the page makes, at 10,000 entries.

    python -m tests.bench.bench_pages [entries [members [part of an address]]]

All in one process, on SQLite, without a network: a page's time is what the processors work from its request to its last
byte, on the way on too where it leads somewhere; that of its calls is what the same requests take when they are sent to
the service one after the other. Trips are how many times one after the other the page waits for the service: calls that
are under way together are one trip.
"""

import asyncio
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from itertools import count
from statistics import median
from time import process_time
from urllib.parse import urlencode

import httpx
from pool_client.models.directory import Role
from pool_web import plots, session
from pool_web.forms import Form
from pool_web.site import create_site

from pool_api.domain.pool import Policy
from pool_api.rest.compose import Variables, open_office, serving_app, spare_the_collector
from pool_api.settings import Settings
from tests.bench.bench_month import databases
from tests.bench.filling import MONTH, NOW, POOL, fill
from tests.bench.filling_pages import COMING, CUSTODIAN, LATER, ON_FILE, furnish
from tests.served import UNLIMITED, join, serving

ENTRIES, MEMBERS = 10_000, 30
LONG_S = 4
HOME, API, SITE = f"/book/{POOL}", "http://service.internal", "https://pages.test"
AT, BUYING = f"{HOME}/months/{MONTH}", f"{HOME}/buying"
USE = {"member": "SHOP-003", "quantity": "1", "item": "TUNE-5", "job": "J-1"}
LOAN = {"lender": "SHOP-003", "borrower": "SHOP-004", "quantity": "5"}
UNDO = {"on": "2026-11-10", "quantity": "1"}
EFFECT = {"form_key": "measured-here", "step": "effect"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An address with what is sent to it, None where it is read. file is sent too; anew says that drawings are made
    and not taken from what is kept."""

    path: str
    sent: dict[str, str] | None = None
    file: str = ""
    anew: bool = False


def rows(names: dict[str, str]) -> Iterator[Row]:
    """Give what is measured.

    Takes:   names — a round, a plan, an import and a file of the vendor's, as they are filled in."""
    yield from (Row(path=each.format_map(names)) for each in PATHS)
    yield from (Row(path=each.format_map(names), anew=True) for each in PLOTS)
    yield Row(path=f"{HOME}/record/loan", sent={**LOAN, "step": "effect"})
    yield Row(path=f"{HOME}/record/loan", sent={**LOAN, "step": "record"})
    yield Row(path=f"{HOME}/record/use", sent={**USE, "step": "record"})
    yield Row(path=f"{BUYING}/rounds/{names['round']}/commitment", sent={"member": "SHOP-011", "quantity": "60"})
    yield Row(path=f"{HOME}/vendor/file", sent={"member": ON_FILE[0], "step": "look"}, file=names["file"])


PLOTS = (f"{HOME}/cost/plot.svg", f"{BUYING}/plans/{{plan}}/plot.svg")
PATHS = (
    "/sign-in",
    "/invitation",
    "/?all=yes",
    "/account",
    "/account/password",
    "/account/sessions",
    "/account/second-factor",
    "/account/second-factor/confirmation",
    "/account/second-factor/recovery-codes",
    "/account/second-factor/removal",
    "/assets/pages.css",
    HOME,
    f"{HOME}/more",
    f"{HOME}/record",
    f"{HOME}/record/loan?{urlencode(LOAN | EFFECT)}",
    f"{HOME}/record/use?{urlencode(USE | EFFECT)}",
    f"{HOME}/entries",
    f"{HOME}/entries?member=SHOP-003",
    f"{HOME}/entries/200",
    f"{HOME}/entries/200/undo?{urlencode(UNDO | EFFECT)}",
    f"{HOME}/entries/200/acknowledgement",
    f"{HOME}/entries/verification",
    f"{HOME}/months",
    AT,
    f"{AT}/settlement",
    f"{AT}/close",
    f"{AT}/reopening",
    f"{AT}/what-if?loan_price=lender",
    f"{AT}/figures/members.SHOP-003.due.total",
    f"{AT}/figures/members.SHOP-003.due.draws",
    f"{AT}/statements/SHOP-003",
    *(f"{AT}/statements/SHOP-003/{form}" for form in ("csv", "xlsx", "pdf")),
    f"{AT}/statements.zip",
    f"{AT}/report.pdf",
    f"{AT}/vendor",
    f"{AT}/vendor/matches",
    f"{AT}/vendor/proof",
    f"{AT}/vendor/all?kind=missing_at_vendor",
    f"{HOME}/requests",
    BUYING,
    f"{BUYING}/rounds/{{round}}",
    f"{BUYING}/rounds/{{round}}/commitment",
    f"{BUYING}/rounds/{{round}}/close",
    f"{BUYING}/needs",
    f"{BUYING}/needs/SHOP-003/{COMING}",
    f"{BUYING}/ladders?quantity=500",
    f"{BUYING}/ladders/new",
    f"{BUYING}/ladders/{MONTH.first}/change",
    f"{BUYING}/ladders/file",
    f"{BUYING}/catalogue",
    f"{BUYING}/catalogue/{LATER}/changes",
    f"{BUYING}/catalogue/file",
    f"{BUYING}/plans",
    f"{BUYING}/plans/{{plan}}",
    f"{HOME}/cost",
    *PLOTS,
    f"{HOME}/vendor",
    f"{HOME}/vendor/file",
    f"{HOME}/vendor/imports/{{import_id}}",
    f"{HOME}/in-hand",
    f"{HOME}/members",
    f"{HOME}/members/SHOP-003",
    f"{HOME}/people",
    f"{HOME}/people/access",
)


@dataclass
class Listening(httpx.AsyncBaseTransport):
    """Takes requests to the service, and notes them and the trips: no answer is handed back before all that is under
    way has one."""

    beneath: httpx.ASGITransport
    heard: list[httpx.Request] = field(default_factory=list)
    trips: int = 0
    _under_way: int = 0
    _answered: int = 0
    _back: asyncio.Event = field(default_factory=asyncio.Event)

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        self.heard.append(request)
        self._under_way += 1
        await asyncio.sleep(0)  # what is asked at the same time is under way as well by then
        answer = await self.beneath.handle_async_request(request)
        back, self._answered = self._back, self._answered + 1
        if self._answered < self._under_way:
            await back.wait()
            return answer
        self.trips += 1
        self._under_way, self._answered, self._back = 0, 0, asyncio.Event()
        back.set()
        return answer


class Pages:
    """The pages of a service, and whoever looks at them. numbers are for keys that were never used."""

    def __init__(self, service: httpx.ASGITransport, token: str) -> None:
        self._service = service
        self._token = token
        self._numbers = count(1)
        self._listening = Listening(service)
        self._counted, self._timed = self._browser(self._listening), self._browser(service)

    def _browser(self, service: httpx.AsyncBaseTransport) -> httpx.AsyncClient:
        site = create_site(api=API, http=httpx.AsyncClient(transport=service), now=lambda: NOW)
        return httpx.AsyncClient(
            transport=httpx.ASGITransport(site),
            base_url=SITE,
            cookies={session.COOKIE: self._token},
            follow_redirects=True,
        )

    async def measure(self, row: Row) -> None:
        """Print a line for a row."""
        heard, trips = await self.listen(row)
        page, floor = await worked(lambda: self._look(row, self._timed), lambda: self._ask(heard))
        told = f"{'POST ' if row.sent else ''}{row.path}{', drawn anew' if row.anew else ''}".replace(HOME, "~")
        times = f"{page / floor:6.1f}" if heard else "     –"
        print(f"{told[:72]:72} {len(heard):5} {trips:5} {floor * 1e3:6.0f} ms {page * 1e3:6.0f} ms {times}", flush=True)

    async def listen(self, row: Row) -> tuple[list[httpx.Request], int]:
        """Give the calls that a page makes, and in how many trips."""
        self._listening.heard, self._listening.trips = [], 0
        answer = await self._look(row, self._counted)
        assert answer.is_success, (row.path, answer.status_code, answer.text)
        return self._listening.heard, self._listening.trips

    async def _look(self, row: Row, browser: httpx.AsyncClient) -> httpx.Response:
        if row.anew:
            plots.costs_svg.cache_clear()
            plots.plan_svg.cache_clear()
        if row.sent is None:
            return await browser.get(row.path)
        own = {"form_key": f"measured-{next(self._numbers)}", "form_proof": session.proof(self._token)}
        sent = {**row.sent, **own, "form_seen": Form(texts=row.sent, key="").seen}
        files = {"file": ("export.csv", row.file.encode())} if row.file else None
        return await browser.post(row.path, data=sent, files=files, headers={"Sec-Fetch-Site": "same-origin"})

    async def _ask(self, calls: list[httpx.Request]) -> None:
        async with httpx.AsyncClient(transport=self._service) as straight:
            for each in calls:
                headers = httpx.Headers(each.headers)
                if "Idempotency-Key" in headers:
                    headers["Idempotency-Key"] = f"measured-straight-{next(self._numbers)}"
                await straight.request(each.method, each.url, headers=headers, content=each.content)


async def worked(*works: Callable[[], Awaitable[object]]) -> list[float]:
    """Give what the processors work on each, in seconds: the median of three times after one, turn by turn. What takes
    long is done once."""
    times: list[list[float]] = [[] for _ in works]
    while len(times[-1]) < 4 and sum(map(sum, times)) < LONG_S:
        for work, taken in zip(works, times, strict=True):
            began = process_time()
            await work()
            taken.append(process_time() - began)
    return [median(taken[1:] or taken) for taken in times]


@asynccontextmanager
async def opened(database_url: str, key: str) -> AsyncIterator[Pages]:
    """Serve a filled book, and give its pages to whoever has a key."""
    numbers = count(1_000_000)
    variables = Variables(now=lambda: NOW, random_hex=lambda size: f"{next(numbers):0{2 * size}x}")
    settings = Settings(database_url=database_url, docs=False)
    app = serving_app(settings, open_office(settings, variables), rate=UNLIMITED, failures=UNLIMITED)
    async with app.router.lifespan_context(app):
        yield Pages(service=httpx.ASGITransport(app), token=key)


async def measure(database_url: str, key: str, names: dict[str, str], part: str) -> None:
    """Print a line for every row with a part in its address."""
    async with opened(database_url, key) as pages:
        spare_the_collector()
        print(f"{'page':72} {'calls':>5} {'trips':>5} {'of them':>9} {'page':>9} {'times':>6}")
        for row in rows(names):
            if part in row.path:
                await pages.measure(row)


def filled(database_url: str, entries: int, members: int) -> tuple[str, dict[str, str]]:
    """Fill a book, and give the token of a person who keeps it and what addresses name."""
    with serving(database_url) as served:
        fill(served.office.engine, entries, members, Policy(), CUSTODIAN)
        served.keys["keeper"] = served.book("operator").make_key(name="bench", role=Role.KEEPER).secret or ""
        names = furnish(served)
        join(served, "Ines", "ines")
        return served.keys["ines"], names


def main() -> None:
    """Measure as many entries as are asked for."""
    entries, members = (
        int(sys.argv[at]) if len(sys.argv) > at else usual for at, usual in ((1, ENTRIES), (2, MEMBERS))
    )
    part = sys.argv[3] if len(sys.argv) > 3 else ""
    with databases("sqlite") as database:
        key, names = filled(database.url, entries, members)
        asyncio.run(measure(database.url, key, names, part))


if __name__ == "__main__":
    main()
