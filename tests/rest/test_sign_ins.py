"""How often passwords may be tried: waits that grow, and nobody who can lock out another."""

import asyncio
import threading
from collections.abc import Callable

import pytest

from pool_api.domain.errors import InvitationVoid, SignInRefused
from pool_api.rest.errors import RateLimited
from pool_api.rest.sign_ins import MOST_WAITING, SignIns, Waits

SECOND = 1_000_000_000
HOUR = 3_600 * SECOND


def wrong() -> None:
    raise SignInRefused


def right() -> str:
    return "in"


class Door:
    """Lets passwords be tried, under a clock that is told what time it is."""

    def __init__(self) -> None:
        self.now = 5 * HOUR
        self.sign_ins = SignIns(lambda: self.now, together=2)
        self.told = 0

    def try_(
        self, work: Callable[[], object] = wrong, *, peer: str = "192.0.2.1", name: str = "ines", is_usual: bool = False
    ) -> int | str:
        """Give "in", "out", or for how long to wait."""
        try:
            asyncio.run(self.sign_ins.attempt(work, peer=peer, name=name, is_usual=is_usual, delayed=self.tell))
        except SignInRefused:
            return "out"
        except RateLimited as error:
            return error.retry_after
        return "in"

    def tell(self) -> None:
        self.told += 1


def test_some_mistakes_are_free_then_each_wait_is_twice_the_last() -> None:
    door = Door()
    met = []
    for _ in range(12):
        if isinstance(answer := door.try_(), int):
            met.append(answer)
            door.now += answer * SECOND
            assert "out" == door.try_()

    assert [1, 2, 4, 8, 16, 32] == met[:6]


def test_a_wait_counts_down_and_isnt_made_longer_by_asking() -> None:
    door = Door()
    for _ in range(9):
        door.try_()
        door.now += 4 * SECOND
    door.now -= 4 * SECOND
    first = door.try_()
    door.now += SECOND

    assert isinstance(first, int)
    assert [first - 1] * 3 == [door.try_() for _ in range(3)]


def test_each_try_that_has_to_wait_is_told_and_no_other() -> None:
    door = Door()
    answers = [door.try_() for _ in range(9)]

    assert ["out"] * 6 + [1] * 3 == answers
    assert 3 == door.told


def test_the_right_password_has_to_wait_too_and_then_makes_the_address_free_again() -> None:
    door = Door()
    for _ in range(6):
        door.try_()

    assert 1 == door.try_(right)
    door.now += SECOND
    assert "in" == door.try_(right)
    assert ["out"] * 6 == [door.try_(is_usual=True) for _ in range(6)]
    assert 1 == door.try_(is_usual=True)


def test_many_names_from_one_address_have_to_wait() -> None:
    door = Door()
    answers = [door.try_(name=f"name {number}") for number in range(40)]

    assert ["out"] * 31 == answers[:31]
    assert {1} == set(answers[31:])


def test_one_name_from_many_addresses_has_to_wait_a_minute_at_the_most() -> None:
    door = Door()
    for number in range(60):
        while isinstance(wait := door.try_(peer=f"192.0.2.{number}"), int):
            assert wait <= 60
            door.now += wait * SECOND

    assert 60 == door.try_(peer="203.0.113.9")


def test_whoever_tries_a_name_does_not_keep_its_owner_out_at_the_usual_place() -> None:
    door = Door()
    for number in range(60):
        while isinstance(wait := door.try_(peer=f"192.0.2.{number}"), int):
            door.now += wait * SECOND

    assert 60 == door.try_(right, peer="203.0.113.9")
    assert "in" == door.try_(right, peer="203.0.113.9", is_usual=True)


def test_an_owner_who_signs_in_gives_nobody_else_more_tries() -> None:
    door = Door()
    for number in range(11):
        door.try_(peer=f"192.0.2.{number}")
    door.now += SECOND
    assert "in" == door.try_(right, peer="203.0.113.9")

    assert 1 == door.try_(peer="192.0.2.100")
    door.now += SECOND
    assert ["out", 2, 2] == [door.try_(peer=f"192.0.2.{number}") for number in range(100, 103)]


def test_an_hour_without_a_try_makes_all_of_it_forgotten() -> None:
    door = Door()
    for _ in range(6):
        door.try_()
    assert 1 == door.try_()

    door.now += HOUR + 2 * SECOND

    assert ["out"] * 6 == [door.try_() for _ in range(6)]


def test_what_fails_for_another_reason_is_no_wrong_password() -> None:
    door = Door()

    def void() -> None:
        raise InvitationVoid

    for _ in range(50):
        with pytest.raises(InvitationVoid):
            door.try_(void)
    assert "out" == door.try_()


def test_many_at_once_are_no_way_around() -> None:
    door = Door()

    async def many() -> list[object]:
        tries = (
            door.sign_ins.attempt(wrong, peer="192.0.2.1", name="ines", is_usual=False, delayed=door.tell)
            for _ in range(50)
        )
        return await asyncio.gather(*tries, return_exceptions=True)

    answers = [type(answer) for answer in asyncio.run(many())]

    assert 6 == answers.count(SignInRefused)
    assert 44 == answers.count(RateLimited)


def test_no_more_passwords_are_looked_at_together_than_there_are_threads() -> None:
    door = Door()
    lock, now, most = threading.Lock(), 0, 0
    go = threading.Event()

    def slow() -> None:
        nonlocal now, most
        with lock:
            now += 1
            most = max(most, now)
        go.wait(5)
        with lock:
            now -= 1

    async def many() -> list[object]:
        asyncio.get_running_loop().call_later(0.1, go.set)
        return await asyncio.gather(*(door.sign_ins.run(slow) for _ in range(MOST_WAITING + 9)), return_exceptions=True)

    answers = asyncio.run(many())

    assert 2 == most
    assert 9 == sum(isinstance(answer, RateLimited) for answer in answers)


def test_counts_are_kept_of_so_many_names_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pool_api.rest.sign_ins._MOST_COUNTS", 10)
    waits = Waits(free=0, longest_s=60, monotonic_ns=lambda: HOUR)
    for number in range(1_000):
        waits.take(f"name {number}")

    assert len(waits._counts) <= 10
    assert 1 == waits.wait("name 999")
    assert 0 == waits.wait("name 0")
