"""The proof day by day, the first row at which balances part, what is left unexplained, and the order of a day's rows.

Own cases; the pandas sums are an outside reference (pandas.DataFrame.groupby)."""

import random
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pandas as pd  # type: ignore[import-untyped]
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.matching import AccountProof, Sums, match
from pool_api.domain.matching.trail import in_order, trail_of
from pool_api.domain.record import MovementKind, RowFacts, VendorRow
from tests.domain.exports import ALDER, BIRCH, OCTOBER, REFUND, moved, on, shown
from tests.domain.test_proof import MONTH, ONLY_ALDER, balanced, proof_of, shown_month


def told(sums: Sums) -> tuple[int | None, ...]:
    return sums.opening, sums.bought, sums.came_in, sums.went_out, sums.used, sums.refunded, sums.closing


def one_way(
    inward: bool, quantity: int, day: date, *, other: bool = False, kind: MovementKind | None = None
) -> list[RowFacts]:
    """Show credits that alder got or gave away, to birch or to nobody."""
    party = BIRCH if other else None
    giver, receiver = (party, ALDER) if inward else (ALDER, party)
    return shown(giver, receiver, quantity, day, kind=kind)


class TestByDay:
    def test_each_day_opens_as_the_one_before_closed_on_both_sides(self) -> None:
        proof, _ = proof_of(balanced(100, *shown_month()), held=100)

        assert [
            (on(2), (100, 500, 0, 0, 0, 0, 600)),
            (on(5), (600, 0, 0, 60, 0, 0, 540)),
            (on(9), (540, 0, 0, 0, 40, 0, 500)),
            (on(12), (500, 0, 25, 0, 0, 0, 525)),
            (on(15), (525, 0, 0, 0, 0, 40, 565)),
        ] == [(each.day, told(each.record)) for each in proof.days]
        assert all(each.journal == each.record for each in proof.days)
        assert {0} == {each.apart for each in proof.days}

    def test_what_one_side_lacks_keeps_them_apart_from_that_day_on(self) -> None:
        journal = [each for each in MONTH if each.entry != 2]

        proof, _ = proof_of(balanced(100, *shown_month()), held=100, movements=journal)

        assert [0, -60, -60, -60, -60] == [each.apart for each in proof.days]

    def test_a_matched_movement_counts_on_the_vendors_day(self) -> None:
        late = [replace(each, day=on(6)) if each.entry == 2 else each for each in MONTH]

        proof, _ = proof_of(balanced(0, *shown_month()), movements=late)

        assert [on(2), on(5), on(9), on(12), on(15)] == [each.day for each in proof.days]
        assert {0} == {each.apart for each in proof.days}

    def test_without_balances_the_days_tell_what_moved_and_not_what_is_there(self) -> None:
        rows = [replace(row, balance=None) for row in balanced(0, *shown_month())]

        proof, _ = proof_of(rows)

        assert {None} == {each.apart for each in proof.days}
        assert [500, 0, 0, 0, 0] == [each.record.bought for each in proof.days]

    @given(st.integers(0, 500), st.integers(0, 10_000))
    def test_days_add_up_to_what_a_data_frame_gives(self, count: int, seed: int) -> None:
        chance = random.Random(seed)  # noqa: S311  (repeatable, not secret)
        seen = [
            one_way(chance.random() < 0.5, chance.randint(1, 9), on(chance.randint(1, 31)), other=chance.random() < 0.5)
            for _ in range(count)
        ]
        rows = balanced(5_000, *sorted(seen, key=lambda each: each[0].day))
        proof, _ = proof_of(rows, movements=[])

        frame = pd.DataFrame([(row.day, row.signed) for row in rows], columns=["day", "credits"])
        expected = {day: int(credits) for day, credits in frame.groupby("day")["credits"].sum().items()}
        assert expected == {each.day: each.record.change for each in proof.days}
        assert [each.record.closing for each in proof.days[:-1]] == [each.record.opening for each in proof.days[1:]]
        assert proof.days == () or proof.days[-1].record.closing == proof.record.closing == proof.stated


class TestFirstRow:
    def test_the_first_row_that_the_journal_lacks_is_named_wherever_the_file_lists_it(self) -> None:
        seen = [shown(ALDER, None, quantity, on(5)) for quantity in (5, 9, 30, 1)]
        rows = balanced(100, *seen)
        shuffled = [replace(row, line=line) for row, line in zip(rows, (5, 3, 2, 4), strict=True)]
        journal = [moved(at, ALDER, None, quantity, on(5)) for at, quantity in enumerate((5, 30), start=1)]

        proof, _ = proof_of(shuffled, held=100, movements=journal)

        assert proof.parting is not None
        assert (on(5), rows[1].identity) == (proof.parting.day, proof.parting.row)

    def test_no_row_is_named_where_only_the_journal_has_something(self) -> None:
        journal = [*MONTH, moved(9, ALDER, BIRCH, 33, on(9))]

        proof, _ = proof_of(balanced(100, *shown_month()), held=100, movements=journal)

        assert proof.parting is not None
        assert (on(9), None) == (proof.parting.day, proof.parting.row)


class TestBridge:
    def test_journal_closing_and_all_findings_make_the_records_closing(self) -> None:
        journal = [*(each for each in MONTH if each.entry != 2), moved(9, ALDER, BIRCH, 33, on(9))]

        proof, _ = proof_of(balanced(80, *shown_month()), held=100, movements=journal)

        assert bridged(proof) == proof.record.closing == proof.stated
        assert 0 == proof.residual

    def test_a_row_that_the_record_itself_lacks_is_left_over_and_nothing_is_balanced(self) -> None:
        whole = balanced(100, *shown_month())
        journal = [each for each in MONTH if each.entry != 2]

        proof, report = proof_of([row for row in whole if row.day != on(5)], held=100, movements=journal)

        assert () == report.differences
        assert () == proof.steps
        assert (-60, whole[-1].balance) == (proof.residual, proof.stated)
        assert not proof.balanced

    def test_without_balances_nothing_is_left_over_because_nothing_is_said(self) -> None:
        proof, _ = proof_of([replace(row, balance=None) for row in balanced(0, *shown_month())])

        assert (None, None) == (proof.stated, proof.residual)

    @given(st.lists(st.tuples(st.integers(1, 9), st.integers(1, 28), st.sampled_from("jvb")), max_size=30))
    def test_the_bridge_always_closes(self, steps: list[tuple[int, int, str]]) -> None:
        steps.sort(key=lambda step: step[1])
        journal = [
            moved(at, ALDER, BIRCH, quantity, on(day))
            for at, (quantity, day, where) in enumerate(steps, start=1)
            if where in "jb"
        ]
        rows = balanced(700, *[shown(ALDER, BIRCH, q, on(day)) for q, day, where in steps if where in "vb"])

        (proof,) = match(journal, rows, ONLY_ALDER, openings={ALDER: 700}).proof

        if rows:
            assert bridged(proof) == proof.record.closing == rows[-1].balance
            assert 0 == proof.residual


def bridged(proof: AccountProof) -> int:
    opened_apart = (proof.record.opening or 0) - (proof.journal.opening or 0)
    return (proof.journal.closing or 0) + opened_apart + sum(step.credits for step in proof.steps)


def follows(rows: list[VendorRow]) -> bool:
    return all(one.balance == (other.balance or 0) - other.signed for one, other in pairwise(rows))


class TestOrderOfADay:
    @given(
        st.integers(0, 50),
        st.lists(st.tuples(st.integers(1, 6), st.booleans()), min_size=1, max_size=40),
        st.randoms(use_true_random=False),
    )
    def test_a_whole_day_is_put_into_an_order_in_which_every_balance_follows(
        self, opening: int, steps: list[tuple[int, bool]], chance: random.Random
    ) -> None:
        seen = [one_way(inward, quantity, on(5)) for quantity, inward in steps]
        rows = balanced(opening, *seen)
        lines = list(range(len(rows)))
        chance.shuffle(lines)

        ordered = in_order(replace(row, line=line) for row, line in zip(rows, lines, strict=True))

        assert sorted(row.identity for row in rows) == sorted(row.identity for row in ordered)
        assert follows(ordered)

    def test_behind_a_gap_the_order_goes_on(self) -> None:
        rows = balanced(100, *[shown(ALDER, None, quantity, on(5)) for quantity in (5, 9, 30, 1)])
        left = [rows[3], rows[0], rows[2]]

        ordered = in_order(replace(row, line=line) for line, row in enumerate(left))

        assert {rows[0].identity, rows[2].identity, rows[3].identity} == {row.identity for row in ordered}
        assert follows([row for row in ordered if row.identity != rows[0].identity])

    def test_without_balances_the_files_lines_decide(self) -> None:
        rows = [replace(row, balance=None, line=9 - row.line) for row in balanced(100, *shown_month()[:3])]

        assert [row.line for row in in_order(rows)] == sorted(row.line for row in rows)

    def test_of_many_shuffled_rows_one_removed_is_found_with_its_amount(self) -> None:
        chance = random.Random(3)  # noqa: S311  (repeatable, not secret)
        days = [OCTOBER[0] + timedelta(days=at // 4_000) for at in range(20_000)]
        sizes = [chance.randint(1, 30) for _ in days]
        seen = [
            one_way(at % 2 == 1, size, day, kind=REFUND if at % 2 else None)
            for at, (size, day) in enumerate(zip(sizes, days, strict=True))
        ]
        rows = balanced(1_000_000, *seen)
        lines = list(range(len(rows)))
        chance.shuffle(lines)
        mixed = [replace(row, line=line) for row, line in zip(rows, lines, strict=True)]

        for gone in (9_234, 11_234, 12_345, 15_001):
            trail = trail_of(mixed[:gone] + mixed[gone + 1 :])

            assert [(days[gone], rows[gone].signed)] == [(each.day, each.missing) for each in trail.breaks]
            assert (1_000_000, rows[-1].balance) == (trail.opening, trail.closing)
