"""How long a month of many entries and 300 members takes, beside a hand-written SQL aggregate of the same rows.

    python -m tests.bench.bench_month [entries [stock costing [backend]]]

Of 100,000 entries unless another number is given. On each database, in the same run: the first sheet; the preview of
the settlement; the statements of all members, one by one and as one zip; sheet and preview again after one more entry;
a page of what entries cost; closing. All is asked for over HTTP, as bytes. The aggregate adds up credits and amounts by
member and kind, and finds no cost. Beside each time stands what the processors worked on it in this process, client
and service together: what PostgreSQL works is apart. Memory is by how much the highest amount that the process has had
at one time grew.
"""

import resource
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import httpx
import psycopg
from pool_client.models.directory import Role
from sqlalchemy import Engine, text

from pool_api.domain.pool import Policy, StockCosting
from pool_api.rest.compose import spare_the_collector
from pool_api.store.engine import open_engine
from tests.bench.filling import MONTH, POOL, fill
from tests.bench.timing import timed
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

MEMBERS = 300
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
        template = PostgresqlTemplate(start_postgresql(directory), template_name(directory))
        try:
            with template.copy() as database:
                yield database
        finally:
            template.close()
            stop_postgresql(directory)


def aggregated(engine: Engine, backend: str) -> float:
    """Give the seconds that the hand-written aggregate takes, of three."""
    with engine.connect() as connection:
        if backend == "postgresql":
            connection.execute(text(f"SET app.pool = '{POOL}'"))
        return timed(lambda: connection.execute(text(BY_HAND.format(**COLUMNS[backend]))).all())[0]


def measured(served: Served, floor: float) -> None:
    """Print how long each answer takes."""
    made = served.client("operator").book(POOL).make_key(name="bench", role=Role.KEEPER)
    served.keys["keeper"] = made.secret or ""

    def show(name: str, work: Callable[[], httpx.Response]) -> httpx.Response:
        began, worked = perf_counter(), process_time()
        answer = work()
        taken, worked = perf_counter() - began, process_time() - worked
        grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
        sys.stdout.write(f"  {name:<42} {taken:8.3f} s {taken / floor:7.2f} x {worked:8.3f} s {grown:6,.0f} MB\n")
        sys.stdout.flush()
        answer.raise_for_status()
        return answer

    def statements() -> httpx.Response:
        codes = (f"SHOP-{number:03d}" for number in range(MEMBERS))
        return [served.send("GET", f"{AT}/statements/{code}").raise_for_status() for code in codes][-1]

    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    show("the first sheet", lambda: served.send("GET", AT))
    show("the preview after it", lambda: served.send("GET", f"{AT}/settlement"))
    show(f"the statements of {MEMBERS} members", statements)
    show("all of them as one zip", lambda: served.send("GET", f"{AT}/statements?form=json"))
    show("a page of what entries cost", lambda: served.send("GET", f"{AT}/costs?limit=200"))
    for name, (path, body) in ONE_MORE.items():
        told = {**body, "effective_on": f"{MONTH}-15"}
        show(f"recording {name}", lambda path=path, told=told: served.send("POST", path, told))  # type: ignore[misc]
        show("  the sheet after it", lambda: served.send("GET", AT))
        show("  the preview after it", lambda: served.send("GET", f"{AT}/settlement"))
    seen = served.send("GET", f"{AT}/settlement").json()["digest"]
    accepted = {"digest": seen, "accept_warnings": True, "accept_differences": True}
    show("closing", lambda: served.send("POST", f"{AT}/close", accepted))
    show("the sheet once closed", lambda: served.send("GET", AT))


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
            floor = aggregated(engine, backend)
            sys.stdout.write(f"{backend}, {count:,} entries, {costing}: aggregate by hand {floor:.3f} s\n")
            engine.dispose()
            spare_the_collector()
            with listening(database.url) as served:
                served.http.timeout = httpx.Timeout(None)
                measured(served, floor)


if __name__ == "__main__":
    main()
