"""What jobs cost and earned, uses beside the catalogue, and quotes: over HTTP, on the pool's worked example."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from pool_client.errors import NotAllowed, Refused
from pool_client.models.buying import Needs, Tier
from pool_client.models.catalogue import By, Covered, Earned, EarnedRow, Item
from pool_client.models.entries import Purchase, Reversal, Use

from tests.rest.test_worked_example import MONTH, d, record_example
from tests.served import Served

SEPTEMBER = date(2026, 9, 1)
TODAY = date(2026, 11, 10)
ITEMS = (
    Item(code="CAL-S", name="Calibration, small", credits=12, vehicle_class="car", family="K2"),
    Item(code="CAL-M", name="Calibration, medium", credits=10, vehicle_class="van", family="K2"),
    Item(code="UNLOCK", name="Track unlock", credits=30, vehicle_class="van", family="K2", road_restricted=True),
    Item(code="K2-ALL", name="All of K2", credits=41, covers=Covered(families=("K2",)), trade_only=True),
)
TIERS = (
    Tier(from_credits=1, unit_price=d("9.80")),
    Tier(from_credits=100, unit_price=d("7.90")),
    Tier(from_credits=500, unit_price=d("6.90")),
)


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


@pytest.fixture
def listed(example: Served) -> Served:
    example.book().put_catalogue(ITEMS, valid_from=SEPTEMBER)
    return example


def rows(served: Served, by: By, key: str = "keeper", **asked: str) -> list[EarnedRow]:
    found = served.book(key).earnings(**{"from_month": MONTH, **asked}, by=by)
    sums = [sum(getattr(each, name) for each in found.rows) for name in Earned.__slots__]
    assert sums == [getattr(found.total, name) for name in Earned.__slots__]
    return [*found.rows]


# --- earnings --------------------------------------------------------------------------------------------------------


def test_earnings_are_those_of_the_worked_example(example: Served) -> None:
    """Costs are those of DESIGN, section 4: 678.40 + 777.33 + 282.66 + 522.14 = 2,260.53; only J-1 has a price."""
    (whole,) = rows(example, By.TOTAL)

    assert (4, 316, d("2260.53")) == (whole.uses, whole.credits, whole.cost)
    assert (d("900.00"), d("221.60")) == (whole.price, whole.margin)
    assert (3, 220, d("1582.13")) == (whole.unpriced_uses, whole.unpriced_credits, whole.unpriced_cost)


def test_what_members_used_is_what_the_sheet_says(example: Served) -> None:
    sheet = {each.member: (each.uses.quantity, each.uses.cost) for each in example.book().sheet(month=MONTH).members}

    assert sheet == {each.name: (each.credits, each.cost) for each in rows(example, By.MEMBER)}


def test_by_item_class_month_and_job(listed: Served) -> None:
    book = listed.book()
    book.record(Use(member="ALDER", quantity=2, item="CAL-S", job="J-5", price=d("40.00")), effective_on=TODAY)
    book.record(Use(member="ALDER", quantity=1, item="ODD", job="J-5"), effective_on=TODAY)

    def credits(by: By) -> list[tuple[str | None, int]]:
        return [(each.name, each.credits) for each in rows(listed, by, to_month="2026-11")]

    assert [("CAL-M", 316), ("CAL-S", 2), ("ODD", 1)] == credits(By.ITEM)
    assert [(None, 1), ("car", 2), ("van", 316)] == credits(By.VEHICLE_CLASS)
    assert [("2026-09", 316), ("2026-11", 3)] == credits(By.MONTH)
    assert [("J-1", 96), ("J-2", 110), ("J-3", 40), ("J-4", 70), ("J-5", 3)] == credits(By.JOB)
    assert [(None, 319)] == credits(By.TOTAL)


def test_reversals_leave_what_the_job_says(example: Served) -> None:
    """ALDER's use of 96 cost 678.40: with 24 undone in November a quarter, 169.60, has gone back."""
    book = example.book()
    book.record(Reversal(entry=11, quantity=24), effective_on=TODAY)
    book.record(Reversal(entry=12), effective_on=TODAY)

    (alder,) = (each for each in rows(example, By.MEMBER) if each.name == "ALDER")
    job = book.job(job="J-1")

    assert (72, d("508.80"), d("391.20")) == (alder.credits, alder.cost, alder.margin)
    assert (72, d("508.80"), d("391.20")) == (job.credits, job.cost, job.margin)
    assert ["ALDER", "CEDAR", "DOGWOOD"] == [each.name for each in rows(example, By.MEMBER)]


def test_a_use_that_is_wholly_undone_earned_nothing(example: Served) -> None:
    example.book().record(Reversal(entry=11), effective_on=TODAY)

    job = example.book().job(job="J-1")

    assert (0, d("0.00"), d("0.00")) == (job.credits, job.price, job.margin)
    assert [None] == [use.price for use in job.uses]


def test_a_clerk_sees_its_own_jobs_only(example: Served) -> None:
    assert [("ALDER", 96)] == [(each.name, each.credits) for each in rows(example, By.MEMBER, "clerk")]
    assert [("ALDER", 96)] == [(each.name, each.credits) for each in rows(example, By.MEMBER, "clerk", member="ALDER")]
    with pytest.raises(NotAllowed):
        rows(example, By.MEMBER, "clerk", member="BIRCH")
    assert [("BIRCH", 110)] == [(each.name, each.credits) for each in rows(example, By.MEMBER, member="BIRCH")]


def test_earnings_as_csv_are_taken_for_no_formula(service: Served) -> None:
    book = service.book()
    book.record(Purchase(paid_by="ALDER", into="ALDER", quantity=10, amount=d("70.00")), effective_on=SEPTEMBER)
    book.record(Use(member="ALDER", quantity=2, item="=1+1", job="J-1", price=d("20.00")), effective_on=SEPTEMBER)

    told = [*csv.reader(io.StringIO(book.earnings_csv(from_month=MONTH, by=By.ITEM)))]

    assert [
        ["by", "name", "uses", "credits", "cost", "price", "margin", "unpriced_uses", "unpriced_credits",
         "unpriced_cost", "currency"],
        ["item", "'=1+1", "1", "2", "14.00", "20.00", "6.00", "0", "0", "0.00", "EUR"],
    ] == told  # fmt: skip


def test_months_that_run_backwards_are_refused(example: Served) -> None:
    with pytest.raises(Refused, match="2026-10 to 2026-09 run backwards"):
        rows(example, By.ITEM, from_month="2026-10", to_month="2026-09")


# --- uses and the catalogue ------------------------------------------------------------------------------------------


def checks(served: Served, key: str = "keeper", *, doubtful: bool = False) -> list[tuple[int, str, int | None]]:
    found = served.book(key).use_checks(month=MONTH, doubtful=doubtful, limit=1)
    return [(each.entry, each.finding, each.difference) for each in found]


def test_uses_are_told_beside_the_catalogue_of_their_day(listed: Served) -> None:
    book = listed.book()
    for quantity, item, marked in ((10, "CAL-M", False), (1, "GONE", False), (3, "UNLOCK", False), (3, "UNLOCK", True)):
        use = Use(member="ALDER", quantity=quantity, item=item, job="J-9", off_road_only=marked)
        book.record(use, effective_on=date(2026, 9, 20))

    assert [
        (11, "otherwise", 86), (12, "several", None), (13, "several", None), (14, "several", None),
        (15, "as_listed", None), (16, "unlisted", None), (17, "otherwise", -27), (18, "otherwise", -27),
    ] == checks(listed)  # fmt: skip
    assert [11, 16, 17, 18] == [entry for entry, *_ in checks(listed, doubtful=True)]
    assert [True, False] == [each.unmarked for each in book.use_checks(month=MONTH) if each.item == "UNLOCK"]
    assert [11, 15, 16, 17, 18] == [entry for entry, *_ in checks(listed, "clerk")]


def test_the_check_changes_no_entry_and_leaves_out_what_is_undone(listed: Served) -> None:
    book = listed.book()
    book.record(Reversal(entry=11), effective_on=TODAY)
    head = book.verification().head

    assert [12, 13, 14] == [entry for entry, *_ in checks(listed)]
    assert (head, True) == (book.verification().head, book.verification().sound)


def test_before_the_first_catalogue_there_is_nothing_to_compare_with(example: Served) -> None:
    assert {"no_catalogue"} == {finding for _, finding, _ in checks(example)}


# --- quotes and replacement ------------------------------------------------------------------------------------------


def test_a_quote_has_the_cheapest_items_and_both_costs(listed: Served) -> None:
    """ALDER has 24 credits left of September, for 169.60; the last purchase into stock was of 100, 7.90 each."""
    listed.book().put_ladder(TIERS, valid_from=SEPTEMBER)

    found = listed.book("clerk").quote(member="ALDER", items=("UNLOCK", "CAL-S"), credits=2, price=d("400.00"))

    assert found.cover is not None
    assert [("K2-ALL", ("CAL-S", "UNLOCK"))] == [(each.code, each.serves) for each in found.cover.chosen]
    assert (41, 42, True, 41) == (
        found.cover.credits, found.cover.singly, found.cover.proven, found.cover.lower_bound,
    )  # fmt: skip
    assert (43, 24, 19) == (found.credits, found.held, found.missing)
    assert found.blended is not None
    assert (d("303.87"), d("96.13")) == (
        found.blended.cost, found.blended.margin,
    )  # fmt: skip
    assert found.replaced is not None
    assert (d("339.70"), d("60.30")) == (found.replaced.cost, found.replaced.margin)
    assert found.replacement is not None
    assert ("last_purchase", 100, d("7.90")) == (
        found.replacement.basis, found.replacement.quantity, found.replacement.unit_price,
    )  # fmt: skip
    assert ["trade", "roads"] == [next(each for each in ("trade", "roads") if each in said) for said in found.cautions]


def test_a_quote_of_credits_needs_no_catalogue_and_no_ladder(example: Served) -> None:
    found = example.book().quote(member="BIRCH", credits=4)

    assert (4, None, None, None) == (found.credits, found.cover, found.replaced, found.replacement)
    assert found.blended is not None
    assert (d("28.27"), None) == (found.blended.cost, found.blended.margin)


def test_what_can_not_be_quoted_is_refused(listed: Served) -> None:
    book = listed.book()
    with pytest.raises(Refused, match="has no CAL-X"):
        book.quote(member="ALDER", items=("CAL-S", "CAL-X"))
    with pytest.raises(Refused, match="no catalogue that counts on 2026-08-01"):
        book.quote(member="ALDER", items=("CAL-S",), on=date(2026, 8, 1))
    with pytest.raises(Refused, match="ELM"):
        book.quote(member="ELM", credits=1)
    with pytest.raises(NotAllowed):
        listed.book("clerk").quote(member="BIRCH", credits=1)
    with pytest.raises(Refused):
        book.quote(member="ALDER", credits=1, price=Decimal("1.005"))


def test_what_a_credit_costs_to_replace_stands_beside_the_blended_cost(example: Served) -> None:
    book = example.book()
    assert book.positions().replacement is None
    book.put_ladder(TIERS, valid_from=date(2026, 9, 5))

    def replacement(as_of: date | None = None) -> tuple[str, int, Decimal] | None:
        found = book.positions(as_of=as_of).replacement
        return None if found is None else (found.basis, found.quantity, found.unit_price)

    assert ("last_purchase", 100, d("7.90")) == replacement()
    assert replacement(date(2026, 9, 4)) is None
    assert ("last_purchase", 500, d("6.90")) == replacement(date(2026, 9, 6))
    book.record(Reversal(entry=9, quantity=40), effective_on=TODAY)
    assert ("last_purchase", 60, d("9.80")) == replacement()


def test_without_any_purchase_the_smallest_order_replaces(service: Served) -> None:
    service.book().put_ladder((Tier(from_credits=20, unit_price=d("8.00")),), valid_from=SEPTEMBER)

    found = service.book().positions().replacement

    assert found is not None
    assert ("smallest_order", 20, d("8.00")) == (found.basis, found.quantity, found.unit_price)


def test_a_job_says_what_its_credits_cost_to_replace_then_and_now(example: Served) -> None:
    """ALDER's 96 cost 678.40; on 9 September the last purchase was of 100 at 7.90, today that is sold at 8.00."""
    book = example.book()
    assert (None, None) == (book.job(job="J-1").uses[0].replaced, book.job(job="J-1").replaced_now)
    book.put_ladder(TIERS, valid_from=SEPTEMBER)
    book.put_ladder((Tier(from_credits=1, unit_price=d("8.00")),), valid_from=TODAY)
    book.record(Use(member="ALDER", quantity=4, item="CAL-S", job="J-1"), effective_on=TODAY)
    book.record(Reversal(entry=11, quantity=24), effective_on=TODAY)

    found = book.job(job="J-1")

    assert [(72, d("508.80"), d("568.80")), (4, d("28.27"), d("32.00"))] == [
        (each.left, each.cost, each.replaced) for each in found.uses
    ]
    assert (76, d("608.00")) == (found.credits, found.replaced_now)
    assert found.replacement is not None
    assert (TODAY, 100, d("8.00")) == (
        found.replacement.ladder, found.replacement.quantity, found.replacement.unit_price,
    )  # fmt: skip


def test_what_a_credit_costs_to_replace_stands_beside_a_member_s_cost(example: Served) -> None:
    assert example.book().member_cost(member="ALDER").replacement is None
    example.book().put_ladder(TIERS, valid_from=SEPTEMBER)

    found = example.book("clerk").member_cost(member="ALDER").replacement

    assert found == example.book().positions().replacement
    assert found is not None
    assert (100, d("7.90")) == (found.quantity, found.unit_price)


def test_a_plan_counts_from_the_day_that_it_was_made_on(example: Served) -> None:
    book = example.book()
    book.put_ladder(TIERS, valid_from=SEPTEMBER)
    book.plan_orders((Needs(member="ALDER", credits=(0, 700)),), first_month="2026-11", opening=0)

    def basis(on: date) -> str | None:
        found = book.quote(member="ALDER", credits=1, on=on).replacement
        return None if found is None else found.basis

    assert ["last_purchase", "planned"] == [basis(on) for on in (date(2026, 11, 9), TODAY)]
