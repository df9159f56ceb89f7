"""The statement as a workbook: its formulas, computed anew by another library, give the statement's figures."""

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from pool_api.domain.entries import Draw, Opening, Return
from pool_api.domain.layers import Costed
from pool_api.domain.pool import LoansAtClose, Member, Policy
from pool_api.domain.sheets import Lending, MemberSheet, OpenLoan
from pool_api.domain.values import Currency, Month
from pool_api.reports.spreadsheet import statement_xlsx
from pool_api.reports.statement import Line, Statement, shortened
from pool_api.reports.written import GAINED, PASSED_ON, amount_of, gained
from tests.domain.examples import worked_example
from tests.domain.journals import (
    CODES,
    MONTHS,
    Journal,
    Rules,
    Wish,
    accepted,
    all_rules,
    bought,
    openings,
    under,
    use,
    wishes,
)
from tests.reports.made import RIVERSIDE, busy_month, statement_of
from tests.reports.workbooks import changed, formula_cells, opened, recomputed, row_of

HELD = "held when the month ended"
AVAILABLE = "available"
UNIT_COST = "blended unit cost: cost over credits"
CLOSING = "its own when the month ended"
DUE = "due: above zero is owed to the member"
SETTLED = "of it for payments to settle"
LEFT = "what they leave of the due (0.00 when all is settled)"

HOSTILE = ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", '=HYPERLINK("x")', "_x0041_", 'a & b <c> "d"', "{=1}", "＝1")


def agrees(made: Statement, content: bytes, folder: Path) -> None:
    """Every formula gives what stands in its cell, and the statement's figures are among them."""
    found, shown = recomputed(content, folder), opened(content, shown=True)
    currency, sheet = made.pool.currency, made.sheet

    def money(cell: str) -> str:
        return f"{found[cell] + 0.0:.{currency.decimals}f}"

    assert {cell: f"{float(shown[cell].value):.9f}" for cell in found} == {
        cell: f"{float(value):.9f}" for cell, value in found.items()
    }
    assert made.closing_held == found[f"E{row_of(content, HELD)}"]
    available = row_of(content, AVAILABLE)
    assert (sheet.available.quantity, currency.text(sheet.available.cost)) == (
        found[f"E{available}"],
        money(f"F{available}"),
    )
    closing = row_of(content, CLOSING)
    assert (sheet.closing.quantity, currency.text(sheet.closing.cost)) == (found[f"E{closing}"], money(f"F{closing}"))
    assert currency.text(sheet.due.total) == money(f"F{row_of(content, DUE)}")
    rest = sheet.due.total - made.carried - made.small
    assert currency.text(rest) == money(f"F{row_of(content, SETTLED)}")
    if made.transfers:
        left = rest - sum(each.amount for each in made.transfers)
        assert currency.text(left) == money(f"F{row_of(content, LEFT)}")
    if sheet.unit_cost is not None:
        price = found[f"F{row_of(content, UNIT_COST)}"]
        assert price == pytest.approx(float(sheet.unit_cost) / 10**currency.decimals, rel=1e-12)


@pytest.mark.parametrize("code", CODES)
def test_the_worked_example_recomputes_to_the_cent(code: str, tmp_path: Path) -> None:
    made = statement_of(worked_example(), code, closed=True)

    agrees(made, statement_xlsx(made), tmp_path)


@settings(max_examples=8, deadline=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
@given(
    opening=openings,
    asked=wishes(60),
    code=st.sampled_from(CODES),
    month=st.sampled_from(MONTHS[:2]),
    currency=st.sampled_from(("EUR", "JPY", "KWD")),
    rules=all_rules,
)
def test_whatever_happened_recomputes_to_the_smallest_unit(
    opening: Opening | None, asked: Sequence[Wish], code: str, month: Month, currency: str, rules: Rules, tmp_path: Path
) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    pool = replace(RIVERSIDE, currency=Currency(currency))
    made = statement_of(journal, code, month=month, pool=pool, rules=rules)

    agrees(made, statement_xlsx(made), tmp_path)


@settings(deadline=None)
@given(opening=openings, asked=wishes(60), month=st.sampled_from(MONTHS[:2]), rules=all_rules)
def test_the_formulas_add_up_what_the_sheet_adds_up(
    opening: Opening | None, asked: Sequence[Wish], month: Month, rules: Rules
) -> None:
    journal = accepted(opening, asked, rules, in_order=False)
    for code in CODES:
        made = statement_of(journal, code, month=month, rules=rules)
        sheet, due = made.sheet, made.sheet.due

        assert sheet.draws.cost == -due.draws
        assert sheet.uses.cost == sum(line.cost or 0 for line in made.lines if line.kind == "use")
        settled: list[Lending | OpenLoan] = [*made.loans, *made.carried_settled]
        assert due.loans_from_it == sum(amount_of(each) for each in settled if each.lender == code)
        assert due.loans_to_it == -sum(amount_of(each) for each in settled if each.borrower == code)
        parts = gained(sheet).values()
        assert sheet.available == (sum(part.quantity for part in parts), sum(part.cost for part in parts))
        passed_on = [getattr(sheet, name) for name in PASSED_ON]
        assert sheet.available.quantity == sum(part.quantity for part in passed_on)
        if sheet.available.quantity:
            assert sheet.available.cost == sum(part.cost for part in passed_on)


def test_totals_follow_a_line_that_is_changed(tmp_path: Path) -> None:
    made = statement_of(worked_example(), "DOGWOOD", closed=True)
    content = statement_xlsx(made)
    draw = next(
        cell.row
        for (cell,) in opened(content, shown=False).iter_rows(min_col=3, max_col=3, min_row=11)
        if cell.value == "draw"
    )

    found = recomputed(changed(changed(content, f"F{draw}", 524), f"E{draw}", 70), tmp_path)

    assert made.closing_held + 10 == found[f"E{row_of(content, HELD)}"]
    assert 1024.93 == found[f"F{row_of(content, AVAILABLE)}"]
    assert pytest.approx(1024.93 / 124) == found[f"F{row_of(content, UNIT_COST)}"]
    assert 502.79 == found[f"F{row_of(content, CLOSING)}"]
    assert -834.93 == found[f"F{row_of(content, DUE)}"]
    assert -100 == found[f"F{row_of(content, LEFT)}"]


@pytest.mark.parametrize("text", HOSTILE)
def test_text_is_never_a_formula(text: str, tmp_path: Path) -> None:
    plain = statement_of(worked_example(), "DOGWOOD")
    line = Line(entry=99, on="2026-11-30", kind="use", what=text, credits=0, cost=0)
    shop = Member(code="DOGWOOD", name=text, joined_on=date(2026, 11, 1))
    made = replace(
        plain,
        member=shop,
        pool=replace(RIVERSIDE, name=text, vendor=text),
        lines=(*plain.lines, line),
        cautions=(text,),
    )

    content = statement_xlsx(made)

    cells = formula_cells(content).values()
    assert cells
    assert not [each for each in cells if text in each]
    shown = [cell.value for row in opened(content, shown=True).iter_rows() for cell in row]
    assert 5 <= shown.count(text)
    agrees(made, content, tmp_path)


def test_a_draw_of_an_earlier_month_that_gets_its_cost_now_is_in_the_totals(tmp_path: Path) -> None:
    journal = Journal()
    journal.write(Draw(member="BIRCH", quantity=10), 3)
    journal.write(bought(100, 700_00), 2, month=1)
    made = statement_of(journal, "BIRCH", month=MONTHS[1])
    assert (70_00, ()) == (made.sheet.draws.cost, made.lines)

    content = statement_xlsx(made)

    agrees(made, content, tmp_path)
    shown = opened(content, shown=True)
    assert 70 == shown[f"F{row_of(content, 'drawn in earlier months, costed now')}"].value


def test_credits_owed_from_before_do_not_lessen_what_was_available(tmp_path: Path) -> None:
    journal = Journal()
    journal.write(use("BIRCH", 4), 3)
    journal.write(bought(100, 700_00), 2, month=1)
    journal.write(Draw(member="BIRCH", quantity=12), 3, month=1)
    made = statement_of(journal, "BIRCH", month=MONTHS[1])
    assert (-4, 12, 4) == (made.sheet.opening.quantity, made.sheet.available.quantity, made.sheet.made_up.quantity)

    agrees(made, statement_xlsx(made), tmp_path)


def test_loans_that_are_carried_on_are_listed_and_settled_when_a_policy_says_so(tmp_path: Path) -> None:
    journal = worked_example()
    journal.write(Return(lender="CEDAR", borrower="DOGWOOD", quantity=12), 3, month=1)
    rules = under(Policy(loans_at_close=LoansAtClose.CARRY), Policy(), Policy())
    first, second = (statement_of(journal, "DOGWOOD", month=month, rules=rules) for month in MONTHS[:2])

    for made, words in (
        (first, {"carried on": 2, "open": 2, "settled": 0, "settled of earlier months": 0, "returned": 0}),
        (second, {"carried on": 0, "open": 0, "settled": 0, "settled of earlier months": 2, "returned": 1}),
    ):
        content = statement_xlsx(made)
        shown = [cell.value for (cell,) in opened(content, shown=True).iter_rows(min_col=4, max_col=4)]
        assert words == {each: shown.count(each) for each in words}
        agrees(made, content, tmp_path)


def test_control_characters_and_long_names_lose_nothing() -> None:
    name = "\u202e" + "W" * 200
    plain = statement_of(worked_example(), "BIRCH")
    made = replace(plain, member=replace(plain.member, name=name), pool=replace(plain.pool, name="bell \u0007"))
    content = statement_xlsx(made)

    assert name in [cell.value for row in opened(content, shown=True).iter_rows() for cell in row]


def test_a_list_that_a_sheet_has_no_room_for_is_shortened_to_days_and_kinds_and_still_adds_up(tmp_path: Path) -> None:
    plain = statement_of(busy_month(400), "ALDER")
    short = shortened(plain, 300)
    assert 31 == len(short.lines)
    assert plain is shortened(plain, 401)

    agrees(short, statement_xlsx(short), tmp_path)


def test_every_line_is_there_and_numbers_are_numbers() -> None:
    made = statement_of(busy_month(300), "ALDER")
    shown = opened(statement_xlsx(made), shown=True)

    lines = list(shown.iter_rows(min_row=12, max_row=11 + len(made.lines), values_only=True))
    assert [(each.entry, each.kind, each.what, each.credits) for each in made.lines] == [
        (row[0], row[2], row[3], row[4]) for row in lines
    ]
    assert {"ALDER"} == {made.member.code}
    assert all(isinstance(row[5], int | float) for row in lines)


def test_the_same_statement_gives_the_same_bytes() -> None:
    assert statement_xlsx(statement_of(worked_example(), "CEDAR")) == statement_xlsx(
        statement_of(worked_example(), "CEDAR")
    )


def test_a_draft_says_so_in_the_sheet_and_on_every_page() -> None:
    draft, closed = (
        opened(statement_xlsx(statement_of(worked_example(), "CEDAR", closed=closed)), shown=True)
        for closed in (False, True)
    )

    assert "Draft: the month is open" == draft["D3"].value
    assert "DRAFT: the month is open" == draft.oddHeader.right.text
    assert "Closed" == closed["D3"].value
    assert closed.oddHeader.right.text is None


def test_every_part_of_a_month_has_its_words() -> None:
    parts = {field.name for field in fields(MemberSheet) if field.type is Costed}

    assert parts == {*GAINED, *PASSED_ON, "available"}
