"""Under a mixed load at two servers everything happens as if one after the other, in the order of its answers; and the
checker that says so finds each kind of lie."""

from dataclasses import replace

import pytest

from tests.databases import Database
from tests.e2e.history import Json, Told, faults
from tests.e2e.mixed_load import MixedLoad
from tests.e2e.servers import keeper_of
from tests.e2e.soak import soak

SECONDS = 4


def test_all_that_two_servers_tell_fits_one_order_and_nothing_grows_but_the_book(database: Database) -> None:
    load = MixedLoad(keeper_of(database.url), seed=20261130)
    measures = list(soak(database, load, SECONDS, turns=2))

    assert [] == [wrong for wrong in measures if isinstance(wrong, str)]
    assert {200, 201, 409} == {told.status for told in load.history}


def buy(number: int, sent: float, answered: float) -> Told:
    return Told(sent=sent, answered=answered, key=f"k{number}", status=201, answer={"number": number})


def entry(number: int) -> Json:
    return {"number": number, "kind": "purchase", "note": f"k{number}", "body": {"quantity": 5}}


def read(number: int, stock: int, sent: float, answered: float) -> Told:
    answer = {"number": number, "stock": stock, "members": [], "open_loans": []}
    return Told(sent=sent, answered=answered, key=None, status=200, answer=answer)


def refusal(stock: int, quantity: int, sent: float, answered: float) -> Told:
    answer = {"code": "not-enough-in-stock", "stock": stock, "quantity": quantity, "detail": "too few"}
    return Told(sent=sent, answered=answered, key="k9", status=409, answer=answer)


TRUE = [buy(1, 1, 2), buy(2, 3, 4), read(1, 5, 2, 5), refusal(5, 6, 2, 5)]
ENTRIES = [entry(1), entry(2)]

LIES: dict[str, tuple[list[Told], list[Json]]] = {
    "a gap": (TRUE, [entry(1), entry(3)]),
    "a key that stands twice": (TRUE, [entry(1), {**entry(2), "note": "k1"}]),
    "an acknowledged entry that is gone": (TRUE, [entry(1)]),
    "another number than was told": ([replace(TRUE[0], answer={"number": 2}), *TRUE[1:]], ENTRIES),
    "numbers against the order of answers": ([buy(1, 3, 4), buy(2, 1, 2)], ENTRIES),
    "a refused request that stands": ([replace(refusal(5, 6, 2, 5), key="k1"), *TRUE], ENTRIES),
    "a read that is behind": ([*TRUE, read(1, 5, 5, 6)], ENTRIES),
    "a read of what nobody had sent": ([*TRUE, read(2, 10, 1, 2.5)], ENTRIES),
    "a read of other figures": ([*TRUE, read(2, 9, 5, 6)], ENTRIES),
    "a refusal that was true at no time": ([*TRUE, refusal(7, 8, 1, 6)], ENTRIES),
    "a refusal that was true only before": ([*TRUE, refusal(5, 6, 5, 6)], ENTRIES),
}


def test_what_is_true_is_no_fault() -> None:
    assert [] == faults(TRUE, ENTRIES)


@pytest.mark.parametrize("lie", LIES)
def test_a_lie_is_a_fault(lie: str) -> None:
    assert faults(*LIES[lie])


def test_what_was_not_answered_stands_or_not() -> None:
    lost, never = replace(TRUE[0], status=0, answer={}), replace(buy(3, 5, 6), status=0, answer={})

    assert [] == faults([lost, TRUE[1], never], ENTRIES)
