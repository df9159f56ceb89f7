"""The counter's two jobs from start to end: credits seen, lent and drawn; used on a job, a mistake undone, what it
earned. Figures are those of the worked example, as in tests/rest/test_worked_example.py."""

from datetime import date
from decimal import Decimal

import pytest
from playwright.sync_api import ViewportSize, expect
from pool_client.models.catalogue import Item
from pool_client.models.entries import Draw, Loan, Purchase, Return, Use

from tests.browser.conftest import Open
from tests.browser.walking import EVERYWHERE, begin, record
from tests.rest.test_worked_example import EXAMPLE
from tests.served import FIRST_DAY, Served

STOCKED, LENT = 5, 10
"""So many lines of the example go before: until all have drawn once, until nothing is left but uses."""
NOTE = "customer waiting, red van"


@pytest.fixture
def month(house: Served) -> date:
    return house.clock.at.date().replace(day=1)


@EVERYWHERE
def test_credits_are_seen_lent_given_back_and_drawn(
    house: Served, pool: str, month: date, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    book = house.book(f"{pool} keeper", pool)
    record(book, EXAMPLE[:STOCKED], month=month)
    walk = begin(house, pool, open_page, size, script=script)
    walk.reads(
        "Stock 150 credits", "DOGWOOD Dogwood Workshop 20 credits", "Nobody has credits of another to make good."
    )
    walk.seen("now")

    for lender, now, then, quantity in (("BIRCH", 150, 126, 24), ("CEDAR", 80, 50, 30)):
        walk.follow(f"{lender} lends")
        walk.fill(Credits=str(quantity))
        if lender == "BIRCH":
            walk.main.get_by_label("Note").fill(NOTE)
        walk.check(f"{lender} will hold {then} (now {now}).", "DOGWOOD will hold")
        walk.seen("lending")
        entry = walk.record("Lend")
        assert Loan(lender=lender, borrower="DOGWOOD", quantity=quantity) == entry.body
        assert (NOTE if lender == "BIRCH" else "") == entry.note
        walk.follow("Back to now")

    walk.follow("DOGWOOD gives BIRCH credits back")
    walk.fill(Credits="10")
    walk.check("14 credits of that loan stay open.")
    assert Return(borrower="DOGWOOD", lender="BIRCH", quantity=10) == walk.record("Give back").body
    walk.follow("Back to now")
    walk.reads("DOGWOOD has 14 of BIRCH", "DOGWOOD has 30 of CEDAR")

    walk.follow("Enter a purchase into stock")
    walk.choose("Who paid", "CEDAR")
    walk.fill(Credits="100")
    walk.main.get_by_label("Amount in EUR").fill("790.00")
    walk.check("The stock will hold 250 (now 150).", "That is 7.9000 a credit.")
    bought = walk.record("Enter").body
    assert isinstance(bought, Purchase)
    assert ("CEDAR", "stock", 100, Decimal("790.00")) == (bought.paid_by, bought.into, bought.quantity, bought.amount)
    walk.follow("Back to now")

    walk.follow("DOGWOOD draws from stock")
    walk.fill(Credits="60")
    walk.check("The stock will hold 190 (now 250).", "DOGWOOD will hold 124 (now 64).")
    assert Draw(member="DOGWOOD", quantity=60) == walk.record("Draw").body
    walk.follow("Back to now")

    # p = 4240/600, closing stock 190 for 1,342.67; before any use each holds what the table has as available
    walk.reads("Stock 190 credits", "Pool price 7.0667", "Stock is worth 1,342.67")
    found = book.positions()
    assert (190, {"ALDER": 120, "BIRCH": 136, "CEDAR": 50, "DOGWOOD": 124}) == (
        found.stock,
        {each.member: each.held for each in found.members},
    )
    assert [("BIRCH", 14), ("CEDAR", 30)] == [(each.lender, each.quantity) for each in found.open_loans]
    checked = book.verification()
    assert (True, LENT, book.entry(number=LENT).entry.hash) == (checked.sound, checked.entries, checked.head)


@EVERYWHERE
def test_credits_are_used_a_mistake_is_undone_and_the_job_says_what_it_earned(
    house: Served, pool: str, month: date, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    book = house.book(f"{pool} keeper", pool)
    record(book, EXAMPLE[:LENT], month=month)
    book.put_catalogue((Item(code="CAL-M", name="Calibration, medium", credits=96),), valid_from=FIRST_DAY)
    walk = begin(house, pool, open_page, size, script=script)

    walk.follow("ALDER uses credits")
    walk.fill(Item="CAL-M")
    walk.main.get_by_label("Job").fill("J-1")
    walk.main.get_by_label("Charged to the customer").fill("900.00")
    # nobody has said how many: the catalogue does; the table has 96 used for 678.40
    walk.check("ALDER will hold 24 (now 120).", "They cost about 678.40", "The job earns about 221.60.")
    expect(walk.field("Credits")).to_have_value("96")
    walk.seen("using")
    entry = walk.record("Use")
    assert Use(member="ALDER", quantity=96, item="CAL-M", job="J-1", price=Decimal("900.00")) == entry.body
    walk.reads("What job J-1 comes to", "They cost 678.40", "Charged 900.00", "Earned 221.60")
    walk.seen("used")
    job = book.job(job="J-1")
    assert (96, Decimal("678.40"), Decimal("221.60")) == (job.credits, job.cost, job.margin)
    walk.follow("Back to now")

    walk.follow("CEDAR uses credits")
    walk.fill(Item="CAL-M", Credits="50")
    walk.main.get_by_label("Job").fill("J-3")
    walk.check("CEDAR will hold 0 (now 50).")
    mistaken = walk.record("Use")
    walk.follow("Undo")
    walk.fill(Credits_to_undo="10")
    walk.main.get_by_label("Why").fill("counted twice")
    walk.check("CEDAR will hold 10 (now 0).")
    walk.press("Undo it: record that")
    undone = walk.receipt()
    walk.reads(f"Entry {mistaken.number} undone: 10 credits")
    assert "counted twice" == undone.note
    walk.follow(f"Entry {mistaken.number}")
    # the table has 40 used for 282.66
    walk.reads("Undone 10 credits", "What job J-3 comes to", "Credits 40", "They cost 282.66")
    job = book.job(job="J-3")
    assert (40, Decimal("282.66")) == (job.credits, job.cost)
    assert 10 == {each.member: each.held for each in book.positions().members}["CEDAR"]
    assert book.verification().sound
