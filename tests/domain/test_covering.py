"""The cheapest cover: against every subset, against a general solver (SciPy's HiGHS), and its own proof.

Instances are made up; what they are held against is found by other means."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from pool_api.domain.covering import Cover, Offer, cheapest_cover

Question = tuple[list[str], list[Offer]]


def offer(name: str, cost: int, covers: str) -> Offer:
    return Offer(name=name, cost=cost, covers=frozenset(covers))


@st.composite
def questions(draw: st.DrawFn, most_wanted: int, most_bundles: int) -> Question:
    wanted = [f"W{at}" for at in range(draw(st.integers(1, most_wanted)))]
    costs = st.integers(0, 30)
    offers = [Offer(name=each, cost=draw(costs), covers=frozenset([each])) for each in wanted]
    for at in range(draw(st.integers(0, most_bundles))):
        covers = draw(st.frozensets(st.sampled_from([*wanted, "OTHER"]), min_size=1))
        offers.append(Offer(name=f"B{at}", cost=draw(costs), covers=covers))
    return wanted, offers


def by_trying_all(wanted: list[str], offers: list[Offer]) -> tuple[int, int]:
    return min(
        (sum(each.cost for each in chosen), size)
        for size in range(len(wanted) + 1)
        for chosen in combinations(offers, size)
        if set(wanted) <= {name for each in chosen for name in each.covers}
    )


def by_solver(wanted: list[str], offers: list[Offer]) -> int:
    rows = np.array([[name in each.covers for each in offers] for name in wanted], dtype=float)
    costs = np.array([each.cost for each in offers], dtype=float)
    answer = milp(
        costs,
        constraints=LinearConstraint(rows, 1, np.inf),
        integrality=np.ones(len(offers)),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    assert answer.success
    least: int = round(answer.fun)
    return least


def covers(found: Cover, wanted: list[str], offers: list[Offer]) -> bool:
    chosen = [each for each in offers if each.name in found.chosen]
    assert found.cost == sum(each.cost for each in chosen)
    return {*wanted} <= {name for each in chosen for name in each.covers}


@given(question=questions(4, 4))
def test_no_subset_is_cheaper_and_none_as_cheap_has_fewer_offers(question: Question) -> None:
    wanted, offers = question

    found = cheapest_cover(wanted, offers)

    assert covers(found, wanted, offers)
    assert found.proven
    assert by_trying_all(wanted, offers) == (found.cost, len(found.chosen))


@given(question=questions(14, 20))
def test_a_general_solver_finds_none_cheaper(question: Question) -> None:
    found = cheapest_cover(*question)

    assert covers(found, *question)
    assert found.proven
    assert by_solver(*question) == found.cost


@given(question=questions(14, 20), most_nodes=st.integers(0, 3))
@settings(max_examples=30)
def test_stopped_early_it_gives_a_cover_and_a_bound_that_holds(question: Question, most_nodes: int) -> None:
    found = cheapest_cover(*question, most_nodes=most_nodes)

    assert covers(found, *question)
    assert found.lower_bound <= by_solver(*question) <= found.cost


@given(question=questions(8, 8))
def test_it_gives_the_same_cover_again(question: Question) -> None:
    assert cheapest_cover(*question) == cheapest_cover(*question)


def test_a_bundle_is_taken_where_it_costs_less_than_what_it_covers() -> None:
    single = [offer("a", 10, "a"), offer("b", 12, "b"), offer("c", 9, "c")]

    assert Cover(chosen=("a", "b"), cost=22, lower_bound=22) == cheapest_cover(
        ["a", "b"], [*single, offer("x", 23, "abc")]
    )
    assert Cover(chosen=("x",), cost=21, lower_bound=21) == cheapest_cover(["a", "b"], [*single, offer("x", 21, "abc")])


def test_the_greedy_choice_is_not_the_cheapest() -> None:
    """Chvátal's case of 1979, as it is commonly told (from memory): by cost for each thing the singles look cheaper one
    after the other, and together cost more than the one offer of all."""
    singles = [offer("abcd"[at], 60 // (4 - at), "abcd"[at]) for at in range(4)]

    found = cheapest_cover([*"abcd"], [*singles, offer("all", 61, "abcd")])

    assert (("all",), 61) == (found.chosen, found.cost)


def test_nothing_wanted_costs_nothing() -> None:
    assert Cover(chosen=(), cost=0, lower_bound=0) == cheapest_cover([], [offer("a", 3, "a")])


def test_what_nothing_covers_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no offer covers b"):
        cheapest_cover(["a", "b"], [offer("a", 3, "a")])
