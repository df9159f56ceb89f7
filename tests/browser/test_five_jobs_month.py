"""The keeper's month from start to end: matched with the vendor's record, mended, signed off, closed and paid; and the
question of months later, why a number is what it is. Figures are those of the worked example, as in
tests/rest/test_worked_example.py."""

from dataclasses import replace
from decimal import Decimal

from playwright.sync_api import FilePayload, ViewportSize, expect
from pool_client.models.entries import Draw, Payment, Use

from tests.browser.conftest import Open
from tests.browser.walking import EVERYWHERE, Walk, begin, record
from tests.rest.test_worked_example import EXAMPLE, MONTH
from tests.served import FIRST_DAY, Served

SEPTEMBER = "September 2026"
EXPORT = (
    b"Booked,Action,Other account,Credits,Remark,Balance after\n"
    b"2026-09-02,Top-up,,+500,,500\n"
    b"2026-09-03,Sent,nv-birch,-150,,350\n"
    b"2026-09-03,Sent,nv-cedar,-80,,270\n"
    b"2026-09-07,Top-up,,+100,,370\n"
    b"2026-09-08,Sent,nv-dogwood,-60,,310\n"
    b"2026-09-09,Unlock,,-96,a van,214\n"
)
"""What the vendor shows of the custodian's account: 190 in stock and ALDER's 24 are left of it."""
NETS = {"ALDER": "1452.28", "BIRCH": "-961.07", "CEDAR": "243.72", "DOGWOOD": "-734.93"}
PAYMENTS = (("BIRCH", "ALDER", "961.07"), ("DOGWOOD", "ALDER", "491.21"), ("DOGWOOD", "CEDAR", "243.72"))


@EVERYWHERE
def test_a_month_is_matched_mended_closed_stated_and_paid(
    house: Served, pool: str, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    keeper = house.client(f"{pool} keeper")
    terms = keeper.book(pool).terms()
    keeper.put_pool(replace(terms.value, custodian="ALDER"), tag=terms.tag)
    forgotten = EXAMPLE[10]
    record(keeper.book(pool), [each for each in EXAMPLE if each != forgotten], month=FIRST_DAY)
    walk = begin(house, pool, open_page, size, script=script)
    match_and_mend(walk)
    close_and_state(walk)
    tick_off(walk)

    settlement = walk.book.settlement(month=MONTH)
    assert {member: Decimal(net) for member, net in NETS.items()} == {e.member: e.amount for e in settlement.nets}
    assert [(*each[:2], Decimal(each[2]), Decimal(each[2])) for each in PAYMENTS] == [
        (each.payer, each.payee, each.amount, each.paid) for each in settlement.payments
    ]
    signed = walk.book.reconciliation(month=MONTH).sign_off
    assert signed is not None
    assert (15, False) == (signed.entry, signed.changed)
    checked = walk.book.verification()
    assert (True, 19, walk.book.entry(number=19).entry.hash) == (checked.sound, checked.entries, checked.head)


def match_and_mend(walk: Walk) -> None:
    """Bring in the vendor's file, record what it shows and the book lacks, and sign the month off."""
    walk.place("Vendor's record")
    walk.follow("Bring in a file")
    walk.field("The file").set_input_files(FilePayload(name="export.csv", mimeType="text/csv", buffer=EXPORT))
    walk.choose("Whose account it is", "ALDER")
    walk.press("See how it is understood")
    walk.press("That is right: take it")
    walk.told("6 new rows, 0 on file already, 0 set aside")
    walk.follow(f"Compare {SEPTEMBER}")

    walk.reads("Missing in journal", "Record a use: 96 credits of ALDER")
    card = walk.main.locator("li.card", has_text="Record a use: 96 credits of ALDER")
    card.get_by_label("Item").fill("CAL-M")
    card.get_by_label("Job").fill("J-1")
    card.get_by_text("Change it first").click()
    card.get_by_label("Charged to the customer").fill("900.00")
    card.get_by_label("Why", exact=True).fill("forgotten at the counter")
    walk.seen("mending")
    card.get_by_role("button", name="Mend it").click()
    walk.told("Recorded as entry 14.")
    mend = walk.book.entry(number=14).entry
    assert Use(member="ALDER", quantity=96, item="CAL-M", job="J-1", price=Decimal("900.00")) == mend.body
    walk.reads("Nothing: book and record agree, or what differs is decided.")
    walk.press("Sign it off")
    walk.told("Recorded as entry 15.")


def close_and_state(walk: Walk) -> None:
    """Close the month as its preview shows it, and take a statement along."""
    walk.place("Months")
    walk.follow(SEPTEMBER)
    walk.follow("Settlement")
    for member, net in NETS.items():
        shown = f"{Decimal(net):,}".replace("-", "\N{MINUS SIGN}")
        expect(walk.main.get_by_role("link", name=f"Why the net of {member} is {shown}")).to_have_text(shown)
    walk.reads("3 payments; no plan has fewer.")
    walk.seen("settlement")
    walk.press("Close the month")
    walk.told(f"{SEPTEMBER} is closed. Recorded as entry 16.")
    walk.seen("closed")

    walk.follow("month's sheet")
    walk.follow("Statement of BIRCH")
    walk.reads("Due \N{MINUS SIGN}961.07", "to make ALDER 961.07 0.00")
    with walk.page.expect_download() as downloading:
        walk.follow("PDF, to print and sign")
    assert downloading.value.path().read_bytes().startswith(b"%PDF")


def tick_off(walk: Walk) -> None:
    """Enter that everybody has paid."""
    walk.place("Now")
    for number, (payer, payee, amount) in enumerate(PAYMENTS, start=1):
        walk.follow(f"Tick off: {payer} has paid {payee}")
        walk.check(f"{amount} of the settlement payment {MONTH}-{number} count as paid.")
        paid = walk.record("Enter").body
        assert isinstance(paid, Payment)
        assert (Decimal(amount), f"{MONTH}-{number}") == (paid.amount, paid.pays)
        walk.follow(f"Who else has to pay for {SEPTEMBER}")
    walk.reads("All of it is paid.")
    walk.seen("paid")


@EVERYWHERE
def test_months_later_a_number_is_answered_for(
    house: Served, pool: str, open_page: Open, size: ViewportSize, *, script: bool
) -> None:
    book = house.book(f"{pool} keeper", pool)
    record(book, EXAMPLE, month=FIRST_DAY)
    closed = book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)
    record(book, [(3, Draw(member="BIRCH", quantity=90))], month=house.clock.at.date())
    walk = begin(house, pool, open_page, size, script=script)

    walk.place("Months")
    walk.follow(SEPTEMBER)
    walk.follow("Why BIRCH's due is \N{MINUS SIGN}961.07")
    expect(walk.page.get_by_role("heading", level=1)).to_have_text("Why \N{MINUS SIGN}961.07?")
    walk.seen("why")
    walk.follow("BIRCH: due, draws")
    expect(walk.page.get_by_role("heading", level=1)).to_have_text("Why \N{MINUS SIGN}1,060.00?")
    walk.reads("entry 4")
    walk.follow("entry 4: cost")
    # p = 4240/600: 150 of 600 credits that cost 4,240.00
    walk.reads("1,060.00 = 4,240.00 × 150 / 600")
    walk.follow("stock: available, cost")
    walk.follow("stock: bought, cost")
    walk.reads("4,240.00 = 3,450.00 + 790.00")
    walk.follow("entry 2")
    walk.reads("ALDER paid 3,450.00 for 500 credits into stock.", "2 Sep 2026", "by keeper")
    walk.is_as_recorded(book.entry(number=2).entry)

    walk.place("Entries")
    walk.main.get_by_label("Job").fill("J-1")
    walk.press("Find")
    walk.follow("11")
    walk.reads("ALDER used 96 credits on job J-1", "They cost 678.40", "Charged 900.00", "Earned 221.60")
    walk.follow("All entries")
    walk.follow("Check the whole book")
    walk.told("It holds.")
    walk.reads("Every entry from 1 to 16 is there")
    walk.seen("checked")
    checked = book.verification()
    assert (True, 16, book.entry(number=16).entry.hash) == (checked.sound, checked.entries, checked.head)
    walk.reads(checked.head)

    walk.place("Months")
    walk.follow(f"entry {closed.number}")
    walk.reads("September 2026 closed")
    walk.is_as_recorded(closed)
    walk.place("Months")
    walk.follow(SEPTEMBER)
    walk.follow("Statement of BIRCH")
    stated = book.statement(month=MONTH, member="BIRCH")
    explained = book.explanation(month=MONTH, figure="members.BIRCH.due.total").items[0]
    assert Decimal("-961.07") == stated.due_total == explained.value.shown
    walk.reads("Draws from stock \N{MINUS SIGN}1,060.00", "Loans settled from it 98.93", stated.rests_on.hash)
    walk.follow("Why the due of BIRCH is \N{MINUS SIGN}961.07")
    walk.reads("Why \N{MINUS SIGN}961.07?")
