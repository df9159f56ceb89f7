"""What ordering together was worth, and sharing it by policy: over HTTP and through the client, on the worked example.

Its draws of 120, 150, 80 and 60 credits are 410 at 7.90; alone they cost 948.00, 1,185.00, 784.00 and 588.00. Averages
over all orders of joining, worked apart from this program: 277,750/3, 348,850/3, 66,050 and 146,950/3 cents."""

import csv
import io
from datetime import date

import pytest
from pool_client.errors import Missing, Refused, Stale
from pool_client.models.buying import Tier
from pool_client.models.directory import PolicyFrom, SavingRule
from pool_client.models.entries import Draw, Purchase, Reversal

from tests.rest.test_worked_example import MONTH, d, record_example
from tests.served import SHOPS, Served

SEPTEMBER = date(2026, 9, 1)
TIERS = (
    Tier(from_credits=1, unit_price=d("9.80")),
    Tier(from_credits=100, unit_price=d("7.90")),
    Tier(from_credits=500, unit_price=d("6.90")),
)
SHARED = (d("22.16"), d("22.17"), d("-28.50"), d("-15.83"))
"""One unit price less the Shapley value, in order of code; a cent that is left over goes to ALDER's share."""


@pytest.fixture
def priced(service: Served) -> Served:
    record_example(service)
    service.book().put_ladder(TIERS, valid_from=SEPTEMBER)
    return service


def agree(served: Served, rule: SavingRule) -> None:
    book = served.book()
    book.put_policy(PolicyFrom(from_month=MONTH, saving_rule=rule), tag=book.policy(month=MONTH).tag)


@pytest.fixture
def sharing(priced: Served) -> Served:
    agree(priced, SavingRule.SHAPLEY)
    return priced


def close(served: Served, month: str = MONTH) -> None:
    book = served.book()
    book.close(month=month, digest=book.settlement(month=month).digest)


# --- what it was worth -----------------------------------------------------------------------------------------------


def test_what_was_paid_stands_beside_what_would_have_been_paid_alone(priced: Served) -> None:
    """Draws cost 848.00, 1,060.00, 565.33 and 424.00 (DESIGN, section 4)."""
    found = priced.book().savings(from_month=MONTH)

    assert [
        ("ALDER", 120, d("848.00"), d("948.00"), d("100.00")),
        ("BIRCH", 150, d("1060.00"), d("1185.00"), d("125.00")),
        ("CEDAR", 80, d("565.33"), d("784.00"), d("218.67")),
        ("DOGWOOD", 60, d("424.00"), d("588.00"), d("164.00")),
    ] == [(each.member, each.credits, each.paid, each.alone, each.saving) for each in found.members]
    assert (410, d("2897.33"), d("3505.00"), d("607.67")) == (
        found.total.credits,
        found.total.paid,
        found.total.alone,
        found.total.saving,
    )
    (month,) = found.months
    assert (MONTH, "open", SEPTEMBER, SavingRule.UNIT_PRICE) == (month.month, month.state, month.ladder, month.rule)


def test_each_rule_shares_one_order_for_what_was_drawn(priced: Served) -> None:
    (month,) = priced.book().savings(from_month=MONTH).months

    assert ("948.00", "1185.00", "632.00", "474.00") == tuple(str(each.unit_price) for each in month.members)
    assert ("876.05", "1095.07", "724.50", "543.38") == tuple(str(each.proportional) for each in month.members)
    assert ("925.84", "1162.83", "660.50", "489.83") == tuple(str(each.shapley) for each in month.members)
    joint = month.joint
    assert joint is not None
    assert (410, 410, d("3239.00"), d("3505.00"), d("266.00")) == (
        joint.credits,
        joint.ordered,
        joint.cost,
        joint.alone,
        joint.saving,
    )
    assert [(rule, 0, d("0.00")) for rule in SavingRule] == [
        (each.rule, each.sampled, each.standard_error) for each in joint.rules
    ]


def test_whether_a_subgroup_would_do_better_alone_is_told_by_name(priced: Served) -> None:
    """By hand: at one unit price ALDER, among others, pays what it would alone. CEDAR and DOGWOOD together reach the
    tier of 7.90 by themselves, 1,106.00 for 140 credits: by the other rules they pay 1,150.33 and 1,267.87. What was
    really paid, 7.07 a credit, is less than any subgroup would; ALDER is the least better off, by 100.00."""
    (month,) = priced.book().savings(from_month=MONTH).months

    assert month.joint is not None
    told = month.joint.rules
    assert [
        ("core", ("ALDER",), d("0.00")),
        ("outside", ("CEDAR", "DOGWOOD"), d("161.88")),
        ("outside", ("CEDAR", "DOGWOOD"), d("44.33")),
    ] == [(each.verdict, each.worst.members, each.worst.excess) for each in told if each.worst]
    paid = month.joint.paid
    assert paid.worst is not None
    assert ("core", ("ALDER",), d("-100.00")) == (paid.verdict, paid.worst.members, paid.worst.excess)


def test_where_the_pool_ordered_dearly_a_subgroup_would_have_done_better(bare_month: Served) -> None:
    """ALDER and BIRCH draw 250 each of a stock that cost 8.00 a credit: together an order of 500 costs 6.90 each, but a
    single one of them pays 7.90 alone."""
    found = bare_month.book().savings(from_month=MONTH)

    (month,) = found.months
    assert month.joint is not None
    assert ("outside", ("ALDER",), d("25.00")) == (
        month.joint.paid.verdict,
        *((month.joint.paid.worst.members, month.joint.paid.worst.excess) if month.joint.paid.worst else ()),
    )
    assert d("-25.00") == found.members[0].saving


@pytest.fixture
def bare_month(service: Served) -> Served:
    book = service.book()
    book.put_ladder(TIERS, valid_from=SEPTEMBER)
    book.record(Purchase(paid_by="ALDER", quantity=500, amount=d("4000.00")), effective_on=date(2026, 9, 2))
    for shop in SHOPS[:2]:
        book.record(Draw(member=shop, quantity=250), effective_on=date(2026, 9, 3))
    return service


def test_own_purchases_count_for_what_was_paid_and_not_for_what_was_ordered_together(bare_month: Served) -> None:
    """CEDAR buys twice 50 at 9.80; one order of 100 would have cost it 790.00. DOGWOOD bought nothing."""
    book = bare_month.book()
    for day in (4, 5):
        bought = Purchase(paid_by="CEDAR", into="CEDAR", quantity=50, amount=d("490.00"))
        book.record(bought, effective_on=date(2026, 9, day))

    (month,) = book.savings(from_month=MONTH).months

    cedar = month.members[-1]
    assert ["ALDER", "BIRCH", "CEDAR"] == [each.member for each in month.members]
    assert (100, d("980.00"), d("790.00"), d("-190.00")) == (cedar.credits, cedar.paid, cedar.alone, cedar.saving)
    assert (0, d("0.00"), d("0.00")) == (cedar.drawn, cedar.drawn_alone, cedar.shapley)
    assert month.joint is not None
    assert 500 == month.joint.credits


def test_months_are_added_up_and_those_without_a_ladder_named(service: Served) -> None:
    book = service.book()
    book.put_ladder(TIERS, valid_from=date(2026, 10, 1))
    book.record(Purchase(paid_by="ALDER", quantity=300, amount=d("2400.00")), effective_on=date(2026, 9, 2))
    for day in (date(2026, 9, 3), date(2026, 10, 3), date(2026, 11, 3)):
        book.record(Draw(member="ALDER", quantity=100), effective_on=day)

    found = book.savings(from_month=MONTH, to_month="2026-11")

    (alder,) = found.members
    assert (200, d("1600.00"), d("1580.00"), d("-20.00")) == (alder.credits, alder.paid, alder.alone, alder.saving)
    assert (["2026-10", "2026-11"], (MONTH,)) == ([each.month for each in found.months], found.without_ladder)
    with pytest.raises(Refused) as refused:
        book.savings(from_month=MONTH)
    assert ("no-ladder", 409) == (refused.value.code, refused.value.status)


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"from_month": "2026-10", "to_month": "2026-09"}, "period-backwards"),
        ({"from_month": "2025-01", "to_month": "2026-09"}, "not-found"),
    ],
)
def test_months_that_cannot_be_told(priced: Served, asked: dict[str, str], code: str) -> None:
    with pytest.raises((Missing, Refused)) as refused:
        priced.book().savings(**asked)
    assert code == refused.value.code


def test_a_clerk_sees_its_own_figures_and_no_names_of_others(priced: Served) -> None:
    found = priced.book("clerk").savings(from_month=MONTH)

    assert ["ALDER"] == [each.member for each in found.members]
    assert d("100.00") == found.total.saving
    (month,) = found.months
    assert ["ALDER"] == [each.member for each in month.members]
    assert month.joint is not None
    assert all(each.worst is None for each in (*month.joint.rules, month.joint.paid))
    assert found.members[0] == priced.book("reader").savings(from_month=MONTH).members[0]


def test_as_csv_each_member_s_months_are_rows(priced: Served) -> None:
    told = [*csv.DictReader(io.StringIO(priced.book().savings_csv(from_month=MONTH)))]

    assert [*SHOPS] == [each["member"] for each in told]
    assert ("2026-09", "80", "784.00", "660.50", "EUR") == tuple(
        told[2][name] for name in ("month", "drawn", "alone", "shapley", "currency")
    )


# --- shared by policy ------------------------------------------------------------------------------------------------


def test_a_rule_that_is_chosen_enters_the_dues_and_they_still_add_up(sharing: Served) -> None:
    """Dues of the worked example are 2,602.00, −961.07, 436.67 and −734.93, the closing stock costs 1,342.67."""
    book = sharing.book()
    sheet = book.sheet(month=MONTH)

    assert SHARED == tuple(each.due.saving_shared for each in sheet.members)
    assert [d("2624.16"), d("-938.90"), d("408.17"), d("-750.76")] == [each.due.total for each in sheet.members]
    assert d("1342.67") == sum(each.due.total for each in sheet.members)
    saving = sheet.saving
    assert saving is not None
    assert (SavingRule.SHAPLEY, SEPTEMBER, d("3239.00"), 0) == (
        saving.rule,
        saving.ladder,
        saving.cost,
        saving.sampled,
    )
    assert SHARED == tuple(each.shared for each in saving.members)
    told = book.savings(from_month=MONTH)
    assert [d("825.84"), d("1037.83"), d("593.83"), d("439.83")] == [each.paid for each in told.members]
    assert SHARED == tuple(each.shared for each in told.members)


def test_one_unit_price_charges_nothing(priced: Served) -> None:
    sheet = priced.book().sheet(month=MONTH)

    assert {d("0.00")} == {each.due.saving_shared for each in sheet.members}
    assert sheet.saving is None


def test_statement_postings_and_explanation_say_it(sharing: Served) -> None:
    book = sharing.book()

    line = book.statement(month=MONTH, member="CEDAR").due[-1]
    assert ("its share of the saving by ordering together", d("-28.50")) == (line.words, line.amount)
    (booked,) = [
        each for each in book.postings(month=MONTH, holder="CEDAR").transactions if each.reason == "saving_shared"
    ]
    assert [("CHARGES", d("28.50")), ("POOL", d("-28.50"))] == [
        (each.account, (each.debit or 0) - (each.credit or 0)) for each in booked.postings
    ]
    explained = book.explanation(month=MONTH, figure="members.CEDAR.due.saving_shared", depth=4)
    figures = {each.figure: each for each in explained.items}
    assert {"saving.unit_price.CEDAR", "saving.shares.CEDAR", "saving.order.cost", "saving.weights"} <= figures.keys()


def test_what_if_compares_it(priced: Served) -> None:
    found = priced.book().comparison(month=MONTH, saving_rule=SavingRule.SHAPLEY)

    assert SHARED == tuple(each.difference.due for each in found.members)


def test_a_close_keeps_the_ladder_that_it_rests_on(sharing: Served) -> None:
    """Another ladder later moves neither the closed month nor what follows from it, and everything verifies."""
    close(sharing)
    book = sharing.book()
    before = book.sheet(month=MONTH)

    book.put_ladder(TIERS[:1], valid_from=SEPTEMBER, tag=book.ladder(valid_from=SEPTEMBER).tag)

    assert before == book.sheet(month=MONTH)
    assert SHARED == tuple(each.shared for each in book.savings(from_month=MONTH).members)
    assert book.verification().sound
    book.reopen(month=MONTH, reason="a dearer ladder")
    assert {d("0.00")} == {each.due.saving_shared for each in book.sheet(month=MONTH).members}


def test_a_preview_is_out_of_date_once_the_ladder_is_another(sharing: Served) -> None:
    book = sharing.book()
    seen = book.settlement(month=MONTH).digest
    book.put_ladder(TIERS[:1], valid_from=SEPTEMBER, tag=book.ladder(valid_from=SEPTEMBER).tag)
    with pytest.raises(Stale):
        book.close(month=MONTH, digest=seen)


def test_without_a_ladder_a_saving_can_not_be_shared_and_the_month_not_be_closed(service: Served) -> None:
    record_example(service)
    agree(service, SavingRule.PROPORTIONAL)
    book = service.book()

    obstacle = book.sheet(month=MONTH).obstacle
    assert obstacle is not None
    assert "no-ladder" == obstacle.code
    with pytest.raises(Refused) as refused:
        close(service)
    assert "no-ladder" == refused.value.code

    book.put_ladder(TIERS, valid_from=SEPTEMBER)
    close(service)
    assert book.verification().sound


def test_a_draw_undone_in_a_later_month_leaves_what_was_shared(sharing: Served) -> None:
    close(sharing)
    book = sharing.book()
    book.record(Reversal(entry=5, quantity=10), effective_on=date(2026, 10, 2))

    sheet = book.sheet(month="2026-10")
    assert {d("0.00")} == {each.due.saving_shared for each in sheet.members}
    assert sheet.saving is None
    assert sheet.obstacle is None
