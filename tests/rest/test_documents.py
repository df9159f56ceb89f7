"""Statements and the month's report as files over HTTP: what is offered, to whom, and that all forms say the same."""

from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from pool_client.errors import NotAllowed
from starlette.responses import JSONResponse

from tests.reports.papers import pages
from tests.reports.workbooks import opened, recomputed, row_of
from tests.rest.test_worked_example import MONTH, record_example
from tests.served import SHOPS, Served

PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pytest.fixture
def example(service: Served) -> Served:
    record_example(service)
    return service


def text_of(content: bytes) -> str:
    return "\n".join(pages(content))


@pytest.mark.parametrize(
    ("accept", "media_type", "suffix"),
    [
        ("text/csv", "text/csv; charset=utf-8", "csv"),
        (PDF, PDF, "pdf"),
        (XLSX, XLSX, "xlsx"),
        (f"{XLSX};q=0.5, {PDF}", PDF, "pdf"),
        (f"image/png, {XLSX};q=0.1", XLSX, "xlsx"),
    ],
)
def test_a_statement_comes_in_the_form_that_is_liked_best(
    example: Served, accept: str, media_type: str, suffix: str
) -> None:
    answer = example.send("GET", f"/months/{MONTH}/statements/DOGWOOD", Accept=accept)

    assert (200, media_type) == (answer.status_code, answer.headers["content-type"])
    assert "Accept" == answer.headers["vary"]
    name = f'attachment; filename="statement-riverside-DOGWOOD-{MONTH}.{suffix}"'
    assert name == answer.headers["content-disposition"]
    assert "nosniff" == answer.headers["x-content-type-options"]


def test_no_other_form_is_given(example: Served) -> None:
    for path in (f"/months/{MONTH}/statements/DOGWOOD", f"/months/{MONTH}/report"):
        answer = example.send("GET", path, Accept="image/png")
        assert (406, "not-acceptable") == (answer.status_code, answer.json()["code"])


@pytest.mark.parametrize("member", SHOPS)
def test_the_files_have_the_figures_of_the_statement(example: Served, member: str, tmp_path: Path) -> None:
    book = example.book()
    statement = book.statement(month=MONTH, member=member)

    content = book.statement_xlsx(month=MONTH, member=member)
    found = recomputed(content, tmp_path)
    due = found[f"F{row_of(content, 'due: above zero is owed to the member')}"]
    closing = row_of(content, "its own when the month ended")
    assert float(statement.due_total) == due
    assert (statement.closing.own.quantity, float(statement.closing.own.cost)) == (
        found[f"E{closing}"],
        found[f"F{closing}"],
    )

    said = text_of(book.statement_pdf(month=MONTH, member=member))
    assert f"due {statement.due_total:,}".replace("-", "−") in said
    assert str(statement.rests_on.hash) in said
    assert str(statement.blended.unit_cost) in said
    for each in statement.payments:
        assert f"{each.other} {each.amount:,}" in said


def test_a_closed_month_has_no_draft_mark_and_its_payments_have_names(example: Served) -> None:
    book = example.book()
    assert "DRAFT" in text_of(book.statement_pdf(month=MONTH, member="BIRCH"))
    book.close(month=MONTH, digest=book.settlement(month=MONTH).digest)

    said = text_of(book.statement_pdf(month=MONTH, member="BIRCH"))

    assert "DRAFT" not in said
    assert "Closed" in said
    assert f"{MONTH}-1 to make to ALDER 961.07 0.00 961.07" in said
    shown = opened(book.statement_xlsx(month=MONTH, member="BIRCH"), shown=True)
    assert "Closed" == shown["D3"].value


@pytest.mark.parametrize(
    ("form", "accept"), [("json", "application/json"), ("csv", "text/csv"), ("pdf", PDF), ("xlsx", XLSX)]
)
def test_the_zip_of_a_month_has_each_member_s_own_statement(example: Served, form: str, accept: str) -> None:
    """Byte for byte the same."""
    answer = example.send("GET", f"/months/{MONTH}/statements?form={form}")

    assert (200, "application/zip") == (answer.status_code, answer.headers["content-type"])
    assert f'attachment; filename="statements-riverside-{MONTH}.zip"' == answer.headers["content-disposition"]
    with ZipFile(BytesIO(answer.content)) as found:
        assert found.testzip() is None
        assert [f"statement-riverside-{member}-{MONTH}.{form}" for member in SHOPS] == found.namelist()
        for member, name in zip(SHOPS, found.namelist(), strict=True):
            alone = example.send("GET", f"/months/{MONTH}/statements/{member}", Accept=accept)
            assert alone.content == found.read(name)
    assert answer.content == example.book().statements_zip(month=MONTH, form=form)


def test_the_zip_is_of_pdf_files_unless_another_form_is_named(example: Served) -> None:
    with ZipFile(BytesIO(example.book().statements_zip(month=MONTH))) as found:
        assert all(found.read(name).startswith(b"%PDF") for name in found.namelist())
    odd = example.send("GET", f"/months/{MONTH}/statements?form=docx")
    assert (422, "invalid-request") == (odd.status_code, odd.json()["code"])


def test_all_statements_at_once_are_for_the_keeper(example: Served) -> None:
    for key in ("clerk", "reader"):
        answer = example.send("GET", f"/months/{MONTH}/statements", key=key)
        assert (403, "not-permitted") == (answer.status_code, answer.json()["code"])
    assert 404 == example.send("GET", "/months/2001-01/statements").status_code


def test_a_statement_in_json_has_the_bytes_that_json_has_everywhere(example: Served) -> None:
    """Those of the standard library's json, as the framework uses it for all other answers."""
    example.send("POST", "/uses", {"member": "ALDER", "quantity": 1, "item": "CAL-M", "job": 'Ü "7"\u2028\\ 🔧'})
    answer = example.send("GET", "/months/2026-11/statements/ALDER")

    assert JSONResponse(answer.json()).body == answer.content
    assert "application/json" == answer.headers["content-type"]


def test_a_clerk_has_the_files_of_its_own_member_only(example: Served) -> None:
    clerk = example.book("clerk")

    assert clerk.statement_pdf(month=MONTH, member="ALDER").startswith(b"%PDF")
    assert clerk.statement_xlsx(month=MONTH, member="ALDER").startswith(b"PK")
    for refused in (
        lambda: clerk.statement_pdf(month=MONTH, member="BIRCH"),
        lambda: clerk.report(month=MONTH),
        lambda: clerk.report_pdf(month=MONTH),
    ):
        with pytest.raises(NotAllowed):
            refused()


def test_the_report_says_what_the_plots_show(example: Served) -> None:
    report = example.book("reader").report(month=MONTH)

    (costs,) = report.costs
    assert costs.pool_price is not None
    assert ("2026-09", "2120/3") == (costs.month, costs.pool_price.exact)
    assert {"ALDER": "7.0667", "BIRCH": "7.0667", "CEDAR": "7.0666", "DOGWOOD": "7.4591"} == {
        each.member: str(each.blended_unit_cost.shown) for each in costs.members
    }
    assert 0 == report.stock_before
    levels = {each.on.day: each.credits for each in report.stock}
    assert list(range(1, 31)) == list(levels)
    assert {1: 0, 2: 500, 3: 150, 6: 150, 7: 250, 8: 190, 30: 190} == {
        day: levels[day] for day in (1, 2, 3, 6, 7, 8, 30)
    }
    assert [("BIRCH", "DOGWOOD", 24, 10, 14, "98.93"), ("CEDAR", "DOGWOOD", 30, 0, 30, "212.00")] == [
        (each.lender, each.borrower, each.lent, each.returned, each.settled, str(each.amount))
        for each in report.lending
    ]
    assert 14 == report.rests_on.number
    assert "CEDAR lent most, 30; DOGWOOD borrowed most, 44" in report.words.lending


def test_the_report_of_the_present_month_ends_today(example: Served) -> None:
    report = example.book().report(month="2026-11")

    assert (190, 10) == (report.stock_before, report.stock[-1].on.day)
    assert ["2026-09", "2026-10", "2026-11"] == [each.month for each in report.costs]
    assert () == report.lending


def test_the_report_is_had_as_pdf(example: Served) -> None:
    said = text_of(example.book("reader").report_pdf(month=MONTH))

    assert "Month report" in said
    assert "DOGWOOD 7.4591" in said
    assert "BIRCH DOGWOOD 24 10 14 98.93" in said


def test_a_report_of_a_month_that_never_was_is_not_found(example: Served) -> None:
    assert 404 == example.send("GET", "/months/2026-08/report").status_code
