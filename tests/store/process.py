"""A service on a test's database as a process of its own would be: its writer, its caller, and how to hold it up."""

import time
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from itertools import count

from sqlalchemy import event

from pool_api.domain.access import Caller, Role
from pool_api.domain.entries import (
    Body,
    Charge,
    Command,
    Entry,
    Purchase,
)
from pool_api.domain.pool import Pool
from pool_api.domain.values import STOCK, Currency
from pool_api.rest.compose import Variables, close_office, open_office
from pool_api.services import ledger
from pool_api.services.office import Office
from pool_api.settings import Settings
from pool_api.store import journal
from pool_api.store.engine import reading, writing
from pool_api.store.journal import EntryFilter
from pool_api.store.writer import Recorded, Request
from tests.served import Clock

POOL, SHOPS, DAY = "riverside", ("ALDER", "BIRCH", "CEDAR"), date(2026, 9, 1)
BUY = Purchase(into=STOCK, paid_by="ALDER", quantity=100, amount=70_000)
CHARGE = Charge(from_member="ALDER", to_member="BIRCH", amount=1, reason="courier")
KEEPER = Caller(role=Role.KEEPER, pool=POOL, member=None, key_id="0a", name="the book")
TERMS = Pool(
    id=POOL, name="Riverside", vendor="Norvane", currency=Currency("EUR"), time_zone="Europe/Vienna", began_on=DAY
)
PATIENCE_S = 60
"""How long a process waits where waiting isn't what is tested: machines are shared."""


@dataclass
class Process:
    """A service on the database, as a process of its own would be."""

    office: Office
    serial: Iterator[int] = field(default_factory=count)

    def ask(
        self, *bodies: Body, key: str | None = None, reference: str | None = None, saying: str = "the same"
    ) -> Future[Recorded]:
        """Queue a request of some bodies."""
        commands = tuple(
            Command(body=body, effective_on=DAY, recorded_by="keeper/-/0a", reference=reference) for body in bodies
        )
        return self.office.writer.record(
            Request(
                pool=POOL,
                caller=KEEPER,
                operation="test",
                key=key or f"{id(self)}-{next(self.serial)}",
                fingerprint=saying,
                commands=commands,
            )
        )

    def record(self, *bodies: Body, key: str | None = None) -> tuple[Entry, ...]:
        """Have bodies recorded and give their entries."""
        return self.ask(*bodies, key=key).result(PATIENCE_S).entries

    def entries(self) -> list[Entry]:
        with reading(self.office.engine, POOL) as connection:
            return list(journal.read_entries(connection, POOL, EntryFilter()))

    def is_sound(self) -> bool:
        """Say whether numbers, hashes and projections hold."""
        return () == ledger.verify_journal(self.office, POOL).findings


@contextmanager
def running(url: str, *, lock_wait_ms: int = PATIENCE_S * 1_000) -> Iterator[Process]:
    office = open_office(Settings(database_url=url, lock_wait_ms=lock_wait_ms), Variables(now=Clock().now))
    yield Process(office)
    close_office(office)


@contextmanager
def held_up(process: Process) -> Iterator[list[int]]:
    """Hold the pool's head, with one request waiting for it, so that all that is asked meanwhile waits together.

    Gives a list that will have one item for every commit, the holder's own and the first request's too."""
    commits: list[int] = []
    event.listen(process.office.engine, "commit", lambda _: commits.append(1))
    with writing(process.office.engine, POOL) as connection:
        journal.lock_head(connection, POOL)
        process.ask(CHARGE)
        time.sleep(0.05)
        yield commits
