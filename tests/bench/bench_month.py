"""How long a month of many entries and 300 members takes, beside a hand-written SQL aggregate of the same rows.

    python -m tests.bench.bench_month [entries [stock costing [backend]]]

Of 100,000 entries unless another number is given. On each database, in the same run: the first sheet; the preview of
the settlement; the statements of all members, one after the other, two at a time and as one zip; sheet and preview
again after one more entry; a page of what entries cost; closing. All is asked for over HTTP, as bytes, of a service of
one process. The aggregate adds up credits and amounts by member and kind, and finds no cost; PostgreSQL spreads it over
the processors. Its time is the median of three before and three after all the rest. Beside each time stands, as a
multiple too, what the processors worked on it: client, service and database together, which says more where the machine
has other work. Memory is by how much the highest amount that the process has had at one time grew.
"""

import resource
import sys
import tempfile
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import perf_counter, process_time
from typing import Any, TypeVar

import httpx
import psycopg
from pool_client.models.directory import Role
from sqlalchemy import Engine, text

from pool_api.domain.pool import Policy, StockCosting
from pool_api.rest.compose import spare_the_collector
from pool_api.store.engine import open_engine
from tests.bench.filling import MONTH, POOL, fill
from tests.bench.timing import parent_of, worked_s
from tests.databases import (
    Database,
    PostgresqlTemplate,
    SqliteTemplate,
    scratch,
    start_postgresql,
    stop_postgresql,
    template_name,
)
from tests.served import Served, listening

T = TypeVar("T")

MEMBERS = 300
BUFFERS = "1GB"
"""What PostgreSQL keeps pages in: its manual recommends a quarter of the memory (section 19.4), and the tests' servers
have so little that reading a member's entries, which lie far apart, would measure the system's reading of files."""

AT = f"/months/{MONTH}"
BY_HAND = """
SELECT member, kind, count(*), sum({quantity}), sum({amount}) FROM entry
 WHERE pool_id = 'riverside' AND effective_on BETWEEN '2026-10-01' AND '2026-10-31' GROUP BY member, kind
"""
COLUMNS = {
    "sqlite": {name: f"json_extract(body, '$.{name}')" for name in ("quantity", "amount")},
    "postgresql": {name: f"(body::json->>'{name}')::bigint" for name in ("quantity", "amount")},
}
ONE_MORE: dict[str, tuple[str, dict[str, Any]]] = {
    "a use": ("/uses", {"member": "SHOP-007", "quantity": 1, "item": "TUNE-1", "job": "J-1"}),
    "a draw": ("/draws", {"member": "SHOP-007", "quantity": 1}),
    "a purchase": ("/purchases", {"paid_by": "SHOP-007", "quantity": 100, "amount": "700.00"}),
    "a reversal": ("/reversals", {"entry": 1_004, "quantity": 1}),
}


@contextmanager
def databases(backend: str) -> Iterator[Database]:
    """Give a migrated database of a backend, in memory where there is room."""
    with tempfile.TemporaryDirectory(prefix="credit-pool-bench-", dir=scratch()) as name:
        directory = Path(name)
        if backend == "sqlite":
            with SqliteTemplate(directory).copy() as database:
                yield database
            return
        template = PostgresqlTemplate(start_postgresql(directory, buffers=BUFFERS), template_name(directory))
        try:
            with template.copy() as database:
                yield database
        finally:
            template.close()
            stop_postgresql(directory)


@dataclass
class Clocks:
    """What time it is, and how long the processors have worked for this process and the server of a database."""

    server: int | None

    def now(self) -> tuple[float, float]:
        """Give both in seconds."""
        return perf_counter(), process_time() + (worked_s(self.server) if self.server else 0)

    def taken(self, work: Callable[[], T]) -> tuple[T, tuple[float, float]]:
        """Give what work gives, and what it took of both."""
        began = self.now()
        outcome = work()
        time, worked = (later - earlier for earlier, later in zip(began, self.now(), strict=True))
        return outcome, (time, worked)


def clocks_of(engine: Engine, backend: str) -> Clocks:
    """Give the clocks for a database."""
    if backend == "sqlite":
        return Clocks(server=None)
    with engine.connect() as connection:
        return Clocks(server=parent_of(connection.execute(text("SELECT pg_backend_pid()")).scalar_one()))


def aggregated(engine: Engine, backend: str, clocks: Clocks) -> list[tuple[float, float]]:
    """Give what the hand-written aggregate takes, three times."""
    with engine.connect() as connection:
        if backend == "postgresql":
            connection.execute(text(f"SET app.pool = '{POOL}'"))
        query = text(BY_HAND.format(**COLUMNS[backend]))
        return [clocks.taken(lambda: connection.execute(query).all())[1] for _ in range(3)]


Taken = list[tuple[str, tuple[float, float], float]]
"""By name: what was taken, and by how many MB the most memory so far had grown."""


def measured(served: Served, clocks: Clocks) -> Taken:
    """Give how long each answer takes."""
    made = served.client("operator").book(POOL).make_key(name="bench", role=Role.KEEPER)
    served.keys["keeper"] = made.secret or ""
    found: Taken = []
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

    def ask(name: str, work: Callable[[], httpx.Response]) -> httpx.Response:
        answer, taken = clocks.taken(work)
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        found.append((name, taken, grown / 1024))
        return answer.raise_for_status()

    def statements(at_once: int) -> httpx.Response:
        addresses = (f"{AT}/statements/SHOP-{number:03d}" for number in range(MEMBERS))
        with ThreadPoolExecutor(at_once) as clients:
            answers = clients.map(lambda address: served.send("GET", address).raise_for_status(), addresses)
            return deque(answers, maxlen=1).pop()

    ask("the first sheet", lambda: served.send("GET", AT))
    ask("the preview after it", lambda: served.send("GET", f"{AT}/settlement"))
    ask(f"the statements of {MEMBERS} members", lambda: statements(1))
    ask("  two at a time", lambda: statements(2))
    ask("all of them as one zip", lambda: served.send("GET", f"{AT}/statements?form=json"))
    ask("a page of what entries cost", lambda: served.send("GET", f"{AT}/costs?limit=200"))
    for name, (path, body) in ONE_MORE.items():
        told = {**body, "effective_on": f"{MONTH}-15"}
        ask(f"recording {name}", lambda path=path, told=told: served.send("POST", path, told))  # type: ignore[misc]
        ask("  the sheet after it", lambda: served.send("GET", AT))
        ask("  the preview after it", lambda: served.send("GET", f"{AT}/settlement"))
    seen = served.send("GET", f"{AT}/settlement").json()["digest"]
    accepted = {"digest": seen, "accept_warnings": True, "accept_differences": True}
    ask("closing", lambda: served.send("POST", f"{AT}/close", accepted))
    ask("the sheet once closed", lambda: served.send("GET", AT))
    return found


def show(found: Taken, floor: tuple[float, float]) -> None:
    """Print what was taken beside what the aggregate took."""
    for name, taken, grown in found:
        shown = "".join(f" {part:8.3f} s {part / by_hand:7.2f} x" for part, by_hand in zip(taken, floor, strict=True))
        sys.stdout.write(f"  {name:<36}{shown} {grown:6,.0f} MB\n")


def main() -> None:
    """Measure what the arguments say, on both databases unless one is named."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    costing = StockCosting(sys.argv[2]) if len(sys.argv) > 2 else StockCosting.MONTH_AVERAGE
    for backend in sys.argv[3:] or COLUMNS:
        with databases(backend) as database:
            engine = open_engine(database.url)
            fill(engine, count, MEMBERS, Policy(stock_costing=costing))
            if backend == "postgresql":
                with psycopg.connect(database.owner_url) as owner:
                    owner.execute("ANALYZE")
            clocks = clocks_of(engine, backend)
            by_hand = aggregated(engine, backend, clocks)
            spare_the_collector()
            with listening(database.url) as served:
                served.http.timeout = httpx.Timeout(None)
                found = measured(served, clocks)
            by_hand += aggregated(engine, backend, clocks)
            engine.dispose()
            time, worked = (median(each) for each in zip(*by_hand, strict=True))
            sys.stdout.write(
                f"{backend}, {count:,} entries, {costing}: aggregate by hand {time:.3f} s, {worked:.3f} s\n"
            )
            show(found, (time, worked))
            sys.stdout.flush()


if __name__ == "__main__":
    main()
