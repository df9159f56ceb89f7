"""Statements on paper: every figure is there, long ones go on over pages, and nothing that people write breaks them."""

from dataclasses import replace
from datetime import date

import pytest

from pool_api.domain.entries import Charge, Draw, Reversal
from pool_api.domain.pool import Member, Policy
from pool_api.reports.cautions import ROAD_USE, SETTLEMENT
from pool_api.reports.printed import MOST_LINES, statement_pdf
from pool_api.reports.statement import Line
from tests.domain.examples import worked_example
from tests.domain.journals import CODES, MONTHS, Journal, bought, under
from tests.reports.made import HASH, RIVERSIDE, busy_month, statement_of
from tests.reports.papers import off_the_page, pages

DOGWOOD = """\
What happened
entry day what credits amount, EUR
held when the month began 0
1 2026-11-01 opening 20
6 2026-11-05 loan from BIRCH 24
7 2026-11-06 loan from CEDAR 30
8 2026-11-12 return to BIRCH −10
10 2026-11-16 draw from stock 60 424.00
14 2026-11-20 use of TUNE-1 on job J-1 −70 522.14
held when the month ended 54
Blended unit cost
924.93 EUR for 124 credits: 7.4591 EUR a credit. What left was costed from these credits together.
own credits of the month credits cost, EUR
its own when the month began 20 190.00
drawn from stock 60 424.00
come from other members by loans 44 310.93
available 124 924.93
used on jobs 70 522.14
its own when the month ended 54 402.79
Loans
from to what became of it credits unit price amount, EUR
BIRCH DOGWOOD settled 14 7.0667 98.93
CEDAR DOGWOOD settled 30 7.0667 212.00
Due
line amount, EUR
draws from stock −424.00
loans settled to it −310.93
due −734.93
of it carried forward to the next month 0.00
of it settled by the payments below −734.93
Above zero is owed to DOGWOOD, below zero DOGWOOD owes.
Payments
payment to make or to expect amount, EUR paid unpaid
2026-11-2 to make to ALDER 491.21 0.00 491.21
2026-11-3 to make to CEDAR 243.72 0.00 243.72
Signed
"""

HOSTILE = (
    "#panic()",
    '#read("/etc/passwd")',
    "*bold* _it_ $x^2$ `raw` = head <label> @ref",
    "]}) // end \\",
    "\u202egnp.exe",
    "\u0007\u0000\u001b[31m",
    "W" * 200,
    "日本語 שלום مرحبا Ω ж € −",
    "  ",
)


def test_the_worked_example_is_printed_to_the_last_figure() -> None:
    (said,) = pages(statement_pdf(statement_of(worked_example(), "DOGWOOD", closed=True)))

    assert DOGWOOD in said
    assert HASH in said
    assert "page 1 of 1" in said
    for caution in (*SETTLEMENT, ROAD_USE):
        assert caution in " ".join(said.split())
    assert "For Dogwood Workshop" in said
    assert 2 == said.count("place, day, name and signature")


def test_one_that_lent_sees_what_that_brought() -> None:
    (said,) = pages(statement_pdf(statement_of(worked_example(), "BIRCH", closed=True)))

    assert "What credits lent brought, less what they had cost: −0.01 EUR." in said
    assert "to make to ALDER 961.07" in said


def test_only_a_draft_is_marked_on_every_page() -> None:
    draft, closed = (
        pages(statement_pdf(statement_of(busy_month(150), "ALDER", closed=each))) for each in (False, True)
    )

    assert 1 < len(draft)
    assert all("DRAFT" in page for page in draft)
    assert "Draft: the month is open" in draft[0]
    assert not any("draft" in page.lower() for page in closed)


def test_a_long_list_goes_on_over_pages_under_its_head() -> None:
    made = statement_of(busy_month(300), "ALDER", closed=True)
    found = pages(statement_pdf(made))

    said = "\n".join(found)
    assert all(f"{line.entry} {line.on} {line.what}" in said for line in made.lines)
    listed = [page for page in found if "use of CAL-M" in page]
    assert 3 < len(listed)
    assert all("entry day what credits amount, EUR" in page for page in listed)
    assert [f"page {place} of {len(found)}" in page for place, page in enumerate(found, start=1)] == [True] * len(found)
    assert all("Statement · ALDER, November 2026, Alder Workshop" in page for page in found[1:])


def test_of_a_list_that_nobody_reads_on_paper_days_and_kinds_stand_together() -> None:
    made = statement_of(busy_month(MOST_LINES + 100), "ALDER", closed=True)
    found = pages(statement_pdf(made))

    said = "\n".join(found)
    assert 3 >= len(found)
    assert "There are 2,101 lines; those of one day and kind stand together here." in said
    first = [line for line in made.lines if line.on == "2026-11-01" and line.kind == "use"]
    assert 70 == len(first)
    credits, cost = -sum(line.credits for line in first), sum(line.cost or 0 for line in first)
    assert f"2 2026-11-01 70 entries from 2 on: use −{credits} {cost // 100:,}.{cost % 100:02d}" in said
    assert "1 2026-11-01 purchase of 21000 into ALDER, paid by ALDER 21,000 147,000.00" in said


@pytest.mark.parametrize("text", HOSTILE)
def test_what_people_write_is_shown_and_never_obeyed(text: str) -> None:
    plain = statement_of(worked_example(), "BIRCH")
    shop = Member(code="BIRCH", name=text, joined_on=date(2026, 11, 1))
    line = Line(entry=99, on="2026-11-30", kind="use", what=text, credits=0, cost=0)
    pool = replace(RIVERSIDE, name=text[:100], vendor=text)
    made = replace(plain, member=shop, pool=pool, lines=(*plain.lines, line), cautions=(text,))

    content = statement_pdf(made)

    said = "".join(pages(content)).replace("\u200b", "").replace("\n", "").replace("\ufffe", "")
    for word in text.split():
        shown = "".join(each if each.isprintable() else "\N{REPLACEMENT CHARACTER}" for each in word)
        if shown.isascii():
            assert 3 <= said.count(shown)
    assert "−961.07" in said
    assert not set("\u202e\u0007\u0000\u001b") & set(said)
    assert [] == off_the_page(content)


def test_the_same_statement_gives_the_same_bytes() -> None:
    one, two = (statement_pdf(statement_of(worked_example(), "CEDAR")) for _ in range(2))

    assert one == two
    assert b"CreationDate" not in one


@pytest.mark.parametrize("code", CODES)
def test_a_member_without_anything_gets_a_statement_too(code: str) -> None:
    (said,) = pages(statement_pdf(statement_of(Journal(), code)))

    assert "No credits were available this month" in said
    assert "Nothing to pay and nothing to expect for this month." in said
    assert "what became of it" not in said


def test_what_no_payment_can_settle_is_told() -> None:
    journal = Journal()
    journal.write(Charge(from_member="BIRCH", to_member="ALDER", amount=5_00, reason="freight"))
    apart = under(Policy(no_payments_between=(("ALDER", "BIRCH"),)))
    made = statement_of(journal, "BIRCH", rules=apart)

    (said,) = pages(statement_pdf(made))

    assert "of it settled by the payments below 0.00\nof it that no payment settles yet −5.00" in said


def test_a_difference_by_reversals_of_earlier_months_is_explained() -> None:
    journal = Journal()
    journal.write(bought(100, 700_00), 1)
    draw = journal.write(Draw(member="BIRCH", quantity=10), 2)
    journal.write(Charge(from_member="BIRCH", to_member="ALDER", amount=5_00, reason="freight"), 3)
    journal.write(Draw(member="BIRCH", quantity=10), 3, month=1)
    journal.write(Reversal(entry=draw, quantity=10), 4, month=1)
    made = statement_of(journal, "BIRCH", month=MONTHS[1])

    (said,) = pages(statement_pdf(made))

    assert f"reversal of entry {draw}: draw from stock −10" in said
    assert "taken back by reversals of earlier months −10 −70.00" in said
    assert "reversals of earlier months 70.00" in said
