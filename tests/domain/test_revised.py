"""What the comparison says of rows that have a later word: one difference for one movement. Own rules (decision 42)."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.matching import DifferenceKind, MendKind, Movement, Report, Revisions, match
from pool_api.domain.record import VendorRow
from pool_api.domain.revisions import Revision
from tests.domain.exports import ALDER, BIRCH, COVERED, moved, on, rows_of, shown

KINDS = {DifferenceKind.CHANGED_AT_VENDOR, DifferenceKind.VANISHED_AT_VENDOR}


def changed(row: VendorRow, quantity: int | None, by: str = "00000002") -> Revision:
    """Say that a later import shows a row with another quantity, or (None) no longer."""
    later = None if quantity is None else replace(row, quantity=quantity, content=f"{row.content}-{quantity}")
    return Revision(earlier=row, later=later, import_id=by)


def compared(
    movements: list[Movement], rows: list[VendorRow], *since: Revision, dismissed: frozenset[str] = frozenset()
) -> Report:
    return match(movements, rows, COVERED, revisions=Revisions.of(since, dismissed))


def kinds(report: Report) -> list[DifferenceKind]:
    return [each.kind for each in report.differences]


def test_a_match_stays_and_its_change_stands_beside_it() -> None:
    rows = rows_of(shown(ALDER, BIRCH, 5, on(3), "waiting", of=[ALDER]))

    report = match([moved(1, ALDER, BIRCH, 5, on(3), "waiting")], rows, {**COVERED, BIRCH: ()},
                   revisions=Revisions.of([changed(rows[0], 7)], ()))  # fmt: skip

    assert [(1,)] == [each.entries for each in report.matches]
    (difference,) = report.differences
    assert (DifferenceKind.CHANGED_AT_VENDOR, (1,)) == (difference.kind, difference.entries)
    assert difference.mend is not None
    assert (MendKind.WITHDRAW, {"import": "00000002", "quantity": 7}) == (difference.mend.kind, difference.mend.fields)
    assert ((rows[0].identity, "00000002"),) == difference.withdraws
    assert (
        f"The vendor showed 5 credits from {ALDER} to {BIRCH} on 2026-10-03; import 00000002 of {ALDER} shows "
        f"7 credits from {ALDER} to {BIRCH} instead (quantity was 5 and is 7)."
    ) == difference.sentence


def test_what_else_differs_is_told_once_the_row_is_decided() -> None:
    rows = rows_of(shown(ALDER, BIRCH, 5, on(3), "order 17"))
    journal = [moved(1, ALDER, BIRCH, 9, on(3), "order 17")]
    since = [changed(row, 7) for row in rows]

    before = compared(journal, rows, *since)
    kept = compared(journal, rows, *since, dismissed=frozenset({before.differences[0].key}))
    taken = compared(journal, [each.later for each in since if each.later is not None])

    assert [DifferenceKind.CHANGED_AT_VENDOR] == kinds(before)
    assert {DifferenceKind.CHANGED_AT_VENDOR, DifferenceKind.QUANTITY} == {*kinds(kept)}
    assert [DifferenceKind.QUANTITY] == kinds(taken)


def test_a_transfer_changed_in_both_records_is_one_difference() -> None:
    rows = rows_of(shown(ALDER, BIRCH, 5, on(3)))

    report = compared([moved(1, ALDER, BIRCH, 5, on(3))], rows, *(changed(row, 7) for row in rows))

    (difference,) = report.differences
    assert 2 == len(difference.withdraws)
    assert 4 == len(difference.rows)


def test_changed_in_one_record_and_gone_from_the_other_is_one_difference_too() -> None:
    rows = rows_of(shown(ALDER, BIRCH, 5, on(3)))

    report = compared([], rows, changed(rows[0], 7), changed(rows[1], None, "00000003"))

    (difference,) = report.differences
    assert DifferenceKind.CHANGED_AT_VENDOR is difference.kind
    assert f"import 00000003 of {BIRCH} doesn't show it any more" in difference.sentence
    assert [difference.key] * 2 == [step.key for proof in report.proof for step in proof.steps]


def test_a_key_is_another_when_the_vendor_changes_the_row_again() -> None:
    rows = rows_of(shown(ALDER, None, 5, on(3)))

    first, again, gone = (
        compared([], rows, since).differences[0].key
        for since in (changed(rows[0], 7), changed(rows[0], 8, "00000003"), changed(rows[0], None, "00000003"))
    )

    assert 3 == len({first, again, gone})


QUANTITIES = st.lists(st.tuples(st.integers(1, 3), st.integers(1, 9), st.sampled_from("jvb")), max_size=12)


@given(QUANTITIES, st.data())
def test_every_movement_with_a_later_word_is_exactly_one_difference(
    told: list[tuple[int, int, str]], data: st.DataObject
) -> None:
    journal = [moved(at, ALDER, BIRCH, q, on(day)) for at, (q, day, side) in enumerate(told, start=1) if side in "jb"]
    rows = rows_of(*[shown(ALDER, BIRCH, q, on(day)) for q, day, side in told if side in "vb"])
    since = [changed(row, data.draw(st.sampled_from([None, 4, 5]))) for row in rows if data.draw(st.booleans())]
    spoken = {each.earlier.identity for each in since}

    plain, report = compared(journal, rows), compared(journal, rows, *since)

    found = [each for each in report.differences if each.kind in KINDS]
    told_of = [name for each in found for name, _ in each.withdraws]
    assert sorted(spoken) == sorted(told_of)
    assert all(spoken.isdisjoint(each.rows) for each in report.differences if each.kind not in KINDS)
    assert plain.matches == report.matches
    others = [each for each in plain.differences if spoken.isdisjoint(each.rows)]
    hidden_beside = {row for each in found for row in each.rows}
    assert [each for each in others if hidden_beside.isdisjoint(each.rows)] == [
        each for each in report.differences if each.kind not in KINDS
    ]
    keys = {each.key for each in report.matches} | {each.key for each in report.differences}
    assert keys >= {step.key for proof in report.proof for step in proof.steps if step.key}
