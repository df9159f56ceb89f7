"""The record on file as a set of named rows: files join in any order, any number of times, and nothing doubles."""

import random
from collections import Counter
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.record import VendorRow, compare, numbered, whole_days
from tests.domain.shelf import FIRST, file_of, used

HISTORY = st.lists(st.tuples(st.integers(0, 9), st.integers(1, 2)), max_size=40)
SPANS = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=6)


@given(HISTORY, SPANS, st.integers(0, 1000))
def test_overlapping_files_in_any_order_give_what_happened(
    history: list[tuple[int, int]], spans: list[tuple[int, int]], seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
    facts = [used(day, quantity) for day, quantity in history]
    covered = {
        FIRST + timedelta(days=day) for one, other in spans for day in range(min(one, other), max(one, other) + 1)
    }
    files = []
    for one, other in [*spans, spans[0]]:
        first, last = FIRST + timedelta(days=min(one, other)), FIRST + timedelta(days=max(one, other))
        files.append([each for each in facts if first <= each.day <= last])
        chance.shuffle(files[-1])

    on_file: dict[str, VendorRow] = {}
    for each in files:
        arrival = compare(on_file.values(), file_of(each), whole_days(file_of(each), None, None))
        on_file.update({row.identity: row for row in arrival.new})
        assert () == arrival.vanished

    happened = Counter((each.day, each.quantity) for each in facts if each.day in covered)
    assert happened == Counter((row.day, row.quantity) for row in on_file.values())


def test_rows_that_really_occur_twice_stay_two() -> None:
    rows = numbered([(2, used(0, 5)), (3, used(0, 5)), (4, used(0, 6))])

    assert [1, 2, 1] == [row.occurrence for row in rows]
    assert 3 == len({row.identity for row in rows})


def test_a_row_that_the_vendor_has_taken_away_is_found() -> None:
    before = file_of([used(0, 1), used(1, 5), used(1, 5), used(2, 1)])
    after = file_of([used(0, 1), used(1, 5), used(2, 1)])

    arrival = compare(before.rows, after, whole_days(after, None, None))

    assert [(before.rows[2].identity, 2)] == [(row.identity, row.occurrence) for row in arrival.vanished]


def test_a_file_says_nothing_of_days_at_its_ends_and_beyond() -> None:
    before, after = file_of([used(0, 5), used(3, 5), used(9, 5)]), file_of([used(0, 1), used(3, 1)])

    assert () == compare(before.rows, after, whole_days(after, None, None)).vanished


def test_a_file_that_is_said_to_cover_days_speaks_of_them_as_a_whole() -> None:
    before, after = file_of([used(0, 5), used(3, 5), used(9, 5)]), file_of([used(1, 1)])
    stated = whole_days(after, FIRST, FIRST + timedelta(days=3))

    assert [0, 3] == [(row.day - FIRST).days for row in compare(before.rows, after, stated).vanished]
    assert None is whole_days(file_of([]), None, None)
    assert None is whole_days(after, None, None)


@given(st.integers(1, 10**9), st.integers(1, 10**9))
def test_any_change_makes_another_row(one: int, other: int) -> None:
    (first,), (second,) = numbered([(2, used(0, one))]), numbered([(9, used(0, other))])

    assert (one == other) == (first.identity == second.identity)
