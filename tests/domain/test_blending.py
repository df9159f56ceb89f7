"""What reversals take back and what comes without credits, at the edges where a member has just so many. Own cases."""

from pool_api.domain.blending import Blend, blend
from pool_api.domain.effects import Tally
from pool_api.domain.layers import NOTHING, Costed


def blended(tally: Tally) -> Blend:
    return blend("ALDER", tally, (), ())


def test_a_reversal_takes_back_all_that_there_is_at_the_original_amount() -> None:
    sheet = blended(Tally(opening=Costed(10, 90), reversals_out=Costed(10, 90))).sheet

    assert (Costed(10, 90), NOTHING, NOTHING, 0) == (
        sheet.reversals_out,
        sheet.given_back,
        sheet.closing,
        sheet.difference,
    )


def test_credits_that_cost_more_by_now_are_given_back_at_what_they_cost_so_that_no_cost_is_left_without_any() -> None:
    sheet = blended(Tally(opening=Costed(10, 100), reversals_out=Costed(10, 90))).sheet

    assert (NOTHING, Costed(10, 100), NOTHING, -10) == (
        sheet.reversals_out,
        sheet.given_back,
        sheet.closing,
        sheet.difference,
    )


def test_what_has_no_blended_cost_left_to_give_is_given_back_at_what_there_is() -> None:
    sheet = blended(Tally(opening=Costed(10, 50), reversals_out=Costed(6, 60))).sheet

    assert (NOTHING, Costed(6, 30), Costed(4, 20), 30) == (
        sheet.reversals_out,
        sheet.given_back,
        sheet.closing,
        sheet.difference,
    )


def test_cost_that_comes_once_all_credits_are_gone_is_the_members_difference() -> None:
    """A draw that waited for credits is costed when they come; by then they were used."""
    sheet = blended(Tally(draws=Costed(0, 50))).sheet

    assert (Costed(0, 50), None, NOTHING, -50) == (sheet.available, sheet.unit_cost, sheet.closing, sheet.difference)
