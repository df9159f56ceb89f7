"""What uses cost and earned, and what a job would cost: exact sums, and what reversals leave (own rules)."""

from dataclasses import astuple
from datetime import date
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import Reversal, Use
from pool_api.domain.jobs import Earned, JobUse, Prospect, earned_by, job_use, prospect, sum_of
from pool_api.store.facts import StoredFact as Fact

_USE = Use(member="ALDER", quantity=10, item="CAL-S", job="J-1", price=5_000)
_ON = date(2026, 9, 8)


def reversal(number: int, quantity: int, on: date) -> Fact:
    return Fact(number, on, Reversal(entry=4, quantity=quantity))


def undone(*reversals: Fact, cost: int = 701) -> tuple[int, int, int | None]:
    found = job_use(Fact(4, _ON, _USE), _USE, cost, reversals)
    return found.left, found.cost, found.price


def test_a_use_costs_what_its_month_says() -> None:
    assert (10, 701, 5_000) == undone()


def test_a_reversal_of_its_month_is_in_the_cost_already() -> None:
    assert (6, 421, 5_000) == undone(reversal(5, 4, date(2026, 9, 30)), cost=421)


def test_a_reversal_of_a_later_month_takes_its_part_of_the_cost() -> None:
    """701 × 4/10 = 280.4, half up 280, is gone; the last part takes the rest."""
    assert (6, 421, 5_000) == undone(reversal(5, 4, date(2026, 10, 1)))
    assert (0, 0, None) == undone(reversal(5, 4, date(2026, 10, 1)), reversal(6, 6, date(2026, 11, 1)))


def test_what_is_wholly_undone_earned_nothing() -> None:
    assert (0, 0, None) == undone(reversal(5, 10, _ON), cost=0)
    assert {} == earned_by([job_use(Fact(4, _ON, _USE), _USE, 0, [reversal(5, 10, _ON)])], lambda use: use.item)


uses = st.builds(
    JobUse,
    entry=st.integers(1, 99),
    member=st.sampled_from(["ALDER", "BIRCH"]),
    item=st.sampled_from(["CAL-S", "CAL-M"]),
    job=st.just("J-1"),
    effective_on=st.just(_ON),
    quantity=st.just(50),
    left=st.integers(0, 50),
    cost=st.integers(0, 10_000),
    price=st.none() | st.integers(0, 10_000),
)


@given(found=st.lists(uses, max_size=20))
def test_parts_add_up_however_they_are_told(found: list[JobUse]) -> None:
    left = [use for use in found if use.left]
    whole = sum_of(earned_by(found, lambda _: "").values())

    for key in (lambda use: use.item, lambda use: use.member, lambda use: str(use.entry)):
        parts = earned_by(found, key)
        assert sorted(parts) == [*parts]
        assert whole == sum_of(parts.values())
    assert len(left) == whole.uses
    assert sum(use.left for use in left) == whole.credits
    assert sum(use.cost for use in left) == whole.cost
    assert sum(use.price - use.cost for use in left if use.price is not None) == whole.margin
    assert sum(use.cost for use in left if use.price is None) == whole.unpriced_cost
    assert sum(use.left for use in left if use.price is None) == whole.unpriced_credits


def test_of_nothing_the_sum_is_nothing() -> None:
    assert Earned() == sum_of([])
    assert {0} == {*astuple(sum_of([]))}


def test_a_price_of_nothing_is_a_price() -> None:
    free = job_use(Fact(4, _ON, _USE), Use(member="ALDER", quantity=10, item="CAL-S", job="J-1", price=0), 700, [])

    (found,) = earned_by([free], lambda use: use.item).values()

    assert (-700, 0) == (found.margin, found.unpriced_uses)


def test_credits_at_a_unit_price() -> None:
    """24 × 2120/3 minor units = 16,960 exactly; 25 × 2120/3 = 17,666.67."""
    price = Fraction(2120, 3)

    assert Prospect(unit_price=price, cost=16_960, margin=3_040) == prospect(24, price, 20_000)
    assert Prospect(unit_price=price, cost=17_667, margin=None) == prospect(25, price, None)
