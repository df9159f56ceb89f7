"""What people are shown of savings, and of how a month shares them."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from pool_client import show_saving
from pool_client.models.directory import SavingRule
from pool_client.models.saving import (
    Joint,
    MemberSaving,
    MemberWorth,
    MonthMemberWorth,
    MonthWorth,
    RuleTold,
    Savings,
    SharedSaving,
    Subgroup,
    Told,
    Worth,
)

from tests.clients.shop import SET, Shop
from tests.clients.test_show import lines

ZERO = Decimal("0.00")
SUMS = {
    "credits": 1_200,
    "paid": Decimal("8480.00"),
    "alone": Decimal("9480.00"),
    "saving": Decimal("1000.00"),
    "shared": ZERO,
}
MEMBER = MemberWorth(member="ALDER", **SUMS)  # type: ignore[arg-type]
SHARES = dict.fromkeys(("drawn_alone", "unit_price", "proportional", "shapley"), Decimal("9480.00"))
DRAWN = MonthMemberWorth(member="ALDER", drawn=1_200, **SUMS, **SHARES)  # type: ignore[arg-type]
EXACT = RuleTold(rule=SavingRule.UNIT_PRICE, sampled=0, standard_error=ZERO, verdict="core")
WORST = Subgroup(members=("BIRCH", "CEDAR"), excess=Decimal("44.33"))
JOINT = Joint(
    credits=1_200,
    ordered=1_250,
    cost=Decimal("8250.00"),
    alone=Decimal("9480.00"),
    saving=Decimal("1230.00"),
    rules=(EXACT,),
    paid=Told(verdict="outside", worst=WORST),
)
MONTH = MonthWorth(
    month="2026-10",
    state="open",
    ladder=date(2026, 10, 1),
    rule=SavingRule.SHAPLEY,
    members=(DRAWN, replace(DRAWN, member="DOGWOOD", drawn=0)),
    joint=JOINT,
)
FOUND = Savings(
    from_month="2026-09",
    to_month="2026-10",
    members=(MEMBER,),
    total=Worth(**SUMS),  # type: ignore[arg-type]
    months=(MONTH,),
    without_ladder=("2026-09",),
)


def test_months_are_told_in_all_and_one_by_one() -> None:
    first, month = show_saving.savings(FOUND)

    assert "What ordering together was worth, 2026-09 to 2026-10" == first.title
    assert (("ALDER", "1,200", "8,480.00", "9,480.00", "1,000.00", "–"),) == first.rows
    assert "Without a price ladder, and not in it: 2026-09." == first.words[1]
    assert "One order for what was drawn in 2026-10, by the ladder from 2026-10-01" == month.title
    assert ["ALDER"] == [row[0] for row in month.rows]
    assert 1 == len(show_saving.savings(replace(FOUND, months=(replace(MONTH, joint=None),))))


def test_the_subgroup_that_would_do_better_alone_is_named() -> None:
    shown = lines(show_saving.savings(FOUND))

    assert "As paid: BIRCH, CEDAR would pay 44.33 less alone." in shown
    assert "By one unit price: no subgroup would do better alone." in shown
    nameless = replace(JOINT, paid=Told(verdict="outside"))
    assert "As paid: some subgroup would do better alone." in lines(
        show_saving.savings(replace(FOUND, months=(replace(MONTH, joint=nameless),)))
    )


def test_what_is_not_exact_says_so() -> None:
    drawn = RuleTold(rule=SavingRule.SHAPLEY, sampled=1_000, standard_error=Decimal("0.42"), verdict="untold")
    shown = lines(show_saving.savings(replace(FOUND, months=(replace(MONTH, joint=replace(JOINT, rules=(drawn,))),))))

    told = "there are too many subgroups to tell whether one would do better alone."
    assert f"By Shapley value: {told} Drawn from 1,000 orders of joining, to within 0.42." in shown


def test_a_month_says_what_its_policy_shares() -> None:
    member = MemberSaving(
        member="CEDAR",
        credits=80,
        alone=Decimal("784.00"),
        unit_price=Decimal("632.00"),
        share=Decimal("660.50"),
        shared=Decimal("-28.50"),
    )
    found = SharedSaving(
        rule=SavingRule.SHAPLEY,
        ladder=date(2026, 9, 1),
        cost=Decimal("3239.00"),
        sampled=0,
        standard_error=ZERO,
        members=(member,),
    )

    (table,) = show_saving.shared(found)

    assert "Saving shared by Shapley value" == table.title
    assert (("CEDAR", "80", "784.00", "632.00", "660.50", "-28.50"),) == table.rows


def test_csv_and_json_exclude_each_other(shop: Shop) -> None:
    assert 2 == shop.run("savings", "2026-10", "--csv", "--json", **SET)
    assert [] == shop.requests
