"""What is decided stays: pins come before everything, whatever is imported later, in whatever order it is given."""

import random
from collections.abc import Iterable

from hypothesis import given, settings
from hypothesis import strategies as st

from pool_api.domain.matching import Match, Movement, Pin, Report, Status, match
from pool_api.domain.record import VendorRow
from tests.bench.planted import FIRST, Habits, Planted, planted
from tests.domain.exports import ALDER, BIRCH, COVERED, moved, on, rows_of, shown, taken_back

SEEDS = st.integers(0, 10_000)


def dense(seed: int) -> Planted:
    """Plant a small network with many equal movements and three times the faults."""
    return planted(seed, 80, shops=4, days=10, habits=Habits(faults=3))


def pinned(matches: Iterable[Match]) -> list[Pin]:
    """Make the decisions that confirm matches."""
    return [Pin(entries=each.entries, rows=each.rows) for each in matches]


def moved_pins(pins: Iterable[Pin], report: Report) -> list[Pin]:
    """Give the pins that no match of a report holds: exactly those entries, and at least those rows."""
    rows_of_entries = {frozenset(each.entries): frozenset(each.rows) for each in report.matches}
    return [pin for pin in pins if not rows_of_entries.get(frozenset(pin.entries), frozenset()) >= frozenset(pin.rows)]


def known_by(world: Planted, last: int) -> tuple[list[Movement], list[VendorRow]]:
    """Give what journal and record say up to a day."""
    day = FIRST.toordinal() + last
    movements = [each for each in world.movements if each.day.toordinal() <= day]
    return movements, [row for row in world.rows if row.day.toordinal() <= day]


class TestPinsStay:
    @given(SEEDS, st.integers(2, 9))
    @settings(max_examples=40)
    def test_what_was_matched_stays_when_later_rows_and_entries_arrive(self, seed: int, last: int) -> None:
        world = dense(seed)
        before = match(*known_by(world, last), world.coverage)
        pins = pinned(before.matches)

        after = match(world.movements, world.rows, world.coverage, pins=pins)

        assert [] == moved_pins(pins, after)
        assert () == after.broken_pins

    @given(SEEDS)
    @settings(max_examples=40)
    def test_what_was_matched_stays_when_the_other_records_arrive(self, seed: int) -> None:
        world = dense(seed)
        handed_in = sorted(world.coverage)[:2]
        first = [row for row in world.rows if row.account in handed_in]
        coverage = {account: days if account in handed_in else [] for account, days in world.coverage.items()}
        before = match(world.movements, first, coverage)
        # a row of a receiver's record can stand for a transfer of which the sender's record shows none, and be told
        # apart from it only when that one arrives; so what two rows of different transfers share is left open
        pins = pinned(each for each in before.matches if each.status is Status.MATCHED)

        after = match(world.movements, world.rows, world.coverage, pins=pins)

        assert [] == moved_pins(pins, after)
        assert () == after.broken_pins

    @given(SEEDS)
    @settings(max_examples=40)
    def test_any_choice_stays_however_unlikely(self, seed: int) -> None:
        """Pin random entries to random movements of the vendor's."""
        world = dense(seed)
        found = match(world.movements, world.rows, world.coverage)
        chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
        whole = [each for each in found.matches if len(each.rows) == 2 and len(each.entries) == 1]
        entries = [each.entries for each in whole]
        chance.shuffle(entries)
        pins = [Pin(entries=each, rows=one.rows) for each, one in zip(entries, whole, strict=True)][::2]

        after = match(world.movements, world.rows, world.coverage, pins=pins)

        assert [] == moved_pins(pins, after)
        assert () == after.broken_pins

    @given(SEEDS)
    @settings(max_examples=40)
    def test_the_order_of_pins_changes_nothing(self, seed: int) -> None:
        world = dense(seed)
        pins = pinned(match(world.movements, world.rows, world.coverage).matches)[::2]
        pins += [Pin(entries=(1,), rows=(world.rows[0].identity,), together=False)]
        expected = match(world.movements, world.rows, world.coverage, pins=pins)
        random.Random(seed).shuffle(pins)  # noqa: S311  (repeatable, not secret)

        assert expected == match(world.movements, world.rows, world.coverage, pins=pins)

    @given(SEEDS)
    @settings(max_examples=20)
    def test_pinning_all_that_was_found_changes_no_match(self, seed: int) -> None:
        world = dense(seed)
        found = match(world.movements, world.rows, world.coverage)

        again = match(world.movements, world.rows, world.coverage, pins=pinned(found.matches))

        assert [each.entries for each in found.matches] == [each.entries for each in again.matches]
        assert [each.rows for each in found.matches] == [each.rows for each in again.matches]
        assert found.differences == again.differences
        assert found.proof == again.proof


class TestPinsBreak:
    """Own cases."""

    def test_two_pins_that_want_one_row_are_one_too_many(self) -> None:
        rows = rows_of(shown(ALDER, BIRCH, 10, on(5)))
        movements = [moved(1, ALDER, BIRCH, 10, on(5)), moved(2, ALDER, BIRCH, 10, on(5))]
        pins = [Pin(entries=(entry,), rows=(rows[0].identity,)) for entry in (2, 1)]

        report = match(movements, rows, COVERED, pins=pins)

        assert (pins[0],) == report.broken_pins
        assert [(1,)] == [each.entries for each in report.matches]

    def test_a_pin_is_broken_when_one_of_its_rows_is_gone_and_holds_none_of_the_others(self) -> None:
        rows = rows_of(shown(ALDER, BIRCH, 36, on(5)), shown(ALDER, BIRCH, 24, on(5)))
        whole = Pin(entries=(1,), rows=tuple(row.identity for row in rows))

        report = match([moved(1, ALDER, BIRCH, 60, on(5))], rows[1:], COVERED, pins=[whole])

        assert (whole,) == report.broken_pins
        assert all("decision" not in {part.name for part in each.parts} for each in report.matches)

    def test_equal_rows_of_both_records_stay_together_as_they_were_decided(self) -> None:
        """Without the decision the first row of one record goes with the first of the other."""
        rows = rows_of(*[shown(ALDER, BIRCH, 10, on(5), "van")] * 2)
        sent = [row.identity for row in rows if row.account == ALDER]
        received = [row.identity for row in rows if row.account == BIRCH]
        movements = [moved(entry, ALDER, BIRCH, 10, on(5), "van") for entry in (1, 2)]
        crossed = (sent[0], received[1])

        report = match(movements, rows, COVERED, pins=[Pin(entries=(2,), rows=crossed)])

        assert {(1,): (sent[1], received[0]), (2,): crossed} == {each.entries: each.rows for each in report.matches}
        assert () == report.differences

    def test_a_pinned_entry_goes_before_the_reversals_counted_into_it(self) -> None:
        loan = moved(1, BIRCH, ALDER, 60, on(5))
        movements = [loan, taken_back(2, loan, 20)]
        rows = rows_of(shown(BIRCH, ALDER, 40, on(5)))
        (found,) = match(movements, rows, COVERED).matches

        (again,) = match(movements, rows, COVERED, pins=pinned([found])).matches

        assert ((1, 2), 0) == (again.entries, again.days_apart)
