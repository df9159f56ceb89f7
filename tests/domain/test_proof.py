"""The proof of the balances: sums side by side, steps from one to the other, where they part, and what balances say.

Own cases."""

from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.matching import AccountProof, Break, DifferenceKind, Movement, Report, match
from pool_api.domain.matching.trail import trail_of
from pool_api.domain.record import RowFacts, VendorRow, numbered
from tests.domain.exports import ALDER, BIRCH, COVERED, OCTOBER, REFUND, moved, on, only, rows_of, shown

ONLY_ALDER = {**dict.fromkeys(COVERED, ()), ALDER: [OCTOBER]}
MONTH = [
    moved(1, None, ALDER, 500, on(2)),
    moved(2, ALDER, BIRCH, 60, on(5)),
    moved(3, ALDER, None, 40, on(9)),
    moved(4, BIRCH, ALDER, 25, on(12)),
    moved(5, None, ALDER, 40, on(15), kind=REFUND, reverses=3),
]


def balanced(opening: int, *seen: list[RowFacts]) -> list[VendorRow]:
    """Number alder's rows in file order, each with the running balance behind it."""
    rows, balance = [], opening
    for facts in (each for group in seen for each in group if each.account == ALDER):
        balance += facts.signed
        rows.append(replace(facts, balance=balance))
    return list(numbered(enumerate(rows, start=2)))


def shown_month() -> list[list[RowFacts]]:
    """Show every entry of the month."""
    return [shown(each.giver, each.receiver, each.quantity, each.day, kind=each.kind) for each in MONTH]


def proof_of(rows: list[VendorRow], *, held: int = 0, movements: list[Movement] = MONTH) -> tuple[AccountProof, Report]:
    """Prove alder's account over October."""
    report = match(movements, rows, ONLY_ALDER, openings={ALDER: held})
    (proof,) = report.proof
    return proof, report


class TestSideBySide:
    def test_opening_and_all_that_moved_make_the_closing_on_both_sides(self) -> None:
        proof, report = proof_of(balanced(100, *shown_month()), held=100)

        sides = [
            (each.opening, each.bought, each.came_in, each.went_out, each.used, each.refunded, each.closing)
            for each in (proof.journal, proof.record)
        ]
        assert [(100, 500, 25, 60, 40, 40, 565)] * 2 == sides
        assert (True, None) == (proof.balanced, proof.parting)
        assert () == report.differences

    def test_what_the_journal_lacks_is_the_step_and_where_they_part(self) -> None:
        journal = [each for each in MONTH if each.entry != 2]

        proof, report = proof_of(balanced(100, *shown_month()), held=100, movements=journal)

        missing = only(report, DifferenceKind.MISSING_IN_JOURNAL)
        assert [(missing.key, on(5), -60)] == [(step.key, step.day, step.credits) for step in proof.steps]
        assert proof.parting is not None
        assert (on(5), 600, 540, (missing.key,)) == (
            proof.parting.day,
            proof.parting.journal_balance,
            proof.parting.record_balance,
            proof.parting.keys,
        )
        assert not proof.balanced

    def test_a_matched_movement_of_another_day_parts_nothing(self) -> None:
        late = [replace(each, day=on(6)) if each.entry == 2 else each for each in MONTH]

        proof, _ = proof_of(balanced(0, *shown_month()), movements=late)

        assert proof.balanced

    def test_without_balances_the_record_has_no_opening_and_the_journal_has(self) -> None:
        proof, _ = proof_of([row for row in rows_of(*shown_month()) if row.account == ALDER], held=100)

        assert (100, 565) == (proof.journal.opening, proof.journal.closing)
        assert (None, None) == (proof.record.opening, proof.record.closing)
        assert proof.balanced

    def test_openings_that_differ_part_on_the_first_day(self) -> None:
        proof, _ = proof_of(balanced(90, *shown_month()), held=100)

        assert proof.parting is not None
        assert (OCTOBER[0], 100, 90) == (
            proof.parting.day,
            proof.parting.journal_balance,
            proof.parting.record_balance,
        )

    def test_what_moved_before_the_span_is_in_the_opening_even_if_no_record_could_show_it(self) -> None:
        early = moved(9, None, ALDER, 70, on(15, month=9))

        proof, report = proof_of(balanced(170, *shown_month()), held=100, movements=[early, *MONTH])

        assert (9,) == report.uncovered
        assert (170, True) == (proof.journal.opening, proof.balanced)

    def test_each_span_of_a_record_is_proved_by_itself(self) -> None:
        spans = {**ONLY_ALDER, ALDER: [(on(1), on(4)), (on(5), on(7)), (on(10), on(31))]}

        report = match([], [], spans)

        assert [(on(1), on(7)), (on(10), on(31))] == [(each.first, each.last) for each in report.proof]


class TestTrail:
    def test_a_row_missing_between_two_days_shows_by_its_amount(self) -> None:
        whole = balanced(100, *shown_month())

        trail = trail_of(row for row in whole if row.day != on(5))

        assert (100, (Break(day=on(9), missing=-60),)) == (trail.opening, trail.breaks)

    def test_a_row_missing_within_a_day_shows_there(self) -> None:
        seen = [shown(ALDER, None, quantity, on(5)) for quantity in (5, 9, 30, 1)]
        whole = balanced(100, shown(None, ALDER, 3, on(4)), *seen)

        trail = trail_of([*whole[:3], *whole[4:]])

        assert (Break(day=on(5), missing=-30),) == trail.breaks

    def test_a_day_that_ends_where_it_began_is_read_in_file_order(self) -> None:
        there_and_back = balanced(100, shown(ALDER, None, 5, on(5)), shown(None, ALDER, 5, on(5), kind=REFUND))

        assert (100, ()) == (trail_of(there_and_back).opening, trail_of(there_and_back).breaks)

    def test_rows_missing_before_a_day_that_ends_where_it_began_show(self) -> None:
        first = balanced(100, shown(ALDER, None, 5, on(4)))
        ring = balanced(80, shown(ALDER, None, 6, on(5)), shown(None, ALDER, 6, on(5), kind=REFUND))

        assert (Break(day=on(5), missing=None),) == trail_of([*first, *ring]).breaks

    def test_rows_without_balances_prove_nothing(self) -> None:
        trail = trail_of(rows_of(*shown_month()))

        assert (None, ()) == (trail.opening, trail.breaks)

    @given(
        st.integers(0, 300),
        st.lists(st.tuples(st.integers(1, 6), st.integers(1, 9), st.booleans()), min_size=1, max_size=30),
        st.randoms(use_true_random=False),
    )
    def test_a_complete_record_breaks_nowhere_whatever_the_order_of_its_lines(
        self, opening: int, steps: list[tuple[int, int, bool]], chance: object
    ) -> None:
        seen = [
            shown(None, ALDER, quantity, on(day)) if inward else shown(ALDER, None, quantity, on(day))
            for day, quantity, inward in sorted(steps, key=_day)
        ]
        rows = balanced(opening, *seen)
        lines = list(range(len(rows)))
        chance.shuffle(lines)  # type: ignore[attr-defined]

        trail = trail_of(replace(row, line=line) for row, line in zip(rows, lines, strict=True))

        assert () == trail.breaks
        first_day = [row for row in rows if row.day == rows[0].day]
        if sum(row.signed for row in first_day):
            assert opening == trail.opening


def _day(step: tuple[int, int, bool]) -> date:
    return on(step[0])
