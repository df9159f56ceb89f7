"""Matching, case by case: each class of finding, what would mend it, and what a mend leads to. Own cases."""

from dataclasses import replace

import pytest

from pool_api.domain.matching import Coverage, DifferenceKind, Match, Mend, MendKind, Movement, Pin, Status, match
from pool_api.domain.matching.coverage import Covered
from pool_api.domain.record import MovementKind, RecordType, RowFacts
from tests.domain.exports import (
    ALDER,
    BIRCH,
    CEDAR,
    COVERED,
    DOGWOOD,
    OCTOBER,
    PURCHASE,
    USE,
    compared,
    filler,
    moved,
    on,
    only,
    rows_of,
    said_of,
    shown,
    taken_back,
)


class TestGolden:
    """Own cases: the ways in which a movement is told twice, each planted once among sixty clean ones."""

    @pytest.mark.parametrize(
        ("movements", "seen", "expected"),
        [
            pytest.param(
                [moved(1, ALDER, BIRCH, 31, on(5), "estate 4711")],
                [shown(ALDER, BIRCH, 31, on(5), "ESTATE 4711")],
                [Status.MATCHED],
                id="equal up to case",
            ),
            pytest.param(
                [moved(1, ALDER, BIRCH, 31, on(5))], [shown(ALDER, BIRCH, 31, on(4))], [Status.MATCHED], id="early"
            ),
            pytest.param(
                [moved(1, BIRCH, DOGWOOD, 1, on(5), "hatch")],
                [shown(BIRCH, DOGWOOD, 11, on(5), "hatch")],
                [DifferenceKind.QUANTITY],
                id="11 against 1",
            ),
            pytest.param(
                [moved(1, ALDER, CEDAR, 47, on(5), "van")],
                [shown(ALDER, DOGWOOD, 47, on(5), "van")],
                [DifferenceKind.COUNTERPARTY],
                id="another counterparty",
            ),
            pytest.param(
                [moved(1, ALDER, CEDAR, 47, on(5), "van")],
                [shown(CEDAR, ALDER, 47, on(5), "van")],
                [DifferenceKind.DIRECTION],
                id="swapped",
            ),
            pytest.param(
                [moved(1, ALDER, BIRCH, 60, on(5))],
                [shown(ALDER, BIRCH, 36, on(5)), shown(ALDER, BIRCH, 24, on(7))],
                [Status.SUGGESTED],
                id="one entry in two rows",
            ),
            pytest.param(
                [moved(1, ALDER, BIRCH, 36, on(5)), moved(2, ALDER, BIRCH, 24, on(6))],
                [shown(ALDER, BIRCH, 60, on(6))],
                [Status.SUGGESTED],
                id="two entries in one row",
            ),
            pytest.param(
                [moved(1, ALDER, BIRCH, 77, on(5))], [], [DifferenceKind.MISSING_AT_VENDOR], id="only in the journal"
            ),
            pytest.param(
                [moved(1, ALDER, BIRCH, 77, on(5), "van"), moved(2, ALDER, BIRCH, 77, on(5), "van")],
                [shown(ALDER, BIRCH, 77, on(5), "van")],
                [Status.MATCHED, DifferenceKind.DUPLICATE],
                id="twice in the journal",
            ),
        ],
    )
    def test_each_planted_case_gets_its_class(
        self, movements: list[Movement], seen: list[list[RowFacts]], expected: list[object]
    ) -> None:
        clean, clean_seen = filler(60)

        report = compared([*clean, *movements], *clean_seen, *seen)

        found = {said.key: said for movement in movements for said in said_of(report, movement.entry)}
        assert expected == [each.status if isinstance(each, Match) else each.kind for each in found.values()]
        assert len(clean) == sum(each.status is Status.MATCHED and each.entries[0] >= 1000 for each in report.matches)

    def test_what_only_the_vendor_shows_is_missing_in_the_journal(self) -> None:
        clean, clean_seen = filler(60)

        report = compared(clean, *clean_seen, shown(ALDER, BIRCH, 77, on(9), "van"))

        difference = only(report, DifferenceKind.MISSING_IN_JOURNAL)
        sentence = "The vendor shows 77 credits from alder-tuning to birch-garage on 2026-10-09; "
        assert sentence + "the journal has no entry for it." == difference.sentence
        fields: dict[str, str | int] = {
            "lender": ALDER,
            "borrower": BIRCH,
            "quantity": 77,
            "day": "2026-10-09",
            "note": "van",
        }
        assert Mend(kind=MendKind.RECORD_LOAN, fields=fields) == difference.mend


class TestCoverage:
    def test_a_record_that_does_not_cover_the_day_proves_nothing(self) -> None:
        report = compared([moved(7, ALDER, BIRCH, 30, on(3, month=11))])

        assert (7,) == report.uncovered
        assert () == report.differences

    def test_a_record_of_one_type_proves_only_its_own_kinds(self) -> None:
        within = on(1), on(30)
        loan = moved(7, ALDER, BIRCH, 30, on(5))
        nothing: Coverage = {account: [] for account in COVERED}
        of_uses = match([loan], [], nothing, parts={RecordType.USES: {ALDER: [within]}})
        of_transfers = match([loan], [], nothing, parts={RecordType.TRANSFERS: {ALDER.upper(): [within]}})

        assert ((7,), ()) == (of_uses.uncovered, of_uses.differences)
        assert DifferenceKind.MISSING_AT_VENDOR is of_transfers.differences[0].kind
        assert () == of_uses.proof == of_transfers.proof

    def test_records_of_all_types_together_prove_the_days_that_they_share(self) -> None:
        parts: dict[RecordType, Coverage] = {
            RecordType.PURCHASES: {ALDER: [(on(1), on(20))]},
            RecordType.TRANSFERS: {ALDER: [(on(3), on(9)), (on(10), on(30))]},
            RecordType.USES: {ALDER: [(on(1), on(8)), (on(12), on(25))]},
        }

        covered = Covered({ALDER: [(on(28), on(29))]}, parts)

        assert ((on(3), on(8)), (on(12), on(20)), (on(28), on(29))) == covered.spans(ALDER)
        assert [True, False] == [covered.on(ALDER, on(27), kind) for kind in (MovementKind.TRANSFER, MovementKind.USE)]

    def test_one_record_that_covers_the_day_is_enough(self) -> None:
        report = compared([moved(7, ALDER, BIRCH, 30, on(5))], coverage={**COVERED, ALDER: []})

        missing = only(report, DifferenceKind.MISSING_AT_VENDOR)
        assert missing.sentence.endswith("; the record of birch-garage covers that day without it.")

    def test_two_records_that_contradict_each_other_are_named(self) -> None:
        report = compared([moved(7, ALDER, BIRCH, 30, on(5))], shown(ALDER, BIRCH, 30, on(5), of=[ALDER]))

        assert [(7,)] == [each.entries for each in report.matches]
        assert (
            "the record of birch-garage covers that day without it"
            in only(report, DifferenceKind.ONE_RECORD_ONLY).sentence
        )

    def test_a_contradiction_that_the_journal_knows_nothing_of_is_one_difference(self) -> None:
        report = compared([], shown(ALDER, BIRCH, 30, on(5), of=[ALDER]))

        (difference,) = report.differences
        assert DifferenceKind.ONE_RECORD_ONLY is difference.kind
        assert difference.mend is not None
        assert MendKind.RECORD_LOAN is difference.mend.kind

    def test_one_record_is_enough_where_the_other_is_not_on_file(self) -> None:
        seen = shown(ALDER, BIRCH, 30, on(5), of=[ALDER])

        report = compared([moved(7, ALDER, BIRCH, 30, on(5))], seen, coverage={**COVERED, BIRCH: []})

        assert () == report.differences

    def test_a_row_of_an_account_outside_the_pool_is_a_mistake_of_the_caller(self) -> None:
        rows = [replace(row, account="stranger") for row in rows_of(shown(ALDER, BIRCH, 30, on(5)))]

        with pytest.raises(ValueError, match="none of the pool's: stranger"):
            match([], rows, COVERED)


class TestMonths:
    def test_a_match_across_the_end_of_a_month_is_told(self) -> None:
        coverage = {account: [(OCTOBER[0], on(30, month=11))] for account in COVERED}

        report = compared(
            [moved(7, ALDER, BIRCH, 30, on(1, month=11))], shown(ALDER, BIRCH, 30, on(31)), coverage=coverage
        )

        difference = only(report, DifferenceKind.OTHER_MONTH)
        assert Mend(kind=MendKind.CORRECT, fields={"entry": 7, "day": "2026-10-31"}) == difference.mend
        assert [-1] == [each.days_apart for each in report.matches]


class TestReasons:
    def test_the_parts_of_a_score_add_up_to_it(self) -> None:
        clean, clean_seen = filler(60)

        report = compared([*clean, moved(1, ALDER, BIRCH, 60, on(5))], *clean_seen, shown(ALDER, BIRCH, 24, on(5)))

        assert [each.score for each in report.matches] == [
            sum(part.millibits for part in each.parts) for each in report.matches
        ]

    def test_a_match_says_why(self) -> None:
        report = compared([moved(1, ALDER, BIRCH, 31, on(5), "van")], shown(ALDER, BIRCH, 31, on(3), "VAN"))

        said = {part.name: part.says for part in report.matches[0].parts}
        assert ("2 days earlier at the vendor", "the notes are equal") == (said["day"], said["note"])

    def test_where_another_choice_is_as_good_it_is_asked_about(self) -> None:
        clean, clean_seen = filler(60)
        ours = [moved(1, ALDER, BIRCH, 31, on(5), "van"), moved(2, ALDER, BIRCH, 31, on(5), "estate")]
        theirs = [shown(ALDER, BIRCH, 31, on(5), reference=reference) for reference in ("V-8", "V-9")]

        tied = compared([*clean, *ours], *clean_seen, *theirs)
        told = compared([*clean, *ours], *clean_seen, theirs[0], shown(ALDER, BIRCH, 31, on(5), "estate"))

        assert [Status.SUGGESTED] * 2 == [each.status for each in tied.matches if set(each.entries) & {1, 2}]
        assert [Status.MATCHED] * 2 == [each.status for each in told.matches if set(each.entries) & {1, 2}]

    def test_what_the_sender_s_row_leaves_unsaid_the_receiver_s_says(self) -> None:
        silent = shown(ALDER, BIRCH, 31, on(5), of=[ALDER])
        telling = shown(ALDER, BIRCH, 31, on(5), "estate", of=[BIRCH], reference="V-7")

        (found,) = compared([moved(1, ALDER, BIRCH, 31, on(5), "estate", reference="V-7")], silent, telling).matches

        assert {"the notes are equal", "the references are equal"} <= {part.says for part in found.parts}

    def test_a_vendor_reference_the_journal_never_heard_of_says_nothing(self) -> None:
        report = compared(
            [moved(1, ALDER, BIRCH, 31, on(5), reference="own-1")], shown(ALDER, BIRCH, 31, on(5), reference="V-9")
        )

        assert "reference" not in {part.name for part in report.matches[0].parts}

    def test_references_decide_between_equal_movements(self) -> None:
        movements = [moved(at, ALDER, BIRCH, 10, on(5), reference=f"T-{at}") for at in (1, 2, 3)]
        seen = [shown(ALDER, BIRCH, 10, on(6), reference=f"T-{at}") for at in (3, 1, 2)]
        rows = rows_of(*seen)

        report = match(movements, rows, COVERED)

        references = {row.identity: row.reference for row in rows}
        assert {(1,): "T-1", (2,): "T-2", (3,): "T-3"} == {
            each.entries: references[each.rows[0]] for each in report.matches
        }


class TestDuplicates:
    @pytest.mark.parametrize(
        ("day", "note", "reference", "kind"),
        [
            (5, "", None, DifferenceKind.DUPLICATE),
            (6, "", None, DifferenceKind.MISSING_AT_VENDOR),
            (6, "van", None, DifferenceKind.MISSING_AT_VENDOR),
            (6, "", "T-1", DifferenceKind.DUPLICATE),
            (7, "", "T-1", DifferenceKind.MISSING_AT_VENDOR),
        ],
    )
    def test_a_copy_is_of_the_day_or_of_the_next_with_one_reference(
        self, day: int, note: str, reference: str | None, kind: DifferenceKind
    ) -> None:
        first = moved(1, ALDER, BIRCH, 30, on(5), reference="T-1")
        second = moved(2, ALDER, BIRCH, 30, on(day), note, reference=reference)

        report = compared([first, second], shown(ALDER, BIRCH, 30, on(5), reference="T-1"))

        assert [(kind, (2,))] == [(each.kind, each.entries) for each in report.differences]


class TestPins:
    def test_a_pin_stands_whatever_the_weights_say(self) -> None:
        movements = [moved(1, ALDER, BIRCH, 10, on(5), "van"), moved(2, ALDER, BIRCH, 10, on(6), "estate")]
        rows = rows_of(shown(ALDER, BIRCH, 10, on(5), "van"), shown(ALDER, BIRCH, 10, on(6), "estate"))
        estate = next(row.identity for row in rows if row.note == "estate")

        report = match(movements, rows, COVERED, pins=[Pin(entries=(1,), rows=(estate,))])

        assert {(1,): "estate", (2,): "van"} == {
            each.entries: next(row.note for row in rows if row.identity in each.rows) for each in report.matches
        }

    def test_rows_decided_to_be_apart_are_never_matched(self) -> None:
        rows = rows_of(shown(ALDER, BIRCH, 10, on(5), "van"))

        pin = Pin(entries=(1,), rows=(rows[0].identity,), together=False)
        report = match([moved(1, ALDER, BIRCH, 10, on(5), "van")], rows, COVERED, pins=[pin])

        assert () == report.matches
        assert {DifferenceKind.MISSING_AT_VENDOR, DifferenceKind.MISSING_IN_JOURNAL} == {
            each.kind for each in report.differences
        }

    def test_a_pin_whose_row_is_gone_is_reported(self) -> None:
        pin = Pin(entries=(1,), rows=("gone:1",))

        report = match([moved(1, ALDER, BIRCH, 10, on(5))], [], COVERED, pins=[pin])

        assert (pin,) == report.broken_pins


class TestKeys:
    def test_a_key_stays_when_the_other_record_arrives_later(self) -> None:
        half = compared([], shown(ALDER, BIRCH, 30, on(5), of=[ALDER]), coverage={**COVERED, BIRCH: []})
        whole = compared([], shown(ALDER, BIRCH, 30, on(5)))

        assert [each.key for each in half.differences] == [each.key for each in whole.differences]

    def test_equal_differences_have_different_keys(self) -> None:
        report = compared([], shown(ALDER, None, 10, on(5)), shown(ALDER, None, 10, on(5)))

        assert 2 == len({each.key for each in report.differences})

    def test_handles_are_compared_without_regard_to_case(self) -> None:
        seen = shown(ALDER, BIRCH.title(), 30, on(5), of=[ALDER])

        report = compared([moved(1, ALDER.upper(), BIRCH, 30, on(5))], seen)

        assert [(1,)] == [each.entries for each in report.matches]


def test_a_use_never_matches_a_purchase() -> None:
    report = compared([moved(1, ALDER, None, 30, on(5), kind=USE)], shown(None, ALDER, 30, on(5), kind=PURCHASE))

    assert () == report.matches


def test_a_loan_reversed_in_part_is_found_among_more_equal_ones_than_can_be_weighed() -> None:
    loans = [moved(at, ALDER, BIRCH, 5, on(5)) for at in range(1, 521)]
    larger = moved(521, ALDER, BIRCH, 8, on(5))

    report = compared([*loans, larger, taken_back(522, larger, 3)], *[shown(ALDER, BIRCH, 5, on(5))] * 521)

    assert [] == [(each.kind, each.entries) for each in report.differences if 521 in each.entries]
    assert 521 in {entry for each in report.matches for entry in each.entries}
