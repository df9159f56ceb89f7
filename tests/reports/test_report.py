"""The keeper's report of a month: what its plots show, in words, in tables and as vector drawings."""

import re
import threading
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import pairwise
from xml.etree import ElementTree as ET

from hypothesis import given, settings

from pool_api.domain.entries import Draw, Loan, Opening, Return, Reversal
from pool_api.domain.layers import Costed
from pool_api.reports.overview import MemberCost, MonthCosts, Overview, Pair
from pool_api.reports.plots import MOST_BARS, MOST_LINES, costs_plot, lending_plot, stock_plot
from pool_api.reports.report import report_pdf
from tests.domain.examples import worked_example
from tests.domain.journals import MONTHS, Journal, Wish, accepted, bought, openings, wishes
from tests.reports.made import USUAL, overview_of
from tests.reports.papers import IMAGE, PATH, kinds_of_objects, off_the_page, pages


def test_the_worked_example_in_figures() -> None:
    made = overview_of(worked_example())

    (costs,) = made.costs
    assert ["7.0667", "7.0667", "7.0666", "7.4591"] == [
        made.pool.currency.unit_text(each.unit_cost) for each in costs.members
    ]
    levels = {level.on.day: level.credits for level in made.stock}
    assert {1: 0, 2: 500, 3: 150, 14: 150, 15: 250, 16: 190, 30: 190} == {
        day: levels[day] for day in (1, 2, 3, 14, 15, 16, 30)
    }
    assert {"BIRCH": (14, 0), "CEDAR": (30, 0), "DOGWOOD": (0, 44)} == made.balances()
    assert [("BIRCH", "DOGWOOD", 24, 10, 14, 98_93, 0), ("CEDAR", "DOGWOOD", 30, 0, 30, 212_00, 0)] == [
        (each.lender, each.borrower, each.lent, each.returned, each.settled, each.amount, each.open)
        for each in made.pairs
    ]


@settings(deadline=None, max_examples=60)
@given(opening=openings, asked=wishes(60))
def test_the_stock_ends_where_the_next_month_begins(opening: Opening | None, asked: list[Wish]) -> None:
    journal = accepted(opening, asked, USUAL, in_order=False)
    made = [overview_of(journal, month) for month in MONTHS]

    assert [each.stock[-1].credits for each in made[:-1]] == [each.stock_before for each in made[1:]]
    for each in made:
        assert each.sheet.month.last.day == len(each.stock)
        assert sum(lent for lent, _ in each.balances().values()) == sum(taken for _, taken in each.balances().values())


def test_a_month_that_is_not_over_ends_today_or_with_its_last_entry() -> None:
    journal = worked_example()

    assert date(2026, 11, 25) == overview_of(journal, today=date(2026, 11, 25)).stock[-1].on
    assert date(2026, 11, 20) == overview_of(journal, today=date(2026, 11, 3)).stock[-1].on
    assert date(2026, 12, 1) == overview_of(journal, MONTHS[1], today=date(2026, 11, 30)).stock[-1].on


def test_a_reversal_takes_back_what_was_lent_and_one_of_an_earlier_month_counts_as_returned() -> None:
    journal = Journal()
    journal.write(bought(100, 700_00), 1)
    journal.write(Draw(member="BIRCH", quantity=50), 1)
    loan = journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=20), 2)
    journal.write(Reversal(entry=loan, quantity=5), 3)
    back = journal.write(Return(lender="BIRCH", borrower="CEDAR", quantity=4), 4)
    journal.write(Reversal(entry=loan, quantity=6), 5, month=1)
    journal.write(Reversal(entry=back, quantity=1), 6, month=1)

    first, second = (overview_of(journal, month).pairs for month in MONTHS[:2])

    assert [(15, 4, 11)] == [(each.lent, each.returned, each.settled) for each in first]
    assert [(1, 6, 0)] == [(each.lent, each.returned, each.settled) for each in second]


def of_many(count: int) -> Overview:
    """Give an overview of so many members, each of which lent something to the next."""
    codes = [f"SHOP-{place:03d}" for place in range(count)]
    costs = MonthCosts(
        month="2026-11",
        price=Fraction(700),
        members=tuple(
            MemberCost(code, Costed(place + 1, 700 * (place + 1)), Fraction(700 + place))
            for place, code in enumerate(codes)
        ),
    )
    pairs = tuple(
        Pair(lender=lender, borrower=borrower, lent=place, returned=0, settled=place, amount=700 * place, open=0)
        for place, (lender, borrower) in enumerate(pairwise(codes), start=1)
    )
    return replace(overview_of(worked_example()), costs=(costs,), pairs=pairs)


def test_each_plot_is_a_vector_drawing_that_can_be_told_apart_without_colour() -> None:
    made = overview_of(worked_example())
    for plot in (costs_plot(made), stock_plot(made), lending_plot(made)):
        drawn = ET.fromstring(plot.svg)  # noqa: S314 - drawn here
        names = {each.tag.rpartition("}")[2] for each in drawn.iter()}
        assert "path" in names
        assert "image" not in names
        assert plot.alt.endswith(".")
    costs = costs_plot(made).svg
    assert 3 <= len(set(re.findall(r"stroke-dasharray: ([0-9. ,]+)", costs)))
    assert "pattern" in lending_plot(made).svg


def test_the_report_has_the_plots_the_words_and_the_tables() -> None:
    content = report_pdf(overview_of(worked_example(), closed=True))
    said = "\n".join(pages(content))

    assert {PATH} <= kinds_of_objects(content)
    assert IMAGE not in kinds_of_objects(content)
    assert [] == off_the_page(content)
    for row in (
        "DOGWOOD 7.4591",
        "pool price 7.0667",
        "2026-11-03 −350 150",
        "2026-11-15 +100 250",
        "CEDAR DOGWOOD 30 0 30 212.00 0",
        "BIRCH 150 / 1,060.00 7.0667 14 / 98.94 110 / 777.33 26 / 183.73 −0.01 −961.07",
    ):
        assert row in said
    assert "lowest 0 on 2026-11-01, highest 500 on 2026-11-02, 190 on 2026-11-30" in said
    assert "CEDAR lent most, 30; DOGWOOD borrowed most, 44" in said
    assert "DRAFT" not in said


def test_an_empty_month_has_a_report_too() -> None:
    said = "\n".join(pages(report_pdf(overview_of(Journal()))))

    assert "DRAFT" in said
    assert "nobody had credits in 2026-11" in said
    assert "Nobody lent credits in 2026-11" in said


def test_warnings_are_told() -> None:
    journal = Journal()
    journal.write(Draw(member="BIRCH", quantity=10), 3)
    journal.write(bought(100, 700_00), 5)

    said = "\n".join(pages(report_pdf(overview_of(journal))))

    assert "stock, 2026-11-03: below zero by 10." in said


def test_the_same_overview_gives_the_same_bytes_whoever_draws_at_the_same_time() -> None:
    made, found = overview_of(worked_example()), set()
    drawing = [threading.Thread(target=lambda: found.add(report_pdf(made))) for _ in range(4)]
    for each in drawing:
        each.start()
    for each in drawing:
        each.join()

    assert 1 == len(found)


def test_where_there_are_many_the_ones_with_most_are_drawn_and_the_words_say_so() -> None:
    few, many = of_many(4), of_many(300)

    assert "drawn" not in costs_plot(few).alt + lending_plot(few).alt
    assert f"Of 300 members the {MOST_LINES} with most credits are drawn." in costs_plot(many).alt
    assert f"Of 300 members the {MOST_BARS} with most are drawn." in lending_plot(many).alt
    said = "\n".join(pages(report_pdf(many)))
    assert all(f"SHOP-{place:03d} {7 + place / 100:.4f}" in said for place in range(300))
    assert "SHOP-298 SHOP-299 299 0 299 2,093.00" in said
