"""Recording when the database fails: all or nothing under a fault at any place, and found again by its key."""

import time
from itertools import count

import pytest

from pool_api.domain.entries import (
    Draw,
    Loan,
    Reversal,
)
from pool_api.store import journal
from pool_api.store.engine import writing
from pool_api.store.errors import StoreBusy, StoreConflict, StoreUnavailable
from tests.databases import Database
from tests.store.faults import Faults
from tests.store.process import BUY, CHARGE, POOL, Process, held_up, running


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
