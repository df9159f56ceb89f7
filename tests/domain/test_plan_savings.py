"""What a plan saves each member beside ordering alone. Own cases, reckoned by hand; cheapest orders themselves
are held against others' in test_planning.py and test_planning_laws.py."""

from dataclasses import replace

from hypothesis import assume, given, settings

from pool_api.domain.planning import Opening, Setting, beside_alone, best_plan, parts_of
from pool_api.domain.planning.alone import without_dear
from tests.domain.plans import setting, settings_to_try, whole

TIERS = [(1, 1_000), (50, 900), (200, 750)]
"""ALGORITHMS.md, part D: the example ladder."""


def shared(needs: dict[str, tuple[int, ...]], asked: Setting) -> Setting:
    return replace(asked, needs=tuple(needs.items()))


def test_one_month_is_shared_at_one_price() -> None:
    """Needs 120, 90, 40 (ALGORITHMS.md D2): 250 for 187,500, that is 750 each; alone 108,000, 81,000 and 40,000."""
    asked = shared({"ALDER": (120,), "BIRCH": (90,), "CEDAR": (40,)}, setting([0], TIERS))
    found = [beside_alone(part) for part in parts_of(asked, best_plan(asked))]

    assert [
        ("ALDER", 120, 0, 108_000, 90_000, 18_000),
        ("BIRCH", 90, 0, 81_000, 67_500, 13_500),
        ("CEDAR", 40, 0, 40_000, 30_000, 10_000),
    ] == [(each.member, each.need, each.at_hand, each.alone, each.share, each.saving) for each in found]


def test_what_is_at_hand_is_shared_by_needs_and_what_nobody_needs_is_left_out() -> None:
    asked = shared({"ALDER": (30, 30), "BIRCH": (10, 10)}, setting([0, 0], TIERS, opening=40))
    parts = parts_of(asked, best_plan(asked))

    assert [30, 10] == [part.setting.opening.quantity for part in parts]
    idle = replace(asked, opening=Opening(quantity=500))
    assert [60, 20] == [part.setting.opening.quantity for part in parts_of(idle, best_plan(idle))]
    assert [0, 0] == [part.share for part in parts_of(idle, best_plan(idle))]


def test_alone_the_limits_of_the_pool_do_not_count() -> None:
    """Both together need 20 in each of two months and may keep 20; alone ALDER may buy its 30 at once for 8 less."""
    asked = shared({"ALDER": (15, 15), "BIRCH": (5, 5)}, setting([0, 0], [(1, 10), (30, 9)], order_cost=2, cap=20))
    plan = best_plan(asked)
    alder, birch = (beside_alone(part) for part in parts_of(asked, plan))

    assert (404, 272, 102) == (whole(plan.total), alder.alone, birch.alone)
    assert -31 == alder.saving


def test_nobody_needs_anything() -> None:
    asked = shared({"ALDER": (0,), "BIRCH": (0,)}, setting([0], TIERS, opening=3))

    assert [(0, 0, 0)] * 2 == [
        (each.at_hand, each.alone, each.share) for each in map(beside_alone, parts_of(asked, best_plan(asked)))
    ]


@given(settings_to_try(months=4, need=20))
@settings(max_examples=60)
def test_leaving_dear_tiers_out_changes_no_cost(drawn: Setting) -> None:
    asked = replace(drawn, cash_limit=None, stock_cap=None)
    assume(any(asked.totals))

    assert best_plan(asked).total == best_plan(without_dear(asked)).total
