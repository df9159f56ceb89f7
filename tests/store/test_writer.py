"""Recording on a real database: numbers without a gap, once per key, all or nothing under a fault at any place."""

import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from itertools import count

import pytest
from sqlalchemy import event

from pool_api.domain.access import Caller, Role
from pool_api.domain.entries import Body, Charge, Command, Draw, Entry, Loan, Purchase, Reversal
from pool_api.domain.errors import DomainError, KeyEnded, KeyReused, NotEnoughInStock, NotFound
from pool_api.domain.pool import Member, Pool
from pool_api.domain.values import STOCK, Currency
from pool_api.rest.compose import Variables, close_office, open_office
from pool_api.services import ledger
from pool_api.services.office import Office
from pool_api.settings import Settings
from pool_api.store import directory, journal
from pool_api.store.directory import ApiKey
from pool_api.store.engine import reading, writing
from pool_api.store.errors import StoreBusy, StoreConflict, StoreUnavailable
from pool_api.store.journal import EntryFilter
from pool_api.store.writer import Recorded, Request
from tests.databases import Database
from tests.served import Clock
from tests.store.faults import Faults

POOL, SHOPS, DAY = "riverside", ("ALDER", "BIRCH", "CEDAR"), date(2026, 9, 2)
BUY = Purchase(into=STOCK, paid_by="ALDER", quantity=100, amount=70_000)
CHARGE = Charge(from_member="ALDER", to_member="BIRCH", amount=1, reason="courier")
KEEPER = Caller(role=Role.KEEPER, pool=POOL, member=None, key_id="0a", name="the book")
TERMS = Pool(
    id=POOL, name="Riverside", vendor="Norvane", currency=Currency("EUR"), time_zone="Europe/Vienna", began_on=DAY
)


@dataclass
class Process:
    """A service on the database, as a process of its own would be."""

    office: Office
    serial: Iterator[int] = field(default_factory=count)

    def ask(
        self, *bodies: Body, key: str | None = None, reference: str | None = None, saying: str = "the same"
    ) -> "Future[Recorded]":
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
        return self.ask(*bodies, key=key).result(30).entries

    def entries(self) -> list[Entry]:
        with reading(self.office.engine, POOL) as connection:
            return list(journal.read_entries(connection, POOL, EntryFilter()))

    def is_sound(self) -> bool:
        """Say whether numbers, hashes and projections hold."""
        return () == ledger.verify_journal(self.office, POOL).findings


@contextmanager
def running(url: str, *, lock_wait_ms: int = 5_000) -> Iterator[Process]:
    office = open_office(Settings(database_url=url, lock_wait_ms=lock_wait_ms), Variables(now=Clock().now))
    yield Process(office)
    close_office(office)


@pytest.fixture
def process(database: Database) -> Iterator[Process]:
    """A service with one pool of three shops, without an entry."""
    with running(database.url) as process:
        with writing(process.office.engine, POOL) as connection:
            directory.create_pool(connection, TERMS)
            for shop in SHOPS:
                member = Member(code=shop, name=shop, joined_on=DAY)
                directory.write_member(connection, POOL, member, exists=False)
            key = ApiKey(key_id="0a", name="k", role="keeper", pool=POOL, member=None, created_at="2026-09-01")
            directory.write_key(connection, key, POOL)
        yield process


@pytest.fixture
def other(database: Database, process: Process) -> Iterator[Process]:  # noqa: ARG001 - its pool must be there first
    """Another service on the same database."""
    with running(database.url) as other:
        yield other


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


def at_once(asks: list[Callable[[], "Future[Recorded]"]]) -> list[Recorded | BaseException]:
    """Ask from as many threads at the same moment and give what each was told."""
    start = threading.Barrier(len(asks))

    def one(ask: Callable[[], "Future[Recorded]"]) -> Recorded | BaseException:
        start.wait()
        answer = ask()
        return answer.exception(30) or answer.result()

    with ThreadPoolExecutor(len(asks)) as threads:
        return list(threads.map(one, asks))


# --- order -----------------------------------------------------------------------------------------------------------


def test_32_threads_at_two_processes_number_without_a_gap_and_in_the_order_of_answers(
    process: Process, other: Process
) -> None:
    told: list[tuple[float, float, int]] = []

    def work(place: int) -> None:
        for _ in range(4):
            asked_at = time.monotonic()
            (entry,) = (process, other)[place % 2].record(CHARGE)
            told.append((asked_at, time.monotonic(), entry.number))

    with ThreadPoolExecutor(32) as threads:
        list(threads.map(work, range(32)))

    assert list(range(1, 129)) == sorted(number for _, _, number in told) == [e.number for e in process.entries()]
    for asked_at, _, number in told:
        assert number > max((earlier for _, answered_at, earlier in told if answered_at < asked_at), default=0)
    assert process.is_sound()


def test_the_last_credit_has_one_winner(process: Process, other: Process) -> None:
    process.record(Purchase(into=STOCK, paid_by="ALDER", quantity=1, amount=7))
    draws = [Draw(member=SHOPS[place % 3], quantity=1) for place in range(16)]

    told = at_once([lambda p=(process, other)[n % 2], d=draw: p.ask(d) for n, draw in enumerate(draws)])  # type: ignore[misc]

    assert 1 == sum(isinstance(each, Recorded) for each in told)
    assert 15 == sum(isinstance(each, NotEnoughInStock) for each in told)
    assert 2 == len(process.entries())


def test_a_book_kept_in_memory_is_read_again_when_another_process_has_moved_the_head(
    process: Process, other: Process
) -> None:
    process.record(BUY)
    other.record(Draw(member="ALDER", quantity=60))

    refusal = process.ask(Draw(member="BIRCH", quantity=41)).exception(30)

    assert str(NotEnoughInStock(stock=40, quantity=41)) == str(refusal)
    assert 3 == process.record(Draw(member="BIRCH", quantity=40))[0].number
    assert process.is_sound()


# --- once per key ----------------------------------------------------------------------------------------------------


def test_one_key_sent_at_once_to_two_processes_is_one_entry(process: Process, other: Process) -> None:
    told = at_once([lambda p=(process, other)[n % 2]: p.ask(CHARGE, key="same") for n in range(16)])  # type: ignore[misc]

    recorded = [each for each in told if isinstance(each, Recorded)]
    assert 16 == len(recorded)
    assert 1 == len({each.entries for each in recorded}) == sum(not each.replayed for each in recorded)
    assert 1 == len(process.entries())


def test_a_refusal_is_given_again_by_another_process_even_when_it_would_succeed_now(
    process: Process, other: Process
) -> None:
    first = process.ask(Draw(member="ALDER", quantity=1), key="early").exception(30)
    process.record(BUY)

    again = other.ask(Draw(member="ALDER", quantity=1), key="early").exception(30)

    assert str(NotEnoughInStock(stock=0, quantity=1)) == str(first) == str(again)
    assert 1 == len(process.entries())


def test_requests_with_one_key_that_wait_together_are_answered_from_the_first(process: Process) -> None:
    with held_up(process):
        first, again = process.ask(BUY, key="k"), process.ask(BUY, key="k")
        other_content = process.ask(CHARGE, key="k", saying="something else")

    assert (False, True) == (first.result(30).replayed, again.result(30).replayed)
    assert first.result().entries == again.result().entries
    assert isinstance(other_content.exception(30), KeyReused)


# --- one transaction for all that wait -------------------------------------------------------------------------------


def test_what_waits_together_shares_a_transaction_and_a_refused_request_refuses_itself_alone(process: Process) -> None:
    with held_up(process) as commits:
        answers = [process.ask(BUY)]
        answers += [process.ask(Draw(member="ALDER", quantity=60)) for _ in range(2)]
        answers += [process.ask(Draw(member="BIRCH", quantity=40))]

    told = [str(each.exception(30) or "") for each in answers]
    assert ["", "", str(NotEnoughInStock(stock=40, quantity=60)), ""] == told
    assert [2, 3, 4] == [each.result().entries[0].number for each in answers if each.exception() is None]
    assert 3 == len(commits)
    assert process.is_sound()


def test_nothing_of_a_refused_batch_stays_for_those_that_share_its_transaction(process: Process) -> None:
    with held_up(process):
        batch = process.ask(BUY, Reversal(entry=2), Draw(member="ALDER", quantity=1), reference="R-1")
        batch_alone = process.ask(BUY, Draw(member="ALDER", quantity=101))
        reuse = process.ask(BUY, reference="R-1")
        nobody = process.ask(Reversal(entry=3))

    refused = batch_alone.exception(30)
    assert isinstance(batch.exception(30), DomainError)
    assert isinstance(refused, NotEnoughInStock)
    assert 2 == refused.command
    assert 2 == reuse.result(30).entries[0].number
    assert "entry-not-found" == getattr(nobody.exception(30), "code", None)
    assert process.is_sound()


def test_a_request_that_is_taken_back_while_it_waits_records_nothing_and_holds_nobody_up(process: Process) -> None:
    with held_up(process):
        given_up, wanted = process.ask(CHARGE), process.ask(CHARGE)
        assert given_up.cancel()

    assert 2 == wanted.result(30).entries[0].number
    assert 3 == process.record(CHARGE)[0].number


def test_a_request_that_is_being_decided_is_not_taken_back(process: Process) -> None:
    with writing(process.office.engine, POOL) as connection:
        journal.lock_head(connection, POOL)
        deciding = process.ask(CHARGE)
        time.sleep(0.05)
        assert not deciding.cancel()

    assert 1 == deciding.result(30).entries[0].number
    assert 2 == process.record(CHARGE)[0].number


# --- who may not -----------------------------------------------------------------------------------------------------


def test_a_key_that_was_ended_records_nothing(process: Process) -> None:
    with writing(process.office.engine, POOL) as connection:
        directory.revoke_key(connection, POOL, "0a", "2026-11-10T11:59:59.999999Z")

    assert isinstance(process.ask(CHARGE).exception(30), KeyEnded)
    assert [] == process.entries()


def test_an_unknown_pool_is_not_found(process: Process) -> None:
    request = Request(pool="hillside", caller=KEEPER, operation="test", key="k", fingerprint="f", commands=())

    assert isinstance(process.office.writer.record(request).exception(30), NotFound)


# --- when the database fails -----------------------------------------------------------------------------------------


def test_a_head_that_stays_locked_is_busy_within_the_limit_and_nothing_is_written(
    process: Process, database: Database
) -> None:
    with running(database.url, lock_wait_ms=200) as impatient:
        with writing(process.office.engine, POOL) as connection:
            journal.lock_head(connection, POOL)
            begun = time.monotonic()
            refusal = impatient.ask(CHARGE, key="k").exception(30)
            waited = time.monotonic() - begun

        assert isinstance(refusal, StoreBusy)
        assert 0.15 < waited < 3
        assert [] == process.entries()
        assert 1 == impatient.record(CHARGE, key="k")[0].number


@pytest.mark.parametrize("for_good", [False, True], ids=["once", "from then on"])
def test_a_fault_at_any_call_of_the_database_leaves_all_or_nothing(process: Process, *, for_good: bool) -> None:
    process.record(BUY)
    faults = Faults(process.office.engine)
    lend = (
        Draw(member="ALDER", quantity=2),
        Loan(lender="ALDER", borrower="BIRCH", quantity=1),
        Reversal(entry=1, quantity=1),
    )
    failed = 0
    for place in count(1):
        before, key = process.entries(), f"key-{place}"
        faults.fail(place, for_good=for_good)
        refusal = process.ask(*lend, key=key).exception(30)
        faults.mend()
        if refusal is None:
            break
        failed += 1
        assert isinstance(refusal, StoreUnavailable)
        assert before == process.entries()
        recorded = process.record(*lend, key=key)
        assert [*before, *recorded] == process.entries()
        assert process.is_sound()

    assert failed > 8


def test_a_commit_that_took_effect_and_then_failed_is_found_by_its_key(process: Process) -> None:
    faults = Faults(process.office.engine)
    faults.fail_after_commit()
    refusal = process.ask(CHARGE, key="k").exception(30)
    faults.mend()

    assert isinstance(refusal, StoreUnavailable)
    again = process.ask(CHARGE, key="k").result(30)
    assert again.replayed
    assert list(again.entries) == process.entries()
    assert process.is_sound()


def test_a_conflict_makes_each_request_of_the_transaction_try_alone(process: Process) -> None:
    """The first conflict is told to the request that waited alone; the second is met by the five together."""
    faults = Faults(process.office.engine)
    with held_up(process):
        answers = [process.ask(CHARGE) for _ in range(5)]
        faults.conflict_at("INSERT INTO entry", times=2)

    assert [1, 2, 3, 4, 5] == [each.result(30).entries[0].number for each in answers]
    assert process.is_sound()


def test_a_conflict_of_one_request_alone_is_told_to_it(process: Process) -> None:
    faults = Faults(process.office.engine)
    faults.conflict_at("INSERT INTO entry", times=1)

    assert isinstance(process.ask(CHARGE).exception(30), StoreConflict)
    assert 1 == process.record(CHARGE)[0].number
