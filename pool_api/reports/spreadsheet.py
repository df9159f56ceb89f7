"""A statement as a spreadsheet (Office Open XML, ISO/IEC 29500) that recomputes itself: totals, the blended unit cost,
the due and what is unpaid are formulas over the cells of their lines.

Promises: what the formulas give is what the statement says, to the minor unit, and stands in the cells already; text is
never a formula; the same statement gives the same bytes. This is the only place that knows how a workbook is written.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Literal

from pool_api.domain.entries import Draw, Use
from pool_api.domain.sheets import Lending, MemberSheet
from pool_api.domain.values import UNIT_PRICE_DECIMALS, Currency, Month
from pool_api.reports.figures import state_words
from pool_api.reports.statement import Statement, shortened
from pool_api.reports.written import DUE_WORDS, GAINED, LOANS, PASSED_ON, amount_of, gained

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from pool_api.domain.layers import Costed

_WIDTHS = {"A": 12, "B": 12, "C": 12, "D": 72, "E": 12, "F": 16, "G": 14, "H": 14}
_LINE_PIXELS = 20
_FIRST_FIGURES = 4
"""The place of column E, from which on there are figures."""


@dataclass(frozen=True, slots=True)
class _Figure:
    """Credits, an amount in minor units or a unit price in minor units per credit; with the formula that gives it."""

    kind: Literal["credits", "money", "price"]
    value: int | Fraction
    formula: str = ""


_Cell = str | int | date | _Figure | None


def _credits(value: int, formula: str = "") -> _Figure:
    return _Figure("credits", value, formula)


def _money(value: int, formula: str = "") -> _Figure:
    return _Figure("money", value, formula)


MOST_LINES = 100_000
"""Lines that are written one by one; a sheet has room for 1,048,576 rows."""


def statement_xlsx(made: Statement) -> bytes:
    """Give a statement as a workbook of one sheet. Of more than MOST_LINES lines, those of a day and kind stand
    together."""
    made = shortened(made, MOST_LINES)
    written = io.BytesIO()
    with _opened(written, made) as workbook:
        page = _Page(workbook, made.pool.currency)
        page.set_up(made)
        member = _head(page, made)
        drawn = _flow(page, made, _lines(page, made))
        settled = _due(page, made, member, drawn, _loans(page, made))
        _payments(page, made, settled)
        _foot(page, made)
    return written.getvalue()


@contextmanager
def _opened(written: io.BytesIO, made: Statement) -> Iterator["Workbook"]:
    from xlsxwriter import Workbook  # noqa: PLC0415 - takes a moment to load, and few requests need it

    with Workbook(written, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}) as workbook:
        said = datetime.combine(Month.parse(made.month).last, time(), UTC).replace(tzinfo=None)
        workbook.set_properties({"title": f"Statement {made.member.code} {made.month}", "created": said})
        yield workbook


def _formats(money: str) -> dict[str, dict[str, Any]]:
    """Give how cells look, by what is in them; money is the format of amounts."""
    return {
        "title": {"bold": True, "font_size": 16},
        "heading": {"bold": True, "font_size": 12},
        "head": {"font_color": "#5b6670", "bottom": 1},
        "figures head": {"font_color": "#5b6670", "bottom": 1, "align": "right"},
        "text": {"quote_prefix": True, "text_wrap": True},
        "sign": {"quote_prefix": True, "text_wrap": True, "bottom": 1},
        "number": {"num_format": "0", "align": "left"},
        "day": {"num_format": "yyyy-mm-dd", "align": "left"},
        "credits": {"num_format": "#,##0"},
        "money": {"num_format": money},
        "price": {"num_format": "#,##0." + "0" * UNIT_PRICE_DECIMALS},
        "total credits": {"num_format": "#,##0", "bold": True, "top": 1},
        "total money": {"num_format": money, "bold": True, "top": 1},
        "total text": {"bold": True, "top": 1},
    }


def _lines_for(cell: _Cell, width: int) -> int:
    """Give how many lines a cell takes in a column of a width; wide letters are allowed for."""
    return 1 + len(cell) * 10 // (9 * width) if isinstance(cell, str) else 1


class _Page:
    """The sheet, written row by row from the top. Rows are counted from 1, as formulas do."""

    def __init__(self, workbook: "Workbook", currency: Currency) -> None:
        self.row = 1
        self._currency = currency
        self._sheet: Worksheet = workbook.add_worksheet("Statement")
        money = "#,##0" + ("." + "0" * currency.decimals if currency.decimals else "")
        self._formats: dict[str, Format] = {
            name: workbook.add_format({"valign": "top", **more}) for name, more in _formats(money).items()
        }

    def set_up(self, made: Statement) -> None:
        """Give it a title, and set up how it prints: A4, as wide as the page, numbered pages, a mark on drafts."""
        self._sheet.write_string("A1", "Statement", self._formats["title"])
        self._sheet.set_row_pixels(0, 30)
        for column, width in _WIDTHS.items():
            self._sheet.set_column(f"{column}:{column}", width)
        self._sheet.set_paper(9)
        self._sheet.set_landscape()
        self._sheet.fit_to_pages(1, 0)
        self._sheet.hide_gridlines(2)
        self._sheet.set_footer(f"&L{made.member.code} {made.month}&Rpage &P of &N")
        if not made.closed:
            self._sheet.set_header("&RDRAFT: the month is open")

    def heading(self, text: str, *columns: str | None) -> None:
        """Start a part: a line left free, its heading, and the names of its columns, the first in column A."""
        self.row += 2
        self._sheet.write_string(self.row - 1, 0, text, self._formats["heading"])
        if columns:
            self.row += 1
            for place, name in enumerate(columns):
                kind = "head" if place < _FIRST_FIGURES else "figures head"
                self._sheet.write_string(self.row - 1, place, name or "", self._formats[kind])

    def add(self, *cells: _Cell, total: bool = False) -> int:
        """Add a row of cells, the first in column A, and give its number."""
        self.row += 1
        for place, cell in enumerate(cells):
            self._put((self.row - 1, place), cell, "total " if total else "")
        texts = (_lines_for(cell, width) for cell, width in zip(cells, _WIDTHS.values(), strict=False))
        self._make_room(max(texts, default=1))
        return self.row

    def _make_room(self, lines: int) -> None:
        """Make the row as high as so many lines: not every program does it by itself."""
        if lines > 1:
            self._sheet.set_row_pixels(self.row - 1, _LINE_PIXELS * lines)

    def across(self, text: str, *, sign: bool = False) -> None:
        """Add a row of text over all columns, high enough for it, or for somebody to sign in."""
        self.row += 1
        room = (self.row - 1, 0, self.row - 1, len(_WIDTHS) - 1)
        kind = "sign" if sign else "text"
        self._sheet.merge_range(*room, "", self._formats[kind])
        self._sheet.write_string(*room[:2], text, self._formats[kind])
        self._make_room(_lines_for(text, sum(_WIDTHS.values())) + 2 * sign)

    def _put(self, at: tuple[int, int], cell: _Cell, how: str) -> None:
        match cell:
            case None if how:
                self._sheet.write_blank(*at, None, self._formats[f"{how}text"])
            case None:
                pass
            case str():
                self._sheet.write_string(*at, cell, self._formats[f"{how}text"])
            case int():
                self._sheet.write_number(*at, cell, self._formats["number"])
            case date():
                self._sheet.write_datetime(*at, datetime.combine(cell, time()), self._formats["day"])
            case _Figure(formula=""):
                self._sheet.write_number(*at, self._number(cell), self._formats[how + cell.kind])
            case _Figure():
                self._sheet.write_formula(*at, f"={cell.formula}", self._formats[how + cell.kind], self._number(cell))

    def _number(self, figure: _Figure) -> float:
        """Give a figure as cells have it: the nearest binary fraction, which shows the same digits again."""
        decimals = 0 if figure.kind == "credits" else self._currency.decimals
        return float(Fraction(figure.value) / 10**decimals)

    def sum(self, value: int, terms: str) -> _Figure:
        """Give an amount as a formula of amounts, rid of what binary fractions leave of it."""
        return _money(value, f"ROUND({terms},{self._currency.decimals})")


def _head(page: _Page, made: Statement) -> str:
    """Write what it is a statement of, and give the cell with the member's code."""
    member = page.add("Member", None, made.member.code, made.member.name)
    page.add("Month", None, made.month, state_words(closed=made.closed))
    page.add("Pool", None, made.pool.id, made.pool.name)
    page.add("Vendor", None, None, made.pool.vendor)
    page.add("Amounts in", None, made.pool.currency.code)
    page.add("Rests on", None, f"entry {made.number}", made.hash)
    return f"C{member}"


def _lines(page: _Page, made: Statement) -> str:
    """Write the lines, and give their rows as the end of a range: kinds are in column C, amounts in F."""
    page.heading("What happened", "entry", "day", "kind", "what", "credits", "amount")
    first = page.add(None, None, None, "held when the month began", _credits(made.opening_held))
    for line in made.lines:
        cost = None if line.cost is None else _money(line.cost)
        kind = line.kind.replace("_", " ")
        page.add(line.entry, date.fromisoformat(line.on), kind, line.what, _credits(line.credits), cost)
    held = _credits(made.closing_held, f"SUM(E{first}:E{page.row})")
    last = page.row
    page.add(None, None, None, "held when the month ended", held, total=True)
    return f"{first}:{last}"


def _of_kind(kind: str, rows: str) -> str:
    first, last = rows.split(":")
    return f'SUMIF(C{first}:C{last},"{kind}",F{first}:F{last})'


def _flow(page: _Page, made: Statement, lines: str) -> str:
    """Write how the blended unit cost came about, and give the cells with the cost of what was drawn."""
    page.heading("Blended unit cost", None, None, None, "own credits of the month", "credits", "cost")
    sheet, first = made.sheet, page.row + 1
    parts = gained(sheet)
    page.add(None, None, None, GAINED["opening"], _credits(parts["opening"].quantity), _money(parts["opening"].cost))
    drawn = _drawn(page, made, lines)
    for name, part in parts.items():
        if any(part) and name not in {"opening", "draws"}:
            page.add(None, None, None, GAINED[name], _credits(part.quantity), _money(part.cost))
    last = page.row
    available = page.add(
        None,
        None,
        None,
        "available",
        _credits(sheet.available.quantity, f"SUM(E{first}:E{last})"),
        page.sum(sheet.available.cost, f"SUM(F{first}:F{last})"),
        total=True,
    )
    if sheet.unit_cost is not None:
        price = _Figure("price", sheet.unit_cost, f'IF(E{available}=0,"",F{available}/E{available})')
        page.add(None, None, None, "blended unit cost: cost over credits", None, price)
    _passed_on(page, sheet, available, lines)
    return drawn


def _drawn(page: _Page, made: Statement, lines: str) -> str:
    """Write what was drawn, and give the cells with its cost. What was drawn in an earlier month, before the stock had
    it, has no line in this one, but may get its cost now."""
    draws = made.sheet.draws
    here = sum(line.cost or 0 for line in made.lines if line.kind == Draw.kind)
    cost = page.sum(here, _of_kind(Draw.kind, lines))
    first = page.add(None, None, None, GAINED["draws"], _credits(draws.quantity), cost)
    if draws.cost != here:
        page.add(None, None, None, "drawn in earlier months, costed now", _credits(0), _money(draws.cost - here))
    return f"F{first}:F{page.row}"


def _passed_on(page: _Page, sheet: MemberSheet, available: int, lines: str) -> None:
    first = page.row + 1
    for name, words in PASSED_ON.items():
        part: Costed = getattr(sheet, name)
        if name == "closing":
            left = f"E{available}-SUM(E{first}:E{page.row})" if page.row >= first else f"E{available}"
            kept = f"F{available}-SUM(F{first}:F{page.row})" if page.row >= first else f"F{available}"
            cost = _money(part.cost, f"IF(E{available}=0,0,{page.sum(part.cost, kept).formula})")
            page.add(None, None, None, words, _credits(part.quantity, left), cost, total=True)
        elif any(part):
            cost = page.sum(part.cost, _of_kind(Use.kind, lines)) if name == "uses" else _money(part.cost)
            page.add(None, None, None, words, _credits(part.quantity), cost)


def _loans(page: _Page, made: Statement) -> str:
    """Write the loans, those first that are settled in money, and give the rows of these as _lines does; an empty text
    when there are none."""
    loans = {name: getattr(made, name) for name in sorted(LOANS, key=lambda name: name not in _IN_MONEY)}
    if not any(loans.values()):
        return ""
    columns = ("from", "to", None, "what became of it", "credits", "amount", "unit price")
    page.heading("Loans", *columns)
    first = page.row + 1
    for name, found in loans.items():
        for each in found:
            known = isinstance(each, Lending) and each.unit_price is not None
            price = _Figure("price", each.unit_price) if known else None
            amount = _money(amount_of(each))
            page.add(each.lender, each.borrower, None, LOANS[name], _credits(each.quantity), amount, price)
    settled = sum(len(loans[name]) for name in _IN_MONEY)
    return f"{first}:{first + settled - 1}" if settled else ""


_IN_MONEY = ("loans", "carried_settled")
"""The lists of loans whose amounts are in the due."""


def _due(page: _Page, made: Statement, member: str, drawn: str, loans: str) -> int:
    """Write the due line by line, and give the row of what remains of it for payments."""
    page.heading("Due", None, None, None, "line", None, "amount")
    lent, _, borrowed = loans.partition(":")
    formulas = {
        "draws": f"-SUM({drawn})",
        "loans_from_it": f"SUMIF(A{lent}:A{borrowed},{member},F{lent}:F{borrowed})" if loans else "",
        "loans_to_it": f"-SUMIF(B{lent}:B{borrowed},{member},F{lent}:F{borrowed})" if loans else "",
    }
    first = page.row + 1
    for name, words in DUE_WORDS.items():
        amount = getattr(made.sheet.due, name)
        if formula := formulas.get(name):
            page.add(None, None, None, words, None, page.sum(amount, formula))
        elif amount or name == "brought_forward":
            page.add(None, None, None, words, None, _money(amount))
    total = page.sum(made.sheet.due.total, f"SUM(F{first}:F{page.row})")
    due = page.add(None, None, None, "due: above zero is owed to the member", None, total, total=True)
    page.add(None, None, None, "of it carried forward to the next month", None, _money(made.carried))
    page.add(None, None, None, "of it too small to pay, carried forward too", None, _money(made.small))
    rest = made.sheet.due.total - made.carried - made.small
    settled = page.sum(rest, f"F{due}-F{due + 1}-F{due + 2}")
    return page.add(None, None, None, "of it for payments to settle", None, settled, total=True)


def _payments(page: _Page, made: Statement, settled: int) -> None:
    said = "to make (below zero) or to expect"
    page.heading("Payments", "payment", None, None, said, None, "amount", "paid", "unpaid")
    if not made.transfers:
        page.add(None, None, None, "nothing to pay and nothing to expect for this month")
        return
    first = page.row + 1
    for each in made.transfers:
        words = f"to {each.other}" if each.amount < 0 else f"from {each.other}"
        row = page.row + 1
        unpaid = page.sum(abs(each.amount) - each.paid, f"ABS(F{row})-G{row}")
        page.add(each.id or "", None, None, words, None, _money(each.amount), _money(each.paid), unpaid)
    last = page.row
    amounts = sum(each.amount for each in made.transfers)
    paid = sum(each.paid for each in made.transfers)
    left = sum(abs(each.amount) - each.paid for each in made.transfers)
    sums = [
        page.sum(value, f"SUM({column}{first}:{column}{last})")
        for column, value in (("F", amounts), ("G", paid), ("H", left))
    ]
    total = page.add(None, None, None, "all payments", None, *sums, total=True)
    rest = made.sheet.due.total - made.carried - made.small - amounts
    unsettled = page.sum(rest, f"F{settled}-F{total}")
    page.add(None, None, None, "what they leave of the due (0.00 when all is settled)", None, unsettled)


def _foot(page: _Page, made: Statement) -> None:
    page.heading("Signed")
    for party in (f"For {made.member.name}", "For the pool, its keeper"):
        page.across(f"{party}: place, day, name and signature", sign=True)
    page.heading("Cautions")
    for caution in made.cautions:
        page.across(caution)
