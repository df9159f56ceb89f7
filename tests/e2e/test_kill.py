"""A server killed in the middle of its work, again and again: what it acknowledged is there, and nothing twice."""

import os
import random
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import count

import httpx
import pytest

from pool_api.__main__ import variables
from pool_api.rest.compose import close_office, open_office
from pool_api.services import ledger
from pool_api.settings import Settings
from pool_api.store import journal
from pool_api.store.engine import reading
from pool_api.store.journal import EntryFilter
from tests.databases import Database
from tests.served import POOL, serving, set_up

SEED, ROUNDS, CALLERS = 20261125, 12, 8
CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "0.01", "reason": "courier"}
ON_DAY = {"effective_on": "2026-09-02"}


@pytest.fixture
def starter(database: Database) -> Iterator[subprocess.Popen[str]]:
    """What starts servers on the database."""
    environ = {
        **os.environ,
        "CREDIT_POOL_DATABASE_URL": database.url,
        "CREDIT_POOL_REQUESTS_PER_SECOND": "1000000",
    }
    with subprocess.Popen(
        [sys.executable, "-m", "tests.e2e.starter"],
        env=environ,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        yield process


@contextmanager
def served(starter: subprocess.Popen[str]) -> Iterator[tuple[str, Callable[[], None]]]:
    """Start a server; give its address and what kills it without a word. It is dead at the end in any case."""
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    assert starter.stdin is not None
    assert starter.stdout is not None
    print(port, file=starter.stdin, flush=True)
    process = int(starter.stdout.readline())
    dead = threading.Event()

    def kill() -> None:
        if not dead.is_set():
            os.kill(process, signal.SIGKILL)
            dead.set()

    try:
        wait_for(port)
        yield f"http://127.0.0.1:{port}", kill
    finally:
        kill()


def wait_for(port: int) -> None:
    for _ in range(500):
        try:
            socket.create_connection(("127.0.0.1", port)).close()
        except ConnectionRefusedError:
            time.sleep(0.02)
        else:
            return
    pytest.fail("no server came up")


class Load:
    """Callers that record until the server is gone, and what they were told: which number under which key."""

    def __init__(self, secret: str) -> None:
        self._headers = {"Authorization": f"Bearer {secret}"}
        self._trust = ssl.create_default_context()
        self._serial = count(1)
        self.acknowledged: dict[str, int] = {}
        self.unknown: list[str] = []

    def record(self, http: httpx.Client, key: str) -> None:
        answer = http.post(
            f"/v1/pools/{POOL}/charges", json={**CHARGE, **ON_DAY, "note": key}, headers={"Idempotency-Key": key}
        )
        assert 201 == answer.status_code, answer.text
        self.acknowledged[key] = answer.json()["number"]

    def run_until_killed(self, address: str, kill: Callable[[], None], after: int) -> None:
        """Record from many callers at once; kill the server when so many answers came."""
        enough = threading.Event()
        goal = len(self.acknowledged) + after

        def call(_: int) -> None:
            with httpx.Client(base_url=address, headers=self._headers, verify=self._trust) as http:
                while True:
                    key = f"charge-{next(self._serial):06d}"
                    try:
                        self.record(http, key)
                    except httpx.TransportError:
                        self.unknown.append(key)
                        return
                    if len(self.acknowledged) >= goal:
                        enough.set()

        with ThreadPoolExecutor(CALLERS) as threads:
            calls = [threads.submit(call, place) for place in range(CALLERS)]
            enough.wait(30)
            kill()
            for each in calls:
                each.result(30)

    def ask_again(self, address: str) -> None:
        """Repeat, under their keys, the requests whose answers never came."""
        with httpx.Client(base_url=address, headers=self._headers, verify=self._trust) as http:
            while self.unknown:
                self.record(http, self.unknown.pop())


@pytest.fixture
def secret(database: Database) -> str:
    """The keeper's key of a pool on the database."""
    with serving(database.url) as made:
        set_up(made)
        return made.keys["keeper"]


def test_what_a_killed_server_acknowledged_is_there_once_and_in_its_place(
    database: Database, secret: str, starter: subprocess.Popen[str]
) -> None:
    chance = random.Random(SEED)  # noqa: S311 - repeatable, not secret
    load = Load(secret)
    for _ in range(ROUNDS):
        with served(starter) as (address, kill):
            load.ask_again(address)
            load.run_until_killed(address, kill, after=chance.randint(1, 60))
    with served(starter) as (address, _):
        load.ask_again(address)

    office = open_office(Settings(database_url=database.url), variables())
    with reading(office.engine, POOL) as connection:
        entries = {entry.note: entry.number for entry in journal.read_entries(connection, POOL, EntryFilter())}
    report = ledger.verify_journal(office, POOL)
    close_office(office)
    assert load.acknowledged == entries
    assert len(entries) == report.entries >= ROUNDS
    assert () == report.findings
