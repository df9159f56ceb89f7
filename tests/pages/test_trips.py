"""How often pages wait for the service, one time after the other: as often as their questions hang on each other, so
that a service far away makes no page slow. They are the addresses that the bench of pages measures."""

import asyncio
from collections import defaultdict
from datetime import UTC, datetime
from urllib.parse import urlencode

import httpx
from pool_web.site import create_site
from starlette.routing import Match, Route

from tests.bench.bench_pages import AT as MONTH
from tests.bench.bench_pages import BUYING, EFFECT, HOME, UNDO, filled, opened, rows
from tests.databases import SqliteTemplate

ENTRY = f"{HOME}/entries/200"
USUAL = 2
"""Whose book it is and who asks, then all that the page shows."""
MORE = {
    HOME: 3,  # the sheet of the present month, the comparisons of open months, the joint orders that are open
    ENTRY: 3,  # what the job of a use comes to
    f"{ENTRY}/acknowledgement": 3,
    f"{ENTRY}/undo?{urlencode(UNDO | EFFECT)}": 3,  # what it would change
    f"{MONTH}/vendor": 3,  # the entries of what differs
    f"{MONTH}/vendor/matches": 5,  # the entries of fifty matches, twenty at a time
    f"{HOME}/cost": 3,  # what jobs earned in the months that there are
    f"POST {HOME}/record/loan?effect": 3,  # led on to the form, which asks again
    f"POST {HOME}/record/loan?record": 5,  # recorded, and led on to the receipt
    f"POST {HOME}/record/use?record": 6,  # and what the job comes to
    f"POST {BUYING}/rounds/{{round}}/commitment?": 4,  # what was said before, and what the order would cost
}


OPERATORS = frozenset({"/founding"})
"""What is a page for those only who run the service: it isn't measured."""


async def listened(database_url: str, key: str, names: dict[str, str]) -> dict[str, int]:
    """Give the trips of all addresses that are measured."""
    found = {}
    async with opened(database_url, key) as pages:
        for row in rows(names):
            _, trips = await pages.listen(row)
            sent = "" if row.sent is None else f"?{row.sent.get('step', '')}"
            path = row.path.replace(names["round"], "{round}") if sent else row.path
            found[f"POST {path}{sent}" if sent else path] = trips
    return found


def test_a_page_asks_at_once_for_all_that_it_can(sqlite_template: SqliteTemplate) -> None:
    with sqlite_template.copy() as database:
        key, names = filled(database.url, 300, 30)
        found = asyncio.run(listened(database.url, key, names))

    assert {} == {path: trips for path, trips in found.items() if trips > MORE.get(path, USUAL)}
    assert MORE.keys() <= found.keys()


def test_every_page_is_measured() -> None:
    site = create_site(api="http://none.test", http=httpx.AsyncClient(), now=lambda: datetime.now(UTC))
    reads = [each for each in site.routes if isinstance(each, Route) and "GET" in (each.methods or ())]
    asked = [row.path.partition("?")[0] for row in rows(defaultdict(lambda: "x"))]
    scopes = [{"type": "http", "method": "GET", "path": path} for path in asked]

    unmeasured = {each.path for each in reads if all(each.matches(scope)[0] is not Match.FULL for scope in scopes)}
    assert OPERATORS == unmeasured
