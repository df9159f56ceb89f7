"""A saving that is shared in a month's sheet, and what a month was worth: on the worked example, without a database."""

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.activity import gathered
from pool_api.domain.chain import month_chain
from pool_api.domain.costing import Terms
from pool_api.domain.entries import Draw, Opening, Purchase
from pool_api.domain.pool import Policy, SavingRule, StockCosting
from pool_api.domain.sharing import Verdict
from pool_api.domain.sheets import Sheet, sheet_json
from pool_api.domain.values import Currency, Month
from pool_api.domain.worth import month_worth
from tests.domain.examples import worked_example
from tests.domain.journals import (
    LADDER,
    MONTHS,
    Journal,
    Rules,
    Wish,
    accepted,
    all_rules,
    bought,
    chained,
    openings,
    shops,
    under,
    wishes,
)
from tests.domain.plans import ladder

TIERS = ladder([(1, 980), (100, 790), (500, 690)])


USUAL = Policy()


def first(journal: Journal, policy: Policy = USUAL) -> Sheet:
    """Give the first month's sheet, with savings by LADDER."""
    return next(chained(journal, under(policy)))[0]


def shared(sheet: Sheet) -> dict[str, int]:
    return {each.member: each.due.saving_shared for each in sheet.members}


def test_the_sheet_says_all_that_the_charges_rest_on() -> None:
    """LADDER prices 410 credits at 7.05 each: 2,890.50; as it does what each draws, so that nobody saves anything, and
    every rule comes to one unit price."""
    sheet = first(worked_example(), Policy(saving_rule=SavingRule.SHAPLEY))

    saving = sheet.saving
    assert saving is not None
    assert (SavingRule.SHAPLEY, LADDER, 289_050, 0, 0) == (
        saving.rule,
        saving.ladder,
        saving.cost,
        saving.sampled,
        saving.error,
    )
    assert [(120, 84_600), (150, 105_750), (80, 56_400), (60, 42_300)] == [
        (each.credits, each.alone) for each in saving.members
    ]
    assert {0} == {*shared(sheet).values()}
    told = sheet_json(sheet)["saving"]
    assert {"from_credits": 12, "unit_price": "7.05"} == told["ladder"]["tiers"][-1]
    assert "84600/1" == told["members"][0]["exact"]


def test_a_month_at_one_unit_price_says_nothing_of_it() -> None:
    """So that what closes froze before keeps its digest."""
    assert "saving" not in sheet_json(first(worked_example()))


def test_only_what_was_drawn_is_shared() -> None:
    """Own case: BIRCH's own purchase of 100 fills no tier of the others' order."""
    journal = Journal()
    journal.write(bought(100, 80_000))
    journal.write(Purchase(into="BIRCH", paid_by="BIRCH", quantity=100, amount=95_000))
    journal.write(Draw(member="ALDER", quantity=10), 2)
    journal.write(Draw(member="CEDAR", quantity=2), 2)

    sheet = first(journal, Policy(saving_rule=SavingRule.PROPORTIONAL))

    assert sheet.saving is not None
    assert [("ALDER", 10), ("CEDAR", 2)] == [(each.member, each.credits) for each in sheet.saving.members]
    # 12 at 7.05 are 84.60, of which one unit price makes 70.50 and 14.10; 10 at 8.333333 and 2 at 9.50 cost alone
    assert (8_333, 1_900) == tuple(each.alone for each in sheet.saving.members)
    assert (6_889, 1_571) == tuple(each.share for each in sheet.saving.members)
    assert {"ALDER": 7_050 - 6_889, "CEDAR": 1_410 - 1_571} == {
        code: amount for code, amount in shared(sheet).items() if amount
    }


def test_costs_of_credits_are_not_touched_by_it() -> None:
    plain, otherwise = (first(worked_example(), Policy(saving_rule=rule)) for rule in list(SavingRule)[:2])

    for one, two in zip(plain.members, otherwise.members, strict=True):
        assert replace(one, due=two.due) == two


@pytest.mark.parametrize("costing", StockCosting)
def test_charges_are_the_same_under_every_costing(costing: StockCosting) -> None:
    """They rest on who drew how much, and not on what that cost."""
    policy = Policy(stock_costing=costing, saving_rule=SavingRule.PROPORTIONAL)
    sheet = first(worked_example(), policy)

    assert shared(first(worked_example(), replace(policy, stock_costing=StockCosting.MONTH_AVERAGE))) == shared(sheet)


@given(opening=openings, asked=wishes(75), rules=all_rules, in_order=st.booleans())
def test_charges_add_up_to_nothing_in_every_month(
    *, opening: Opening | None, asked: list[Wish], rules: Rules, in_order: bool
) -> None:
    for sheet, _ in chained(accepted(opening, asked, rules, in_order=in_order), rules):
        assert 0 == sum(shared(sheet).values())
        drawn = {each.member: each.draws.quantity for each in sheet.members if each.draws.quantity}
        if sheet.policy.saving_rule is SavingRule.UNIT_PRICE or not drawn:
            assert sheet.saving is None
            assert sheet.policy.saving_rule is not SavingRule.UNIT_PRICE or {0} == {*shared(sheet).values()}
        else:
            assert sheet.saving is not None
            assert drawn == {each.member: each.credits for each in sheet.saving.members}


def test_another_ladder_has_its_month_costed_again_and_no_other() -> None:
    journal, policy = worked_example(), Policy(saving_rule=SavingRule.SHAPLEY)

    def chain(by: Mapping[Month, object], kept: dict[Month, object] | None = None) -> dict[Month, object]:
        links = month_chain(
            gathered(journal.entries),
            months=MONTHS,
            terms_of=lambda month: Terms(
                policy=policy,
                members=shops(),
                currency=Currency("EUR"),
                ladder=by[month],  # type: ignore[arg-type]
            ),
            settle=lambda sheet: {"ALDER": sheet.stock.closing.cost},
            kept=kept or {},  # type: ignore[arg-type]
        )
        return {link.sheet.month: link.sheet for link, _ in links}

    one = chain(dict.fromkeys(MONTHS, LADDER))
    two = chain({**dict.fromkeys(MONTHS, LADDER), MONTHS[0]: TIERS})

    assert [False, True, True] == [one[month] == two[month] for month in MONTHS]


def test_what_was_paid_is_what_the_sheet_says_with_what_the_policy_shared() -> None:
    sheet = first(worked_example(), Policy(saving_rule=SavingRule.PROPORTIONAL))
    found = month_worth(sheet, TIERS)

    assert [each.draws.cost - each.due.saving_shared for each in sheet.members] == [each.paid for each in found.members]
    assert [94_800, 118_500, 78_400, 58_800] == [each.alone for each in found.members]
    assert found.joint is not None
    assert Verdict.CORE == found.joint.paid.verdict


def test_a_month_in_which_nothing_was_drawn_has_no_joint_order() -> None:
    journal = Journal()
    journal.write(Purchase(into="BIRCH", paid_by="BIRCH", quantity=100, amount=95_000))

    found = month_worth(first(journal), TIERS)

    assert found.joint is None
    assert [("BIRCH", 100, 95_000, 79_000, -16_000)] == [
        (each.member, each.credits, each.paid, each.alone, each.saving) for each in found.members
    ]
