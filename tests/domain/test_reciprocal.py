"""The lender's own price: published and hand-worked examples, what has no solution, and the laws of the equations."""

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.layers import Costed
from pool_api.domain.reciprocal import solve
from tests.domain.circles import Lent, Own, circle, equations

CODES = "ABCDEF"

owns = st.fixed_dictionaries({code: st.builds(Costed, st.integers(0, 60), st.integers(0, 90_000)) for code in CODES})
loans = st.dictionaries(
    st.sampled_from([(one, two) for one in CODES for two in CODES if one < two]).flatmap(
        lambda pair: st.sampled_from([pair, pair[::-1]])
    ),
    st.integers(1, 40),
).filter(lambda lent: not any((borrower, lender) in lent for lender, borrower in lent))


class TestExamples:
    def test_a_circle_of_three(self) -> None:
        """Own case, worked by hand with determinants."""
        own = {"A": Costed(100, 70_000), "B": Costed(50, 40_000), "C": Costed(20, 20_000)}
        found = solve(own, {("A", "B"): 20, ("B", "C"): 10, ("C", "A"): 5})

        assert {code: Fraction(n, 439) for code, n in (("A", 312_000), ("B", 340_000), ("C", 406_000))} == (
            found.unit_costs
        )
        assert () == found.without_supply

    def test_everybody_lends_to_everybody(self) -> None:
        """Own case: not netted, and one member without credits of its own."""
        own = {"A": Costed(100, 100_000), "B": Costed(50, 80_000)}
        lent = {("A", "B"): 40, ("A", "C"): 20, ("B", "A"): 10, ("B", "C"): 30, ("C", "A"): 5, ("C", "B"): 15}

        assert {code: Fraction(n, 41) for code, n in (("A", 42_560), ("B", 54_560), ("C", 49_760))} == (
            solve(own, lent).unit_costs
        )

    @pytest.mark.parametrize(
        ("own", "there", "back", "unit_costs"),
        [
            ((Costed(100, 100_000), Costed(100, 200_000)), 50, 50, (Fraction(1_250), Fraction(1_750))),
            ((Costed(100, 100_000), Costed(50, 80_000)), 40 + 25, 30, (Fraction(13_900, 13), Fraction(1_300))),
        ],
    )
    def test_two_lend_to_each_other(
        self, own: tuple[Costed, Costed], there: int, back: int, unit_costs: tuple[Fraction, Fraction]
    ) -> None:
        """Own cases, worked by hand: not netted."""
        found = solve(dict(zip("AB", own, strict=True)), {("A", "B"): there, ("B", "A"): back})

        assert dict(zip("AB", unit_costs, strict=True)) == found.unit_costs

    def test_a_published_allocation_between_two_service_departments(self) -> None:
        """Published example of the algebraic method (Accounting for Management): Y = 7,260 + 0.3 Z, Z = 4,000 + 0.2 Y,
        so Y = 9,000 and Z = 5,800. Ten units each make whole credits of it: Y lends two of ten to Z, Z three to Y."""
        own = {"Y": Costed(7, 7_260), "Z": Costed(8, 4_000)}
        found = solve(own, {("Y", "Z"): 2, ("Z", "Y"): 3}).unit_costs

        assert {"Y": Fraction(9_000, 10), "Z": Fraction(5_800, 10)} == found

    def test_who_only_borrows_has_no_price(self) -> None:
        assert {"A": Fraction(7)} == solve({"A": Costed(10, 70)}, {("A", "B"): 3}).unit_costs


class TestWithoutSupply:
    def test_a_circle_without_credits_is_named_in_the_order_of_lending(self) -> None:
        found = solve({"A": Costed(100, 900)}, {("B", "C"): 4, ("C", "D"): 4, ("D", "B"): 4, ("A", "E"): 1})

        assert {"A": Fraction(9)} == found.unit_costs
        circle = found.without_supply
        assert {"B", "C", "D"} == {*circle}
        assert all(pair in {("B", "C"), ("C", "D"), ("D", "B")} for pair in pairwise(circle))

    def test_who_lends_what_it_never_had_is_named_alone(self) -> None:
        found = solve({"A": Costed(100, 900)}, {("B", "A"): 10, ("B", "C"): 1})

        assert ("B",) == found.without_supply

    def test_two_that_lend_each_other_what_neither_had_are_named_beside_one_with_credits(self) -> None:
        found = solve({"A": Costed(100, 900)}, {("B", "C"): 10, ("C", "B"): 10})

        assert {"B", "C"} == {*found.without_supply}

    def test_cost_without_credits_is_no_supply(self) -> None:
        assert {"A", "B"} == {*solve({"A": Costed(0, 50)}, {("A", "B"): 4, ("B", "A"): 3}).without_supply}

    def test_one_who_gets_from_them_is_priced_as_if_they_had_cost_nothing(self) -> None:
        found = solve({"A": Costed(10, 900)}, {("B", "A"): 20, ("A", "C"): 5})

        assert {"A": Fraction(30)} == found.unit_costs


@pytest.mark.parametrize(("members", "lendings"), [(16, 40), (40, 160), (300, 2_265)])
def test_many_members_in_one_circle_fulfil_their_equations_exactly(members: int, lendings: int) -> None:
    """So many that the library takes another way than for six."""
    own, lent = circle(members, lendings)
    found = solve(own, lent)

    assert () == found.without_supply
    assert own.keys() == found.unit_costs.keys()
    assert fulfilled(own, lent, found.unit_costs)


def fulfilled(own: Own, lent: Lent, unit_costs: Mapping[str, Fraction]) -> bool:
    """Tell whether the costs of all lenders, put back, fulfil their equations."""
    credits = {code: own[code].quantity for code in unit_costs}
    worth = {code: Fraction(own[code].cost) for code in unit_costs}
    for (lender, borrower), quantity in lent.items():
        if borrower in unit_costs:
            credits[borrower] += quantity
            worth[borrower] += unit_costs[lender] * quantity
    return all(unit_costs[code] * credits[code] == worth[code] for code in unit_costs)


@given(owns, loans)
def test_the_costs_put_back_into_the_equations_fulfil_them(own: Own, lent: Lent) -> None:
    found = solve(own, lent)

    assert found.without_supply or fulfilled(own, lent, found.unit_costs)


@given(owns, loans)
def test_a_general_solver_finds_the_same(own: Own, lent: Lent) -> None:
    own = {code: there if there.quantity else Costed(1, there.cost) for code, there in own.items()}
    matrix, right = equations(own, lent)
    expected = np.linalg.solve(matrix, right)

    for code, cost in solve(own, lent).unit_costs.items():
        assert expected[CODES.index(code)] == pytest.approx(float(cost))


@given(owns, loans)
def test_there_is_a_solution_exactly_when_the_matrix_has_full_rank(own: Own, lent: Lent) -> None:
    matrix, _ = equations(own, lent)
    involved = [at for at, code in enumerate(CODES) if any(code == lender for lender, _ in lent) or matrix[at, at]]
    rank = int(np.linalg.matrix_rank(matrix[np.ix_(involved, involved)])) if involved else 0

    assert (rank == len(involved)) is (not solve(own, lent).without_supply)


@given(owns, loans)
def test_every_cost_lies_between_the_least_and_the_greatest_that_came_in(own: Own, lent: Lent) -> None:
    """Azimzadeh's matrices are monotone: an average of averages."""
    own = {code: there if there.quantity else Costed() for code, there in own.items()}
    found = solve(own, lent)
    prices = [Fraction(there.cost, there.quantity) for there in own.values() if there.quantity]
    if not found.without_supply:
        assert all(min(prices) <= cost <= max(prices) for cost in found.unit_costs.values())


@given(owns, loans, st.integers(2, 9))
def test_dearer_credits_make_everybody_s_dearer_alike(own: Own, lent: Lent, times: int) -> None:
    dearer = {code: Costed(there.quantity, times * there.cost) for code, there in own.items()}

    assert {code: times * cost for code, cost in solve(own, lent).unit_costs.items()} == solve(dearer, lent).unit_costs
