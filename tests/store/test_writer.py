"""Recording on a real database: numbers without a gap, once per key, in shared transactions."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from pool_api.domain.entries import (
    Close,
    Command,
    Draw,
    Opening,
    Purchase,
    Reopening,
    Reversal,
)
from pool_api.domain.errors import (
    DomainError,
    KeyEnded,
    KeyReused,
    MonthNotClosed,
    NotEnoughInStock,
    NotFound,
    OpeningTwice,
)
from pool_api.domain.pool import Policy
from pool_api.domain.values import STOCK
from pool_api.store import directory, journal
from pool_api.store.engine import writing
from pool_api.store.writer import Recorded, Request
from tests.store.process import BUY, CHARGE, DAY, KEEPER, POOL, SHOPS, Process, held_up


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


def closing(month: str, payments: int = 1) -> Close:
    asked = [{"payer": "BIRCH", "payee": "ALDER", "amount": 5}] * payments
    sheet = {
        "loans_settled": [],
        "policy": Policy().as_json(),
        "weights": dict.fromkeys(SHOPS, 1),
        "member_days": {shop: [DAY.isoformat(), None] for shop in SHOPS},
    }
    return Close(month=month, computed_at=9, digest="d", sheet=sheet, settlement={"payments": asked})


def test_months_are_reopened_one_after_another_down_to_the_first(process: Process) -> None:
    process.record(closing("2026-09"))
    process.record(closing("2026-10", payments=2))
    for month in ("2026-10", "2026-09"):
        process.record(Reopening(month=month, reason="late invoice"))

    assert isinstance(process.ask(Reopening(month="2026-08", reason="no such month")).exception(30), MonthNotClosed)
    assert process.is_sound()
    assert 6 == process.record(Opening(members=(), stock_quantity=0, stock_cost=0), closing("2026-09"))[1].number


def test_what_shares_a_transaction_is_reopened_and_opened_anew_as_if_it_were_recorded_already(process: Process) -> None:
    opening = Opening(members=(), stock_quantity=0, stock_cost=0)
    with held_up(process):
        asked = [process.ask(*each) for each in (
            (opening, Reversal(entry=2), opening),
            (opening,),
            (closing("2026-09"), closing("2026-10", payments=2)),
            (Reopening(month="2026-10", reason="late invoice"), Reopening(month="2026-09", reason="late invoice")),
        )]  # fmt: skip

    assert isinstance(asked[1].exception(30), OpeningTwice)
    assert [None] * 3 == [each.exception(30) for each in (asked[0], *asked[2:])]
    assert 8 == len(process.entries())
    assert process.is_sound()


# --- who may not -----------------------------------------------------------------------------------------------------


def test_a_key_that_was_ended_records_nothing(process: Process) -> None:
    with writing(process.office.engine, POOL) as connection:
        directory.revoke_key(connection, POOL, "0a", "2026-11-10T11:59:59.999999Z")

    assert isinstance(process.ask(CHARGE).exception(30), KeyEnded)
    assert [] == process.entries()


def test_an_unknown_pool_is_not_found(process: Process) -> None:
    request = Request(pool="hillside", caller=KEEPER, operation="test", key="k", fingerprint="f", commands=())

    assert isinstance(process.office.writer.record(request).exception(30), NotFound)


def test_a_batch_that_is_new_in_part_is_no_replay(process: Process) -> None:
    process.ask(CHARGE, reference="first-of-two").result(30)
    charges = tuple(
        Command(body=CHARGE, effective_on=DAY, recorded_by="keeper/-/0a", reference=reference)
        for reference in ("first-of-two", "second-of-two")
    )
    request = Request(pool=POOL, caller=KEEPER, operation="test", key="k", fingerprint="f", commands=charges)

    recorded = process.office.writer.record(request).result(30)

    assert ([1, 2], False) == ([entry.number for entry in recorded.entries], recorded.replayed)
