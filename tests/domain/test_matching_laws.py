"""Matching, law by law: the order of rows, everything in one place, the proof's arithmetic, and planted truth."""

import random
from collections import Counter
from dataclasses import asdict, replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.matching import (
    SAID_OF_MATCHES,
    Difference,
    DifferenceKind,
    Match,
    Movement,
    Pin,
    Report,
    Status,
    match,
    pairing,
)
from pool_api.domain.matching.splits import MOST_PARTS
from tests.bench.planted import planted
from tests.domain.exports import ALDER, BIRCH, COVERED, compared, moved, on, rows_of, shown, taken_back

SEEDS = st.integers(0, 10_000)


def some_taken_back(seed: int) -> list[Movement]:
    """Plant sixty transfers and take some of them back, wholly or in part."""
    chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
    movements = planted(seed, 60, shops=4, days=10).movements
    for movement in chance.sample(movements, 6):
        quantity = chance.choice((movement.quantity, max(1, movement.quantity // 2)))
        movements.append(taken_back(len(movements) + 1, movement, quantity))
    return movements


def reported(seed: int) -> Report:
    """Match a small, dense, faulty network with reversals."""
    world = planted(seed, 60, shops=4, days=10)
    return match(some_taken_back(seed), world.rows, world.coverage)


class TestOrder:
    @given(SEEDS)
    @settings(max_examples=40)
    def test_no_order_of_the_input_changes_anything(self, seed: int) -> None:
        world, movements = planted(seed, 60, shops=4, days=10), some_taken_back(seed)
        pins = [Pin(entries=(1,), rows=(world.rows[0].identity,), together=False)]
        expected = match(movements, world.rows, world.coverage, pins=pins)
        chance = random.Random(seed + 1)  # noqa: S311  (repeatable, not secret)
        rows, handles = list(world.rows), list(world.coverage)
        chance.shuffle(movements)
        chance.shuffle(rows)
        chance.shuffle(handles)

        found = match(movements, rows, {handle: world.coverage[handle] for handle in handles}, pins=pins)

        assert expected == found

    def test_rows_that_only_their_names_tell_apart_keep_their_order(self) -> None:
        """Own case."""
        movements = [moved(entry, ALDER, BIRCH, 10, on(5), "van") for entry in (4, 1, 3, 2)]
        rows = rows_of(*[shown(ALDER, BIRCH, 10, on(5), "van", of=[ALDER]) for _ in range(3)])

        report = match(movements, rows, {**COVERED, BIRCH: []})

        occurrences = {row.identity: row.occurrence for row in rows}
        matched = sorted((each.entries[0], *(occurrences[row] for row in each.rows)) for each in report.matches)
        assert [(1, 1), (2, 2), (3, 3)] == matched
        assert [DifferenceKind.DUPLICATE] == [each.kind for each in report.differences]


class TestCompleteness:
    @given(SEEDS)
    @settings(max_examples=40)
    def test_every_entry_and_every_row_is_told_of_exactly_once(self, seed: int) -> None:
        world, movements = planted(seed, 60, shops=4, days=10), some_taken_back(seed)

        report = match(movements, world.rows, world.coverage)

        matched = {row for each in report.matches for row in each.rows}
        findings: list[Match | Difference] = [
            *report.matches,
            *(d for d in report.differences if d.kind not in SAID_OF_MATCHES or not matched.issuperset(d.rows)),
        ]
        entries = Counter(entry for each in findings for entry in each.entries)
        entries.update(report.cancelled)
        entries.update(report.uncovered)
        assert Counter(movement.entry for movement in movements) == entries
        assert Counter(row.identity for row in world.rows) == Counter(row for each in findings for row in each.rows)

    @given(SEEDS)
    @settings(max_examples=20)
    def test_keys_are_unique(self, seed: int) -> None:
        report = reported(seed)

        keys = [each.key for each in report.matches] + [each.key for each in report.differences]
        assert len(keys) == len(set(keys))

    def test_a_report_holds_plain_values_only(self) -> None:
        def leaves(value: Any) -> set[type]:
            if isinstance(value, dict):
                return set().union(*map(leaves, value.values()))
            return set().union(*map(leaves, value)) if isinstance(value, list | tuple) else {type(value)}

        report = reported(3)
        found = {each.__name__ for each in leaves(asdict(replace(report, matches=tuple(report.matches))))}

        assert {"int", "str", "date", "Status", "DifferenceKind", "MendKind", "NoneType"} == found


class TestProof:
    @given(SEEDS)
    @settings(max_examples=40)
    def test_the_steps_lead_from_the_journal_to_the_record(self, seed: int) -> None:
        report = reported(seed)

        for proof in report.proof:
            assert proof.record.change == proof.journal.change + sum(step.credits for step in proof.steps)

    @given(SEEDS)
    @settings(max_examples=20)
    def test_journals_movements_add_up_over_the_pool(self, seed: int) -> None:
        report = reported(seed)

        assert sum(each.journal.came_in for each in report.proof) == sum(each.journal.went_out for each in report.proof)


class TestSplits:
    """Own cases."""

    @pytest.mark.parametrize("count", range(2, MOST_PARTS + 1))
    def test_up_to_four_parts_of_a_day_are_found(self, count: int) -> None:
        parts = [11, 17, 23, 29][:count]

        report = compared(
            [moved(1, ALDER, BIRCH, sum(parts), on(5))], *(shown(ALDER, BIRCH, part, on(5)) for part in parts)
        )

        assert [(1,)] == [each.entries for each in report.matches if len(each.rows) == 2 * count]

    def test_five_parts_are_not(self) -> None:
        parts = [11, 17, 23, 29, 31]

        report = compared(
            [moved(1, ALDER, BIRCH, sum(parts), on(5))], *(shown(ALDER, BIRCH, part, on(5)) for part in parts)
        )

        assert () == report.matches

    def test_parts_beyond_the_window_are_not_claimed(self) -> None:
        report = compared(
            [moved(1, ALDER, BIRCH, 60, on(5))], shown(ALDER, BIRCH, 36, on(5)), shown(ALDER, BIRCH, 24, on(13))
        )

        assert () == report.matches

    def test_a_pair_is_never_given_up_for_a_split(self) -> None:
        report = compared(
            [moved(1, ALDER, BIRCH, 60, on(5)), moved(2, ALDER, BIRCH, 36, on(9))],
            shown(ALDER, BIRCH, 36, on(5)),
            shown(ALDER, BIRCH, 24, on(5)),
        )

        assert [(2,)] == [each.entries for each in report.matches]

    def test_one_reference_speaks_for_a_split(self) -> None:
        report = compared(
            [moved(1, ALDER, BIRCH, 60, on(5), reference="T")],
            shown(ALDER, BIRCH, 36, on(8), reference="T"),
            shown(ALDER, BIRCH, 24, on(9), reference="T"),
        )

        assert [True] == ["reference" in {part.name for part in each.parts} for each in report.matches]

    @pytest.mark.parametrize("wholes", [2, 3, 4])
    def test_many_splits_that_want_the_same_rows_share_none(self, wholes: int) -> None:
        movements = [moved(1 + at, ALDER, BIRCH, 20, on(5)) for at in range(wholes)]
        rows = rows_of(*[shown(ALDER, BIRCH, 10, on(5), of=[ALDER]) for _ in range(2 * wholes)])

        report = match(movements, rows, {**COVERED, BIRCH: []})

        used = [row for each in report.matches for row in each.rows]
        assert (wholes, 2 * wholes) == (len(report.matches), len(set(used)))
        assert () == report.differences


class TestLimits:
    """Own cases."""

    def test_too_many_deviating_rows_are_compared_within_fewer_days_and_it_is_said(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(pairing, "MOST_DEVIATING", 5)
        movements = [moved(1 + at, ALDER, BIRCH, 10 + at, on(5)) for at in range(3)]
        seen = [shown(ALDER, BIRCH, 100 + 7 * at, on(5 + at)) for at in range(3)]

        report = compared(movements, *seen)

        said = "Rows with another quantity were compared up to 0 days apart only: they are many."
        assert (said,) == report.limits

    def test_rows_too_many_even_so_are_not_compared(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(pairing, "MOST_DEVIATING", 0)

        report = compared([moved(1, ALDER, BIRCH, 10, on(5))], shown(ALDER, BIRCH, 100, on(5)))

        assert ("Rows with another quantity were not compared: they are too many.",) == report.limits


class TestManyRows:
    def test_a_hundred_times_the_same_transfer_every_day_is_paired_by_days(self) -> None:
        """Own case."""
        movements = [moved(1 + at, ALDER, BIRCH, 10, on(1 + at % 20)) for at in range(2_000)]
        rows = rows_of(*[shown(ALDER, BIRCH, 10, on(1 + at % 20), of=[ALDER]) for at in range(2_000)])

        report = match(movements, rows, {**COVERED, BIRCH: []})

        assert {0} == {each.days_apart for each in report.matches}
        assert 2_000 == sum(each.status is Status.MATCHED for each in report.matches)
        assert "2000 equal entries and 2000 equal rows were paired by their days alone." in report.limits

    def test_matches_stay_when_more_is_imported(self) -> None:
        world = planted(21, 400, shops=6, days=60)
        half = [row for row in world.rows if row.day.toordinal() % 60 < 40]

        before = match(world.movements, half, world.coverage)
        after = match(world.movements, world.rows, world.coverage)

        def sure(report: Report) -> set[tuple[int, ...]]:
            return {each.entries for each in report.matches if _is_sure(each)}

        assert len(sure(before) - sure(after)) <= len(sure(before)) // 100


def _is_sure(found: Match) -> bool:
    return found.status is Status.MATCHED


def test_a_row_that_is_there_once_more_is_reported_once_more() -> None:
    """Own case."""
    movements = [moved(1, ALDER, BIRCH, 10, on(5))]
    rows = rows_of(shown(ALDER, BIRCH, 10, on(5), of=[ALDER]), shown(ALDER, BIRCH, 10, on(5), of=[ALDER]))

    report = match(movements, [*rows, replace(rows[0], occurrence=3)], {**COVERED, BIRCH: []})

    assert 2 == len(report.differences)
