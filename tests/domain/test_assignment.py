"""The best choice among weighed pairs: instances with published optima, an independent solver, and small ones by hand.

A matching of smallest cost is one of largest weight when each weight is a constant above all costs minus the cost."""

import hashlib
from itertools import permutations
from pathlib import Path

import networkx as nx  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from pool_api.domain.matching.assignment import assign, candidates, in_step

ASSIGN100 = Path(__file__).parent / "data" / "assign100.txt"

FAR = 10**6

LPSOLVE = [[2, 7, 7, 1], [7, 7, 2, 9], [7, 3, 8, 8], [2, 2, 10, 2]]
DIMACS = [
    [22, 30, 26, 16, 25],
    [27, 29, 28, 20, 32],
    [33, 25, 21, 29, 23],
    [24, 24, 30, 19, 26],
    [30, 33, 32, 37, 31],
]
WORKERS = [[90, 80, 75, 70], [35, 85, 55, 65], [125, 95, 90, 95], [45, 110, 95, 115], [50, 100, 90, 100]]
SQUARE = [[4, 1, 3], [2, 0, 5], [3, 2, 2]]

Edges = list[tuple[int, int, int]]


def chosen(edges: Edges, lefts: int, rights: int) -> dict[int, tuple[int, int]]:
    """Assign weighed edges; give each chosen left its right and margin."""
    i, j, weight = np.array(edges, dtype=np.int64).reshape(len(edges), 3).T
    found = assign(i, j, weight, np.arange(lefts), np.arange(rights))
    return {int(i[at]): (int(j[at]), int(margin)) for at, margin in zip(found.place, found.margin, strict=True)}


def cheapest(costs: list[list[int]]) -> tuple[int, list[int | None]]:
    """Give the smallest cost of a full matching, and the column of each row."""
    edges = [(i, j, FAR - cost) for i, row in enumerate(costs) for j, cost in enumerate(row)]
    found = chosen(edges, len(costs), len(costs[0]))
    columns = [found[i][0] if i in found else None for i in range(len(costs))]
    return sum(costs[i][j] for i, j in enumerate(columns) if j is not None), columns


class TestPublishedOptima:
    def test_manual_of_the_r_package_lpsolve(self) -> None:
        # lp.assign: 1->4, 2->3, 3->2, 4->1 at a cost of 8
        assert (8, [3, 2, 1, 0]) == cheapest(LPSOLVE)

    def test_dimacs_sample(self) -> None:
        # input from the manual of lp_solve, DIMACS assignment format; its optimum recomputed by trying all 120 choices
        assert min(sum(DIMACS[i][j] for i, j in enumerate(each)) for each in permutations(range(5))) == 118
        assert (118, [0, 3, 2, 1, 4]) == cheapest(DIMACS)

    def test_five_workers_for_four_tasks(self) -> None:
        # costs from the OR-Tools guide to assignment; the optimum from memory, 265 with the last worker idle
        assert (265, [3, 2, 1, 0, None]) == cheapest(WORKERS)

    def test_manual_of_scipy(self) -> None:
        # scipy.optimize.linear_sum_assignment, example; from memory
        assert (5, [1, 0, 2]) == cheapest(SQUARE)

    def test_or_library_assign100(self) -> None:
        # J. E. Beasley, Journal of the Operational Research Society 41 (1990) 133-139: optimum 305. The file is the one
        # of kkoopa/lapmod (MIT), which is OR-Library's; an instance of another origin goes by the same name, so the
        # digest of the costs as 16-bit numbers is checked, the same in three repositories
        size, *costs = map(int, ASSIGN100.read_text().split())
        digest = hashlib.sha256(np.array(costs, dtype="<i2").tobytes()).hexdigest()
        assert "2859535f383b0ef173d0c05ea09030263820cd135256efdff470b04d8a941ce2" == digest
        rows = [costs[at : at + size] for at in range(0, len(costs), size)]

        assert (100, [52, 89, 40, 77]) == (len(rows), rows[0][:4])
        assert 305 == cheapest(rows)[0]


SPARSE = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7), st.integers(-5, 40)), min_size=1, max_size=25)


class TestLaws:
    @given(SPARSE)
    @settings(max_examples=150)
    def test_the_total_is_that_of_an_independent_solver(self, given_edges: Edges) -> None:
        edges = [(i, j, weight) for (i, j), weight in {(i, j): weight for i, j, weight in given_edges}.items()]
        graph = nx.Graph()
        graph.add_weighted_edges_from((("left", i), ("right", j), weight) for i, j, weight in edges)
        expected = sum(graph[one][other]["weight"] for one, other in nx.max_weight_matching(graph))

        found = chosen(edges, 8, 8)

        weights = {(i, j): weight for i, j, weight in edges}
        assert expected == sum(weights[i, j] for i, (j, _) in found.items())
        assert len(found) == len({j for j, _ in found.values()})
        assert all(weights[i, j] > 0 for i, (j, _) in found.items())

    @given(st.integers(0, 10_000))
    @settings(max_examples=30)
    def test_many_random_blocks_at_once_are_each_solved_as_scipy_solves_them_alone(self, seed: int) -> None:
        chance = np.random.default_rng(seed)
        edges, expected, side = [], 0, 12
        for block in range(40):
            rows, columns = chance.integers(1, side, size=2)
            matrix = chance.integers(-20, 100, size=(rows, columns)) * (chance.random((rows, columns)) < 0.6)
            worth = matrix.clip(0)
            expected += int(worth[linear_sum_assignment(worth, maximize=True)].sum())
            edges += [(block * side + i, block * side + j, int(matrix[i, j])) for i, j in np.argwhere(matrix).tolist()]

        found = chosen(edges, 40 * side, 40 * side)

        weights = {(i, j): weight for i, j, weight in edges}
        assert expected == sum(weights[i, j] for i, (j, _) in found.items())
        assert len(found) == len({j for j, _ in found.values()})

    @given(SPARSE)
    @settings(max_examples=100)
    def test_no_margin_is_smaller_than_what_forbidding_the_pair_loses(self, given_edges: Edges) -> None:
        edges = [(i, j, weight) for (i, j), weight in {(i, j): weight for i, j, weight in given_edges}.items()]
        weights = {(i, j): weight for i, j, weight in edges}
        best = chosen(edges, 8, 8)
        total = sum(weights[i, j] for i, (j, _) in best.items())

        for i, (j, margin) in best.items():
            without = [edge for edge in edges if edge[:2] != (i, j)]
            other = chosen(without, 8, 8) if without else {}
            assert margin >= total - sum(weights[a, b] for a, (b, _) in other.items())


def test_an_exchange_between_twins_costs_no_margin() -> None:
    """Own case."""
    i, j, weight = np.array([[0, 0, 9], [1, 0, 9]], dtype=np.int64).T

    found = assign(i, j, weight, np.array([5, 5]), np.array([0]))

    assert ([0], [9], [False]) == (found.place.tolist(), found.margin.tolist(), found.whole.tolist())


DAYS = st.lists(st.tuples(st.integers(1, 3), st.integers(739_000, 739_030)), max_size=30)


@given(DAYS, DAYS, st.integers(0, 9))
def test_candidates_are_all_pairs_of_one_key_within_the_window(
    left: list[tuple[int, int]], right: list[tuple[int, int]], window: int
) -> None:
    ours, theirs = (np.array(each, dtype=np.int64).reshape(len(each), 2).T for each in (left, right))

    found = candidates((ours[0], ours[1]), (theirs[0], theirs[1]), window)

    assert found is not None
    expected = {
        (i, j)
        for i, (key, day) in enumerate(left)
        for j, (other, on) in enumerate(right)
        if key == other and abs(day - on) <= window
    }
    pairs = list(zip(found[0].tolist(), found[1].tolist(), strict=True))
    assert (len(expected), expected) == (len(pairs), set(pairs))


def test_too_many_candidates_are_not_made() -> None:
    one = np.ones(4, dtype=np.int64)

    assert candidates((one, one), (one, one), 0, most=15) is None


@pytest.mark.parametrize(
    ("left", "right", "expected"),
    [
        ([1, 2, 3], [1, 2, 3], [(0, 0), (1, 1), (2, 2)]),
        ([1, 5], [5, 6], [(1, 0)]),
        ([1, 5], [2, 5], [(1, 1), (0, 0)]),
        ([1, 1, 1], [1], [(0, 0)]),
        ([], [1], []),
    ],
)
def test_pairing_in_step_takes_equal_days_first(
    left: list[int], right: list[int], expected: list[tuple[int, int]]
) -> None:
    """Own cases."""
    i, j = in_step(np.array(left, dtype=np.int64), np.array(right, dtype=np.int64), 2)

    assert expected == list(zip(i.tolist(), j.tolist(), strict=True))
