"""How long the server takes for a page, beside the calls of the service that the page makes, at 10,000 entries.

    python -m tests.bench.bench_pages [entries]

All in one process, on SQLite, without a network: a page's time is from its request to its last byte; that of its calls
is what the same requests take when they are sent to the service one after the other. Medians of three, after one."""

import asyncio
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter

import httpx
from pool_web.site import create_site

from pool_api.domain.pool import Policy
from pool_api.rest.compose import Variables, open_office, serving_app
from pool_api.services.keys import make_first_key
from pool_api.settings import Settings
from tests.bench.bench_month import databases
from tests.bench.filling import MONTH, NOW, POOL, fill
from tests.served import UNLIMITED

ENTRIES, MEMBERS = 10_000, 30
HOME, API, SITE = f"/book/{POOL}", "http://service.internal", "https://pages.test"
PATHS = (
    HOME,
    f"{HOME}/record/loan?lender=SHOP-003&borrower=SHOP-004&quantity=5&form_key=measured-here&step=effect",
    f"{HOME}/entries",
    f"{HOME}/entries?member=SHOP-003",
    f"{HOME}/entries/5000",
    f"{HOME}/months/{MONTH}",
    f"{HOME}/months/{MONTH}/settlement",
    f"{HOME}/months/{MONTH}/what-if?loan_price=lender",
    f"{HOME}/months/{MONTH}/figures/members.SHOP-003.due.total",
    f"{HOME}/months/{MONTH}/statements/SHOP-003",
)


@dataclass
class Listening(httpx.AsyncBaseTransport):
    """Takes requests to the service, and notes them."""

    beneath: httpx.ASGITransport
    heard: list[httpx.Request] = field(default_factory=list)

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        self.heard.append(request)
        return await self.beneath.handle_async_request(request)


async def took(work: Callable[[], object]) -> float:
    """Give the median seconds of three times, after one."""
    times = []
    for _ in range(4):
        began = perf_counter()
        await work()  # type: ignore[misc]
        times.append(perf_counter() - began)
    return sorted(times[1:])[1]


async def measure(service: httpx.ASGITransport, key: str) -> None:
    """Print a line for each page."""
    transport = Listening(service)
    site = create_site(api=API, http=httpx.AsyncClient(transport=transport), now=lambda: NOW)
    async with (
        httpx.AsyncClient(transport=httpx.ASGITransport(site), base_url=SITE) as browser,
        httpx.AsyncClient(transport=service) as straight,
    ):
        signed = await browser.post("/sign-in", data={"token": key}, headers={"Sec-Fetch-Site": "same-origin"})
        assert signed.status_code == httpx.codes.SEE_OTHER, signed.text
        print(f"{'page':68} {'calls':>5} {'of them':>9} {'page':>9} {'times':>6}")
        for path in PATHS:
            transport.heard.clear()
            answer = await browser.get(path)
            assert answer.is_success, (path, answer.text)
            calls = list(transport.heard)

            async def ask(calls: list[httpx.Request] = calls) -> None:
                for each in calls:
                    await straight.request(each.method, each.url, headers=each.headers)

            async def look(path: str = path) -> None:
                await browser.get(path)

            floor, page = await took(ask), await took(look)
            print(f"{path[:68]:68} {len(calls):5} {floor * 1e3:6.0f} ms {page * 1e3:6.0f} ms {page / floor:6.1f}")


async def served(database_url: str, entries: int) -> None:
    """Fill a book, and measure the pages of it."""
    numbers = iter(range(1, 1_000_000))
    variables = Variables(now=lambda: NOW, random_hex=lambda size: f"{next(numbers):0{2 * size}x}")
    settings = Settings(database_url=database_url, docs=False)
    office = open_office(settings, variables)
    first = make_first_key(office, name="bench") or ""
    fill(office.engine, entries, MEMBERS, Policy())
    app = serving_app(settings, office, rate=UNLIMITED, failures=UNLIMITED)
    async with app.router.lifespan_context(app):
        service = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=service, base_url=API) as operator:
            asked = {"name": "bench", "role": "keeper"}
            headers = {"Authorization": f"Bearer {first}", "Idempotency-Key": "bench-pages-key"}
            made = await operator.post(f"/v1/pools/{POOL}/keys", json=asked, headers=headers)
        await measure(service, made.json()["secret"])


def main() -> None:
    """Measure as many entries as are asked for."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES
    with databases("sqlite") as database:
        asyncio.run(served(database.url, entries))


if __name__ == "__main__":
    main()
