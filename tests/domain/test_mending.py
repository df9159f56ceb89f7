"""What would mend a difference, what a mend leads to when it is recorded, and how reversals count. Own cases."""

from pool_api.domain.matching import DifferenceKind, Mend, MendKind
from tests.domain.exports import (
    ALDER,
    BIRCH,
    CEDAR,
    DOGWOOD,
    REFUND,
    compared,
    moved,
    on,
    only,
    shown,
    taken_back,
)


class TestMends:
    def test_too_large_an_entry_is_reversed_by_the_rest(self) -> None:
        report = compared([moved(7, ALDER, BIRCH, 30, on(5), "van")], shown(ALDER, BIRCH, 18, on(5), "van"))

        expected = Mend(kind=MendKind.REVERSE, fields={"entry": 7, "quantity": 12})
        assert expected == only(report, DifferenceKind.QUANTITY).mend

    def test_an_entry_reversed_by_the_rest_matches(self) -> None:
        loan = moved(7, ALDER, BIRCH, 30, on(5), "van")

        report = compared([loan, taken_back(8, loan, 12)], shown(ALDER, BIRCH, 18, on(5), "van"))

        assert [(7, 8)] == [each.entries for each in report.matches]
        assert () == report.differences

    def test_too_small_an_entry_is_corrected(self) -> None:
        report = compared([moved(7, ALDER, BIRCH, 3, on(5), "van")], shown(ALDER, BIRCH, 30, on(5), "van"))

        expected = Mend(kind=MendKind.CORRECT, fields={"entry": 7, "quantity": 30})
        assert expected == only(report, DifferenceKind.QUANTITY).mend

    def test_a_corrected_entry_matches_and_the_old_one_is_silent(self) -> None:
        old = moved(7, ALDER, BIRCH, 3, on(5), "van")
        new = moved(9, ALDER, BIRCH, 30, on(5), "van")

        report = compared([old, taken_back(8, old), new], shown(ALDER, BIRCH, 30, on(5), "van"))

        assert [(9,)] == [each.entries for each in report.matches]
        assert (7, 8) == report.cancelled
        assert () == report.differences

    def test_a_wrong_counterparty_is_corrected(self) -> None:
        report = compared([moved(7, ALDER, CEDAR, 30, on(5), "van")], shown(ALDER, DOGWOOD, 30, on(5), "van"))

        expected = Mend(kind=MendKind.CORRECT, fields={"entry": 7, "receiver": DOGWOOD})
        assert expected == only(report, DifferenceKind.COUNTERPARTY).mend

    def test_a_refund_reverses_the_use_it_takes_back(self) -> None:
        uses = [moved(3, ALDER, None, 12, on(5), "job 1"), moved(4, ALDER, None, 12, on(8), "job 2")]
        seen = [shown(ALDER, None, 12, on(5), "job 1"), shown(ALDER, None, 12, on(8), "job 2")]

        report = compared(uses, *seen, shown(None, ALDER, 12, on(9), "job 1", kind=REFUND))

        expected = Mend(kind=MendKind.REVERSE, fields={"entry": 3, "quantity": 12, "day": "2026-10-09"})
        assert expected == only(report, DifferenceKind.MISSING_IN_JOURNAL).mend

    def test_a_use_and_its_reversal_match_a_row_and_its_refund(self) -> None:
        use = moved(3, ALDER, None, 12, on(5))

        report = compared(
            [use, taken_back(4, use, day=on(6))],
            shown(ALDER, None, 12, on(5)),
            shown(None, ALDER, 12, on(6), kind=REFUND),
        )

        assert {(3,), (4,)} == {each.entries for each in report.matches}
        assert () == report.differences

    def test_a_missing_use_asks_for_item_and_job(self) -> None:
        report = compared([], shown(ALDER, None, 12, on(5), "job 1"))

        difference = only(report, DifferenceKind.MISSING_IN_JOURNAL)
        fields: dict[str, str | int] = {"account": ALDER, "quantity": 12, "day": "2026-10-05", "note": "job 1"}
        assert Mend(kind=MendKind.RECORD_USE, fields=fields, asks=("item", "job")) == difference.mend

    def test_credits_from_outside_the_pool_are_offered_as_such(self) -> None:
        report = compared([], shown("somebody-else", ALDER, 12, on(5)))

        mend = only(report, DifferenceKind.MISSING_IN_JOURNAL).mend
        assert mend is not None
        assert (MendKind.RECORD_OUTSIDE, "in", "somebody-else") == (
            mend.kind,
            mend.fields["direction"],
            mend.fields["party"],
        )

    def test_a_purchase_booked_below_what_the_vendor_charged_is_corrected(self) -> None:
        bought = moved(5, None, ALDER, 500, on(5), amount="3400.00")

        report = compared([bought], shown(None, ALDER, 500, on(5), amount="3450"))

        expected = Mend(kind=MendKind.CORRECT, fields={"entry": 5, "amount": "3450"})
        assert expected == only(report, DifferenceKind.AMOUNT).mend
        assert [(5,)] == [each.entries for each in report.matches]

    def test_a_purchase_booked_above_it_may_hold_others_fees(self) -> None:
        bought = moved(5, None, ALDER, 500, on(5), amount="3462.50")

        assert () == compared([bought], shown(None, ALDER, 500, on(5), amount="3450.00")).differences

    def test_another_account_outside_the_pool_is_only_told(self) -> None:
        report = compared([moved(7, ALDER, CEDAR, 30, on(5), "van")], shown(ALDER, "stranger", 30, on(5), "van"))

        assert only(report, DifferenceKind.COUNTERPARTY).mend is None

    def test_a_refund_of_no_known_use_is_only_told(self) -> None:
        report = compared([], shown(None, ALDER, 12, on(9), kind=REFUND))

        difference = only(report, DifferenceKind.MISSING_IN_JOURNAL)
        assert difference.mend is None
        assert "The vendor shows 12 credits refunded to alder-tuning on" in difference.sentence

    def test_a_use_is_offered_for_one_refund_only(self) -> None:
        use = moved(3, ALDER, None, 12, on(5))
        refunds = [shown(None, ALDER, 12, on(day), kind=REFUND) for day in (8, 9)]

        report = compared([use], shown(ALDER, None, 12, on(5)), *refunds)

        assert [True, False] == [each.mend is not None for each in report.differences]


class TestReversals:
    def test_what_never_reached_the_vendor_cancels_silently(self) -> None:
        loan = moved(7, ALDER, BIRCH, 30, on(5))

        report = compared([loan, taken_back(8, loan)])

        assert (7, 8) == report.cancelled
        assert () == report.differences

    def test_of_two_equal_entries_the_one_that_stands_is_matched(self) -> None:
        first, second = moved(7, ALDER, BIRCH, 30, on(5), "van"), moved(8, ALDER, BIRCH, 30, on(5), "van")

        report = compared([first, second, taken_back(9, first)], shown(ALDER, BIRCH, 30, on(5), "van"))

        assert [(8,)] == [each.entries for each in report.matches]
        assert (7, 9) == report.cancelled

    def test_a_reversal_that_the_vendor_does_not_know_is_missing_there(self) -> None:
        loan = moved(7, ALDER, BIRCH, 30, on(5))

        report = compared([loan, taken_back(8, loan)], shown(ALDER, BIRCH, 30, on(5)))

        missing = only(report, DifferenceKind.MISSING_AT_VENDOR)
        assert ((8,), None) == (missing.entries, missing.mend)
