"""Months: the sheet with every figure explained, what it would be under other rules, and the statements."""

import re
from typing import Any

from pool_client.calls.call import PDF, XLSX, ZIP
from pool_client.errors import Missing, Misused, Refused
from pool_client.models.directory import LoanPrice, LoansAtClose, PaymentPlan, StockCosting, StockFunding
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.visit import Visit, page

_CSV = "text/csv; charset=utf-8"
_RULES = {
    "stock_costing": StockCosting,
    "loan_price": LoanPrice,
    "loans_at_close": LoansAtClose,
    "stock_funding": StockFunding,
    "payment_plan": PaymentPlan,
}
_DUE_PARTS = (
    ("brought_forward", "Brought forward"),
    ("purchases_paid", "Paid for purchases"),
    ("purchases_for_it", "Bought for it"),
    ("draws", "Draws"),
    ("loans_from_it", "Lent"),
    ("loans_to_it", "Borrowed"),
    ("charges_to_it", "Charges to get"),
    ("charges_from_it", "Charges to pay"),
    ("stock_write_offs", "Stock lost"),
    ("payments_received", "Was paid"),
    ("payments_made", "Paid"),
    ("reversals", "Undone"),
)
"""The lines of a due, in the order in which they are added up."""


async def overview(visit: Visit) -> Response:
    """List the months, the latest first."""
    return visit.show("months.html", months=(await visit.book.months())[::-1])


async def sheet(visit: Visit) -> Response:
    """Show a month's sheet."""
    month = visit.place("month")
    found = await visit.book.sheet(month=month)
    return visit.show("month.html", sheet=found, month=month, due_parts=_DUE_PARTS)


async def figure(visit: Visit) -> Response:
    """Explain a figure: its formula, and what it is applied to."""
    month, name = visit.place("month"), visit.place("figure")
    explained = await visit.book.explanation(month=month, figure=name, depth=0)
    first = explained.items[0]
    operands = first.operands
    if first.more_operands:
        operands = tuple([each async for each in visit.book.operands(month=month, figure=name)])
    return visit.show("figure.html", month=month, state=explained.state, figure=first, operands=operands)


async def what_if(visit: Visit) -> Response:
    """Show a month beside what it would be under other rules."""
    month, asked = visit.place("month"), Form(texts=visit.query, key="")
    rules: dict[str, Any] = {
        name: kind(asked.chosen(name, [each.value for each in kind])) for name, kind in _RULES.items() if asked[name]
    }
    smallest = asked.money("smallest_payment", needed=False)
    if smallest is not None:
        rules["smallest_payment"] = smallest
    told, refusal = None, ""
    try:
        told = await visit.book.comparison(month=month, **rules)
    except (Refused, Misused) as error:
        refusal = error.sentence
    choices = {name: [each.value for each in kind] for name, kind in _RULES.items()}
    return visit.show(
        "what_if.html", month=month, found=told, form=asked, choices=choices, refusal=refusal, asked=bool(rules)
    )


async def statement(visit: Visit) -> Response:
    """Show a member's statement, to be read or printed."""
    month, member = visit.place("month"), visit.place("member")
    found = await visit.book.statement(month=month, member=member)
    return visit.show("statement.html", month=month, found=found)


async def statement_file(visit: Visit) -> Response:
    """Give a member's statement as a file."""
    month, member, form = visit.place("month"), visit.place("member"), visit.place("form")
    book, name = visit.book, f"statement-{month}-{member}"
    match form:
        case "pdf":
            return _file(await book.statement_pdf(month=month, member=member), PDF, f"{name}.pdf")
        case "xlsx":
            return _file(await book.statement_xlsx(month=month, member=member), XLSX, f"{name}.xlsx")
        case "csv":
            return _file((await book.statement_csv(month=month, member=member)).encode(), _CSV, f"{name}.csv")
        case _:
            raise Missing(f"There is no statement as {form[:20]}.")


async def statements(visit: Visit) -> Response:
    """Give all statements of a month as one file."""
    month = visit.place("month")
    return _file(await visit.book.statements_zip(month=month), ZIP, f"statements-{month}.zip")


async def report(visit: Visit) -> Response:
    """Give the keeper's report of a month."""
    month = visit.place("month")
    return _file(await visit.book.report_pdf(month=month), PDF, f"report-{month}.pdf")


def _file(content: bytes, media_type: str, name: str) -> Response:
    """Answer with a file to be kept, under a name that says nothing to a file system."""
    safe = re.sub(r"[^A-Za-z0-9._-]", "_", name)
    return Response(content, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{safe}"'})


ROUTES = (
    page("/months", overview),
    page("/months/{month:month}", sheet),
    page("/months/{month:month}/figures/{figure}", figure),
    page("/months/{month:month}/what-if", what_if),
    page("/months/{month:month}/statements.zip", statements),
    page("/months/{month:month}/report.pdf", report),
    page("/months/{month:month}/statements/{member}", statement),
    page("/months/{month:month}/statements/{member}/{form}", statement_file),
)
