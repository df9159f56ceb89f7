"""Servers that a test starts on a database and ends as it likes, callers that record at them all the while, and what
has to be true of the book afterwards."""

import os
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
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
from tests.served import POOL, serving, set_up

CALLERS = 8
PATIENCE_S = 60
CHARGE = {"from_member": "ALDER", "to_member": "BIRCH", "amount": "0.01", "reason": "courier"}
ON_DAY = {"effective_on": "2026-09-02"}


class Starter:
    """Starts servers on a database."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self._process = process

    def start(self) -> "Server":
        """Start a server; it need not be up yet."""
        with socket.create_server(("127.0.0.1", 0)) as probe:
            port = probe.getsockname()[1]
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(port, file=self._process.stdin, flush=True)
        return Server(port, int(self._process.stdout.readline()))

    @contextmanager
    def serving(self) -> "Iterator[Server]":
        """Start a server and wait until it is up; it is dead at the end in any case."""
        server = self.start()
        try:
            server.wait()
            yield server
        finally:
            server.kill()


class Server:
    """A server in a process of its own."""

    def __init__(self, port: int, process: int) -> None:
        self.port = port
        self.process = process
        self.address = f"http://127.0.0.1:{port}"

    def wait(self) -> None:
        """Wait until it takes connections."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with suppress(ConnectionRefusedError):
                socket.create_connection(("127.0.0.1", self.port)).close()
                return
            time.sleep(0.02)
        pytest.fail("no server came up")

    def kill(self) -> None:
        """End it without a word."""
        with suppress(ProcessLookupError):
            os.kill(self.process, signal.SIGKILL)

    def tell_to_stop(self) -> None:
        """Ask it to end, and wait until it has."""
        os.kill(self.process, signal.SIGTERM)
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            try:
                os.kill(self.process, 0)
            except ProcessLookupError:
                return
            time.sleep(0.02)
        pytest.fail("the server did not stop")


@contextmanager
def starting(database_url: str) -> Iterator[Starter]:
    """Give what starts servers on a database."""
    environ = {
        **os.environ,
        "CREDIT_POOL_DATABASE_URL": database_url,
        "CREDIT_POOL_REQUESTS_PER_SECOND": "1000000",
    }
    command = [sys.executable, "-m", "tests.e2e.starter"]
    with subprocess.Popen(command, env=environ, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        yield Starter(process)


def keeper_of(database_url: str) -> str:
    """Set a pool up on a database, and give its keeper's key."""
    with serving(database_url) as made:
        set_up(made)
        return made.keys["keeper"]


class Load:
    """Callers that record, each request under a key of its own, and what they were told: which number under which key.

    unknown are keys whose requests were not answered, or answered by 503: what became of them is found by asking again.
    While failing is set, nothing can be recorded: lies are keys that were acknowledged to a caller whose request
    before had failed for that reason."""

    def __init__(self, secret: str) -> None:
        self._headers = {"Authorization": f"Bearer {secret}"}
        self._trust = ssl.create_default_context()
        self._serial = count(1)
        self.acknowledged: dict[str, int] = {}
        self.unknown: list[str] = []
        self.failing = threading.Event()
        self.failed = 0
        self.lies: list[str] = []

    def run(self, address: str, then: Callable[[], object], *, after: int) -> None:
        """Record from many callers at once; when so many answers came, do something meanwhile, and stop after it."""
        enough, over = threading.Event(), threading.Event()
        goal = len(self.acknowledged) + after

        def call(_: int) -> None:
            has_failed = False
            with self._client(address) as http:
                while not over.is_set():
                    key, was_failing = f"charge-{next(self._serial):06d}", self.failing.is_set()
                    try:
                        fine = self._record(http, key)
                    except httpx.TransportError:
                        self.unknown.append(key)
                        return
                    if fine and has_failed and self.failing.is_set():
                        self.lies.append(key)
                    has_failed = was_failing and (has_failed or not fine)
                    if len(self.acknowledged) >= goal:
                        enough.set()

        with ThreadPoolExecutor(CALLERS) as threads:
            calls = [threads.submit(call, place) for place in range(CALLERS)]
            enough.wait(PATIENCE_S)
            try:
                then()
            finally:
                over.set()
            for each in calls:
                each.result(PATIENCE_S)

    def ask_again(self, address: str) -> None:
        """Repeat, under their keys, the requests of which nobody knows what became."""
        until = time.monotonic() + PATIENCE_S
        with self._client(address) as http:
            while self.unknown and time.monotonic() < until:
                self._record(http, self.unknown.pop())
        assert not self.unknown

    def _client(self, address: str) -> httpx.Client:
        return httpx.Client(base_url=address, headers=self._headers, verify=self._trust, timeout=PATIENCE_S)

    def _record(self, http: httpx.Client, key: str) -> bool:
        """Tell whether it was recorded for certain."""
        body = {**CHARGE, **ON_DAY, "note": key}
        answer = http.post(f"/v1/pools/{POOL}/charges", json=body, headers={"Idempotency-Key": key})
        if answer.status_code == 201:
            self.acknowledged[key] = answer.json()["number"]
            return True
        assert 503 == answer.status_code, answer.text
        self.failed += 1
        self.unknown.append(key)
        time.sleep(0.02)
        return False


def kept_under_keys(database_url: str) -> dict[str, int]:
    """Give the number that each key has in the book, once that is proven to be sound and to have nothing twice."""
    office = open_office(Settings(database_url=database_url), variables())
    with reading(office.engine, POOL) as connection:
        entries = list(journal.read_entries(connection, POOL, EntryFilter()))
    report = ledger.verify_journal(office, POOL)
    close_office(office)
    assert () == report.findings
    assert len(entries) == report.entries
    by_key = {entry.note: entry.number for entry in entries}
    assert len(entries) == len(by_key)
    return by_key
