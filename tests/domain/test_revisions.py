"""Rows that later files show otherwise or no longer: told, kept, and counted once. Own rules (decision 42)."""

import random
from dataclasses import replace
from functools import reduce
from operator import or_

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.record import RowFacts
from pool_api.domain.revisions import Change, Says
from tests.domain.shelf import FIRST, Shelf, running, said_by, sent, used


def told(said: tuple[Change, ...]) -> list[tuple[str, int, int | None, tuple[str, ...]]]:
    return [(e.says.value, e.earlier.quantity, e.later.quantity if e.later else None, e.fields) for e in said]


def quantities(shelf: Shelf) -> list[int]:
    return sorted(row.quantity for name, row in shelf.rows.items() if name not in shelf.standing.left_out)


class TestPairing:
    def test_a_row_that_differs_in_one_thing_is_the_earlier_one_changed(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5, "one"), used(3, 8, "two"), sent(4, 6, "birch")])

        said = shelf.take([used(3, 7, "one"), used(3, 8, "two"), sent(4, 6, "cedar")])

        assert [("changed", 5, 7, ("quantity",)), ("changed", 6, 6, ("receiver",))] == told(said)

    def test_rows_of_different_days_or_different_in_much_are_no_pair(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5, "one"), used(5, 9)])

        said = shelf.take([used(3, 7, "three"), used(6, 9)])

        assert [("gone", 5, None, ()), ("gone", 9, None, ())] == told(said)

    def test_a_common_reference_ties_rows_that_differ_in_more(self) -> None:
        shelf = Shelf()
        shelf.take([sent(3, 5, "birch", "one", "R-1"), sent(3, 6, "birch", "two", "R-2")])

        said = shelf.take([sent(3, 9, "cedar", "three", "R-1"), sent(3, 9, "cedar", "three", "R-3")])

        assert [("changed", 5, 9, ("receiver", "quantity", "note")), ("gone", 6, None, ())] == sorted(told(said))

    def test_of_equal_rows_as_many_are_gone_as_are_missing(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5)] * 4)

        said = shelf.take([used(3, 5), used(3, 5), used(3, 6)])

        assert [("changed", 5, 6, ("quantity",)), ("gone", 5, None, ())] == sorted(told(said))

    def test_a_direction_turned_round_is_a_change(self) -> None:
        shelf, there = Shelf(), sent(3, 5, "birch")
        shelf.take([there])

        said = shelf.take([replace(there, giver="birch", receiver="alder")])

        assert [("changed", 5, 5, ("giver", "receiver"))] == told(said)


class TestWhatCounts:
    def test_a_changed_row_counts_until_the_later_word_is_taken_and_the_later_row_waits(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5), used(4, 8)])
        shelf.take([used(3, 7), used(4, 8)])

        assert [5, 8] == quantities(shelf)
        (revision,) = shelf.standing.open
        assert (5, 7, "00000002") == (
            revision.earlier.quantity,
            revision.later and revision.later.quantity,
            revision.import_id,
        )

        shelf.accept()

        assert [7, 8] == quantities(shelf)
        assert () == shelf.standing.open
        assert {} == shelf.standing.instead
        assert 3 == len(shelf.rows)

    def test_a_vanished_row_counts_until_the_later_word_is_taken(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5), used(4, 8)])
        shelf.take([used(4, 8)])

        assert [5, 8] == quantities(shelf)
        shelf.accept()
        assert [8] == quantities(shelf)

    def test_a_note_or_a_balance_takes_the_place_at_once(self) -> None:
        shelf = Shelf()
        shelf.take(running([used(3, 5), used(4, 8, "J-1"), used(4, 8)]))

        said = shelf.take(running([used(2, 1), used(3, 5), used(4, 8, "J-1, done"), used(4, 8)]))

        assert [Says.CHANGED] * 3 == [each.says for each in said]
        assert [1, 5, 8, 8] == quantities(shelf)
        assert () == shelf.standing.open
        stands = [each.later.identity for each in said if each.later]
        assert dict(zip([each.earlier.identity for each in said], stands, strict=True)) == shelf.standing.instead

    def test_a_row_that_changed_twice_is_decided_once_for_its_last_form(self) -> None:
        shelf = Shelf()
        for quantity in (5, 6, 7):
            shelf.take([used(3, quantity)])

        (revision,) = shelf.standing.open
        assert (5, "00000003") == (revision.earlier.quantity, revision.import_id)
        shelf.accept()
        assert [7] == quantities(shelf)

    def test_a_row_that_changed_and_changed_back_has_nothing_to_decide(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5)])
        shelf.take([used(3, 6)])
        shelf.take([used(3, 5), used(4, 1)])

        assert () == shelf.standing.open
        assert [1, 5] == quantities(shelf)

    def test_a_withdrawn_row_that_is_shown_again_counts_again(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5)])
        shelf.take([used(4, 1)])
        shelf.accept()

        said = shelf.take([used(3, 5), used(4, 1), used(5, 1)])

        assert [("back", 5, None, ())] == told(said)
        assert [1, 1, 5] == quantities(shelf)

    def test_a_row_shown_again_beside_what_it_had_become_makes_two(self) -> None:
        shelf = Shelf()
        shelf.take([used(3, 5)])
        shelf.take([used(3, 6)])
        shelf.take([used(3, 5), used(3, 6)])

        assert [5, 6] == quantities(shelf)
        assert () == shelf.standing.open

    def test_a_copy_of_an_earlier_file_says_nothing_new(self) -> None:
        shelf, first = Shelf(), [used(3, 5), used(4, 8)]
        shelf.take(first)
        shelf.take([used(3, 7), used(4, 8)])
        shelf.accept()

        assert () == shelf.take(first)
        assert [7, 8] == quantities(shelf)


EVENTS = st.lists(st.tuples(st.integers(0, 9), st.integers(1, 4), st.sampled_from(["", "J-1"])), max_size=14)
EDITS = st.lists(st.tuples(st.sampled_from("qnrad"), st.integers(0, 99), st.integers(1, 4)), max_size=8)


def edited(facts: list[RowFacts], what: str, at: int, quantity: int) -> list[RowFacts]:
    """Let the vendor change, note, take away or add a row."""
    if what == "a" or not facts:
        return [*facts, used(at % 10, quantity)]
    place = at % len(facts)
    if what == "r":
        return facts[:place] + facts[place + 1 :]
    new = {"q": {"quantity": quantity}, "n": {"note": f"J-{quantity}"}, "d": {"day": used(at % 10, 1).day}}[what]
    return [*facts[:place], replace(facts[place], **new), *facts[place + 1 :]]  # type: ignore[arg-type]


@given(EVENTS, EDITS, st.booleans(), st.integers(0, 10_000))
def test_whatever_the_vendor_changes_the_later_words_taken_give_what_it_shows_last(
    events: list[tuple[int, int, str]], edits: list[tuple[str, int, int]], balances: bool, seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
    facts = [used(*each) for each in events]
    shelf = Shelf()
    for step in range(len(edits) + 1):
        facts.sort(key=lambda row: row.day)
        grown = [*facts, *[used(20, 1)] * step]  # no export is a copy of an earlier one
        file = running(grown) if balances else grown
        chance.shuffle(file)
        shelf.take(file)
        if chance.random() < 0.5:
            shelf.accept(*shelf.standing.open[: chance.randint(0, 3)])
        if step < len(edits):
            facts = edited(facts, *edits[step])
    shelf.accept()

    assert said_by(file) == shelf.counting()
    assert () == shelf.standing.open


@given(EVENTS, EDITS)
def test_nothing_on_file_is_lost_and_copies_of_files_change_nothing(
    events: list[tuple[int, int, str]], edits: list[tuple[str, int, int]]
) -> None:
    facts, files = [used(*each) for each in events], []
    for edit in [None, *edits]:
        facts = facts if edit is None else edited(facts, *edit)
        files.append(list(facts))
    once, again = Shelf(), Shelf()
    for place, file in enumerate(files):
        once.take(file)
        again.take(file)
        rows = dict(again.rows)
        for copy in files[: place + 1]:
            again.take(copy)
        assert rows == again.rows

    shown = reduce(or_, (said_by(file) for file in files))
    assert shown == said_by(once.rows.values())
    assert once.rows.keys() == again.rows.keys()
    assert once.standing.left_out == again.standing.left_out


@given(st.permutations(range(9)), st.lists(st.integers(0, 8), max_size=4), st.integers(0, 1_000))
def test_nine_overlapping_files_in_any_order_with_repeats_make_one_record(
    order: list[int], repeats: list[int], seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
    truth = [used(chance.randint(0, 29), chance.randint(1, 3), chance.choice(["", "J-1"])) for _ in range(60)]
    truth += [used(7, 2)] * 30
    spans = [(start, min(start + 6, 29)) for start in range(0, 27, 3)]
    shelf = Shelf()
    for place in [*order, *repeats]:
        first, last = spans[place]
        file = [row for row in truth if first <= (row.day - FIRST).days <= last]
        random.Random(seed + place).shuffle(file)  # noqa: S311  (repeatable, not secret)
        assert () == shelf.take(file, first, last)

    assert said_by(truth) == shelf.counting()
