"""How long a month's earnings and checks of uses take, beside hand-written SQL over the same rows in the same run.

    python -m tests.bench.bench_jobs [entries]

A month of 100,000 entries and 300 members unless another number is given. The SQL adds up credits and prices by item,
and finds no cost; earnings are asked for over HTTP, the first time with the costing of the month that they rest on."""

import sys
from time import perf_counter

import httpx
from pool_client.models.catalogue import Item
from pool_client.models.directory import Role
from sqlalchemy import Engine, text

from pool_api.domain.pool import Policy
from pool_api.store.engine import open_engine
from tests.bench.bench_month import COLUMNS, MEMBERS, databases
from tests.bench.filling import MONTH, POOL, fill
from tests.bench.timing import timed
from tests.served import Served, listening

BY_HAND = """
SELECT {item}, count(*), sum({quantity}), sum({price}) FROM entry
 WHERE pool_id = 'riverside' AND kind = 'use' AND effective_on BETWEEN '2026-10-01' AND '2026-10-31' GROUP BY 1
"""
FIELDS = {
    "sqlite": {name: f"json_extract(body, '$.{name}')" for name in ("item", "quantity", "price")},
    "postgresql": {
        "item": "body::json->>'item'",
        **{name: f"(body::json->>'{name}')::bigint" for name in ("quantity", "price")},
    },
}
EARNINGS = f"/earnings?from_month={MONTH}&by="
ASKED = {
    "by item, with the first costing": f"{EARNINGS}item",
    "by item": f"{EARNINGS}item",
    "by member": f"{EARNINGS}member",
    "by vehicle class": f"{EARNINGS}vehicle_class",
    "a page of doubtful uses": f"/months/{MONTH}/use-checks?doubtful=true&limit=200",
}


def by_hand(engine: Engine, backend: str) -> float:
    """Give the seconds that the hand-written sums take, of three."""
    query = text(BY_HAND.format(**FIELDS[backend]))
    with engine.connect() as connection:
        if backend == "postgresql":
            connection.execute(text(f"SET app.pool = '{POOL}'"))
        return timed(lambda: connection.execute(query).all())[0]


def measured(served: Served, floor: float) -> None:
    """Print how long each answer takes."""
    made = served.client("operator").book(POOL).make_key(name="bench", role=Role.KEEPER)
    served.keys["keeper"] = made.secret or ""
    items = [Item(code=f"TUNE-{at}", name="Tuning", credits=at, vehicle_class=f"C{at % 5}") for at in range(1, 500)]
    served.book().put_catalogue(items, valid_from=MONTH.first)
    for name, path in ASKED.items():
        began = perf_counter()
        answer = served.send("GET", path)
        taken = perf_counter() - began
        answer.raise_for_status()
        sys.stdout.write(f"  {name:<42} {taken:8.3f} s {taken / floor:7.2f} x\n")


def main() -> None:
    """Measure on both databases."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for backend in COLUMNS:
        with databases(backend) as database:
            engine = open_engine(database.url)
            fill(engine, count, MEMBERS, Policy())
            floor = by_hand(engine, backend)
            engine.dispose()
            sys.stdout.write(f"{backend}, {count:,} entries: by hand {floor:.3f} s\n")
            with listening(database.url) as served:
                served.http.timeout = httpx.Timeout(None)
                measured(served, floor)


if __name__ == "__main__":
    main()
