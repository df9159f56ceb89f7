"""The floor of matching: planted networks of four thousand transfers, strictly scored, that no change may fall below.

Seeds are this test's own; the measured figures stand in DEVELOPERS.md and come from others. `Up to twins` counts a pair
as true when it differs from a true one only by rows that nothing they say tells apart.
"""

import random
from dataclasses import replace

import pytest

from pool_api.domain.matching import Report, match
from tests.bench.planted import Habits, Planted, planted
from tests.bench.scoring import Score, scored

COUNT = 4_000
WORLDS = {
    "sparse": {"seed": 401, "shops": 40, "days": 36},
    "dense": {"seed": 402, "shops": 20, "days": 12},
    "half handed in": {"seed": 403, "shops": 56, "days": 36, "half": True},
}
"""As crowded as ten thousand transfers within 90 and 30 days."""

FOUND = {"split": 0.93, "quantity": 0.93, "counterparty": 0.9, "direction": 0.9, "duplicate": 0.9}
FOUND |= {"missing_at_vendor": 0.93, "missing_in_journal": 0.93, "date_in_another_month": 0.95, "one_record_only": 0.95}
"""Of each planted class, the least share that is called so."""


@pytest.fixture(scope="module", params=WORLDS)
def judged(request: pytest.FixtureRequest) -> tuple[Planted, Report, Score]:
    """Plant a network, match it and score the report."""
    setting = dict(WORLDS[request.param])
    habits = Habits(half=bool(setting.pop("half", False)))
    world = planted(setting.pop("seed"), COUNT, habits=habits, **setting)
    report = match(world.movements, world.rows, world.coverage)
    return world, report, scored(world, report)


class TestFloor:
    def test_what_is_matched_without_asking_is_right(self, judged: tuple[Planted, Report, Score]) -> None:
        _, _, score = judged
        assert score.sure_up_to_twins >= 0.999
        assert score.sure_precision >= 0.997
        assert score.sure_share >= 0.91

    def test_nearly_all_pairs_are_found_and_true(self, judged: tuple[Planted, Report, Score]) -> None:
        _, _, score = judged
        assert score.f1_up_to_twins >= 0.995
        assert score.f1 >= 0.99

    def test_faults_are_told_and_called_by_their_name(self, judged: tuple[Planted, Report, Score]) -> None:
        _, _, score = judged
        assert score.faults_told >= 0.99
        shares = {name: each.recall for name, each in score.classes.items() if each.planted >= 10}
        assert {} == {name: share for name, share in shares.items() if share < FOUND[name]}

    def test_the_proof_leaves_nothing_unexplained(self, judged: tuple[Planted, Report, Score]) -> None:
        _, report, score = judged
        assert 0 == score.residual
        assert () == tuple(each.breaks for each in report.proof if each.breaks)

    def test_no_order_of_the_input_changes_the_report(self, judged: tuple[Planted, Report, Score]) -> None:
        world, report, _ = judged
        chance = random.Random(7)  # noqa: S311  (repeatable, not secret)
        movements, rows = list(world.movements), list(world.rows)
        chance.shuffle(movements)
        chance.shuffle(rows)

        assert report == match(movements, rows, world.coverage)


class TestHabits:
    """A vendor that writes otherwise: the same weights, which learn from clear pairs."""

    @pytest.mark.parametrize(
        ("habits", "least"),
        [
            pytest.param(Habits(zone_hours=9), 0.999, id="a clock in the east"),
            pytest.param(Habits(drifting=1_500), 0.998, id="days drift"),
            pytest.param(Habits(cited=0), 0.998, id="no references"),
            pytest.param(Habits(noted=False), 0.998, id="no notes"),
            pytest.param(Habits(typed=2, left_empty=4_000), 0.998, id="notes mangled twice or empty"),
            pytest.param(Habits(faults=3), 0.996, id="three times the faults"),
        ],
    )
    def test_what_is_matched_without_asking_stays_right(self, habits: Habits, least: float) -> None:
        world = planted(411, 2_000, shops=40, days=18, habits=habits)

        score = scored(world, match(world.movements, world.rows, world.coverage))

        print(habits, replace(score, classes={}))  # noqa: T201  (shown when the floor is missed)
        assert score.sure_up_to_twins >= least
        assert 0 == score.residual
