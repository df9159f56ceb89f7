"""Shares of a joint order, and whether a subgroup would do better alone.

The oracles are the definitions: means over all orders of joining, and all subgroups, with costs by `Ladder.cheapest`.
"""

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate, chain, combinations, pairwise, permutations
from math import factorial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain import sharing
from pool_api.domain.ladder import Ladder, Tier, ladder_from
from pool_api.domain.pool import SavingRule
from pool_api.domain.sharing import JointOrder, Shares, Verdict, alone, shared_saving
from pool_api.domain.values import half_up
from tests.domain.plans import ladder

TIERS = ladder([(1, 150), (100, 135), (250, 120), (500, 100)])
UNIT_PRICE, PROPORTIONAL, SHAPLEY = SavingRule


def order(*credits: int, by: Ladder = TIERS) -> JointOrder:
    """Give an order for members A, B, … that took so many credits."""
    return JointOrder(taken=tuple((chr(ord("A") + at), each) for at, each in enumerate(credits)), ladder=by)


def shown(found: Shares, decimals: int) -> list[Fraction]:
    """Give shares to some decimals of a minor unit, in order of member code."""
    return [Fraction(half_up(each * 10**decimals), 10**decimals) for each in found.exact.values()]


# --- worked and published cases --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "shares", "worst"),
    [
        (UNIT_PRICE, "30000 12000 6000 2000", "-1000"),
        (PROPORTIONAL, "28037.38 12616.82 7009.35 2336.45", "-663.55"),
        (SHAPLEY, "30900 11700 5550 1850", "-1150"),
    ],
)
def test_four_members_and_one_order(rule: SavingRule, shares: str, worst: str) -> None:
    """Own case, worked apart from this program: 300, 120, 60 and 20 credits are one order of 500 for 50,000, and cost
    36,000, 16,200, 9,000 and 3,000 alone."""
    joint = order(300, 120, 60, 20)
    found = joint.shares(rule)
    least = joint.worst_off(found.exact)

    assert 50_000 == joint.cost
    assert [36_000, 16_200, 9_000, 3_000] == [joint.alone(credits) for _, credits in joint.taken]
    assert list(map(Fraction, shares.split())) == shown(found, 2)
    assert least is not None
    assert ("D",) == least.members
    assert Fraction(worst) == Fraction(half_up(least.excess * 100), 100)
    assert Verdict.CORE == joint.verdict(least)


def test_three_members_with_thirds_of_a_cent() -> None:
    """Own case, worked by hand: of savings of 31,500 by the first two, 4,000 by either with the third and 41,500 by
    all, the Shapley value gives 55,250/3, 55,250/3 and 14,000/3."""
    joint = order(120, 90, 40, by=ladder([(1, 1_000), (50, 900), (200, 750)]))
    found = joint.shares(SHAPLEY)

    saved = [joint.alone(credits) - found.exact[code] for code, credits in joint.taken]
    assert [Fraction(55_250, 3), Fraction(55_250, 3), Fraction(14_000, 3)] == saved
    assert [89_584, 62_583, 35_333] == [*found.amounts.values()]


@pytest.mark.parametrize(
    ("costs", "value"),
    [
        # S. C. Littlechild and G. Owen, Management Science 20(3), 1973, as encyclopedia articles have it
        ("8 11 13 18", "2 3 4 9"),
        # thoughtfulexaminations.com, page 19583
        ("1500 2200 3000", "500 850 1650"),
        ("1500 2200 3500", "500 850 2150"),
        # Ibn Ezra, 1146, in R. Aumann, 2010, as the manual of the package CoopGame has it (shapleyValue)
        ("30 40 60 120", "7.50000 10.83333 20.83333 80.83333"),
    ],
)
def test_published_airport_games(costs: str, value: str) -> None:
    """The longest runway makes the cost. As a ladder: each member takes more than all before it together, and a tier
    begins above what it can take with these, at a price by which exactly that order costs what its runway does."""
    begins = (1, 4, 25, 1_250)
    tiers = zip(begins, map(Decimal, costs.split()), strict=False)
    by = replace(TIERS, tiers=tuple(Tier(at, f"{(cost / at).normalize():f}") for at, cost in tiers))
    joint = order(*(1, 3, 20, 1_000)[: len(costs.split())], by=by)

    assert [Fraction(each) for each in value.split()] == [each / 100 for each in shown(joint.shares(SHAPLEY), 3)]


# --- the definitions -------------------------------------------------------------------------------------------------

few_credits = st.lists(st.integers(1, 40), min_size=1, max_size=5)
prices = st.lists(st.integers(0, 90), min_size=1, max_size=4)


@st.composite
def ladders(draw: st.DrawFn) -> Ladder:
    """Ladders whose prices rise or fall, some with a smallest order."""
    units = draw(prices)
    steps = draw(st.lists(st.integers(1, 30), min_size=len(units), max_size=len(units)))
    return ladder([*zip(accumulate(steps), units, strict=True)])


def _falling(there: Ladder) -> Ladder:
    units = sorted((Decimal(each.unit_price) for each in there.tiers), reverse=True)
    tiers = (Tier(each.from_credits, f"{unit}") for each, unit in zip(there.tiers, units, strict=True))
    return replace(there, tiers=tuple(tiers))


falling = ladders().map(_falling)


def cheapest(by: Ladder, credits: int) -> Fraction:
    return by.cheapest(credits).cost if credits else Fraction()


def by_definition(joint: JointOrder) -> dict[str, Fraction]:
    """Give what each member adds to the cost on average, over all orders of joining."""
    sums = dict.fromkeys(dict(joint.taken), Fraction())
    for joining in permutations(joint.taken):
        totals = accumulate((credits for _, credits in joining), initial=0)
        costs = [cheapest(joint.ladder, total) for total in totals]
        for (code, _), (before, after) in zip(joining, pairwise(costs), strict=True):
            sums[code] += after - before
    return {code: each / factorial(len(joint.taken)) for code, each in sums.items()}


def subgroups(joint: JointOrder) -> Iterator[tuple[tuple[str, int], ...]]:
    """Give all that are not empty and not all."""
    return chain.from_iterable(combinations(joint.taken, size) for size in range(1, len(joint.taken)))


@given(credits=few_credits, by=ladders())
def test_costs_are_those_of_the_cheapest_order(credits: list[int], by: Ladder) -> None:
    joint, found = order(*credits, by=by), by.cheapest(sum(credits))

    assert found.cost == joint.cost == alone(by, sum(credits))
    assert (found.quantity, by.currency.unit_price(found.tier.unit_price)) == joint.ordered
    assert 0 == alone(by, 0)


@given(credits=few_credits, by=ladders())
def test_the_shapley_value_is_the_mean_over_all_orders_of_joining(credits: list[int], by: Ladder) -> None:
    joint = order(*credits, by=by)

    found = joint.shares(SHAPLEY)

    assert by_definition(joint) == found.exact
    assert 0 == found.sampled == found.error


@given(credits=few_credits, by=ladders(), paid=st.lists(st.integers(0, 5_000), min_size=5, max_size=5))
def test_the_worst_off_subgroup_is_the_worst_of_all(credits: list[int], by: Ladder, paid: list[int]) -> None:
    joint = order(*credits, by=by)
    amounts = dict(zip(dict(joint.taken), paid, strict=False))

    worst = joint.worst_off(amounts)

    excesses = {
        tuple(code for code, _ in group): sum(amounts[code] for code, _ in group)
        - cheapest(by, sum(credits for _, credits in group))
        for group in subgroups(joint)
    }
    if worst is None:
        assert 1 == len(credits)
        assert Verdict.CORE == joint.verdict(worst)
    else:
        assert max(excesses.values()) == worst.excess == excesses[worst.members]
        assert (Verdict.OUTSIDE if half_up(worst.excess) > 0 else Verdict.CORE) == joint.verdict(worst)


@given(credits=few_credits, by=ladders(), rule=st.sampled_from(SavingRule))
def test_shares_are_lawful(credits: list[int], by: Ladder, rule: SavingRule) -> None:
    """They add up, exactly and in minor units; nobody is paid for taking; who takes the same pays the same."""
    joint = order(*credits, by=by)
    found = joint.shares(rule)

    assert joint.cost == sum(found.exact.values())
    assert half_up(joint.cost) == sum(found.amounts.values())
    assert all(abs(found.amounts[code] - found.exact[code]) < 1 for code in found.exact)
    by_credits: dict[int, Fraction] = {}
    for code, each in joint.taken:
        assert found.exact[code] == by_credits.setdefault(each, found.exact[code])
        assert found.exact[code] >= 0


@given(credits=few_credits, by=falling, rule=st.sampled_from(SavingRule))
def test_nobody_pays_more_than_alone_where_prices_fall(credits: list[int], by: Ladder, rule: SavingRule) -> None:
    joint = order(*credits, by=by)
    found = joint.shares(rule)

    assert all(found.exact[code] <= joint.alone(each) for code, each in joint.taken)


@given(credits=few_credits, by=falling)
def test_one_unit_price_is_in_the_core_where_prices_fall(credits: list[int], by: Ladder) -> None:
    """What the cheapest order costs by the credit never rises with the credits, so no subgroup gets one for less.

    Source: Y. Anily and M. Haviv, Operations Research 62, 2014, on such games in general (title and abstract)."""
    joint = order(*credits, by=by)
    worst = joint.worst_off(joint.shares(UNIT_PRICE).exact)

    assert worst is None or worst.excess <= 0


def test_the_shapley_value_may_leave_the_core_and_the_subgroup_is_named() -> None:
    """Own case, worked by hand: alone 3,000, 5,000 and 5,000; the first two 5,000, first and third 6,500, the others
    8,500, all 10,000. The first adds 3,000, 0, 1,500 and 1,500: 1,750 on average; the first two pay 5,500 of it.
    That there are such cases: M. Leng, C. Luo and L. Liang, Management Science, 2020, on buying groups (abstract)."""
    joint = order(30, 70, 100, by=ladder([(1, 100), (100, 50)]))
    found = joint.shares(SHAPLEY)

    worst = joint.worst_off(found.exact)

    assert [1_750, 3_750, 4_500] == [*found.exact.values()]
    assert worst is not None
    assert ("A", "B") == worst.members
    assert 500 == worst.excess
    assert Verdict.OUTSIDE == joint.verdict(worst)


def test_who_would_save_less_than_half_a_minor_unit_alone_does_no_better() -> None:
    joint = order(100, 100)

    for excess, verdict in ((Fraction(49, 100), Verdict.CORE), (Fraction(1, 2), Verdict.OUTSIDE)):
        worst = joint.worst_off({"A": 13_500 + excess, "B": 13_000})
        assert worst is not None
        assert excess == worst.excess
        assert verdict == joint.verdict(worst)


# --- many members ----------------------------------------------------------------------------------------------------


def test_fifteen_members_are_exact_whatever_they_took() -> None:
    """So many totals as subgroups. Equal members' shares of one unit price are what the value gives."""
    credits = [1 + 3**at for at in range(15)]
    joint = order(*credits, by=ladder([(1, 7)]))

    found = joint.shares(SHAPLEY)

    assert 0 == found.sampled
    assert [7 * each for each in credits] == [*found.exact.values()]
    assert joint.worst_off(found.exact) is not None


def test_where_there_are_too_many_orders_of_joining_are_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Beside the exact value: the largest of the errors is within four of the stated standard errors; one in some
    thousand draws would not be."""
    joint = order(*range(3, 90, 7))
    exact = joint.shares(SHAPLEY)
    monkeypatch.setattr(sharing, "MOST_STEPS", 10)

    found = joint.shares(SHAPLEY, "2026-10")

    assert sharing.SAMPLED == found.sampled
    assert joint.cost == sum(found.exact.values())
    assert 0 < max(abs(found.exact[code] - exact.exact[code]) for code in exact.exact) < 4 * found.error
    assert found == joint.shares(SHAPLEY, "2026-10") != joint.shares(SHAPLEY, "2026-11")
    assert None is joint.worst_off(found.exact)
    assert Verdict.UNTOLD == joint.verdict(None)


# --- what a month keeps of it ----------------------------------------------------------------------------------------


@given(credits=few_credits, by=ladders(), rule=st.sampled_from(SavingRule))
def test_charges_add_up_to_nothing(credits: list[int], by: Ladder, rule: SavingRule) -> None:
    joint = order(*credits, by=by)

    found = shared_saving(joint.taken, by, rule, "")

    assert 0 == sum(each.charge for each in found.members)
    assert found.cost == sum(each.share for each in found.members) == sum(each.unit_price for each in found.members)
    assert (rule is UNIT_PRICE) <= all(each.charge == 0 for each in found.members)


def test_a_ladder_is_read_back() -> None:
    told = {
        "valid_from": "2026-01-01",
        "currency": {"code": "EUR"},
        "tiers": [{"from_credits": each.from_credits, "unit_price": each.unit_price} for each in TIERS.tiers],
    }

    assert TIERS == ladder_from(told)
