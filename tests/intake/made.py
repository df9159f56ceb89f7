"""Spreadsheets made for tests by programs that have nothing to do with the one that reads them: openpyxl and odfpy."""

import io
import re
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

import openpyxl
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P
from openpyxl.utils.datetime import CALENDAR_MAC_1904

Rows = Iterable[Sequence[Any]]


def xlsx(
    sheets: Mapping[str, Rows], *, hidden: str = "", merged: Iterable[str] = (), epoch_1904: bool = False
) -> bytes:
    """Give a workbook; merged are ranges of the first sheet."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    if epoch_1904:
        book.epoch = CALENDAR_MAC_1904
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        if name == hidden:
            sheet.sheet_state = "hidden"
    for each in merged:
        book.worksheets[0].merge_cells(each)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def ods(sheets: Mapping[str, Rows]) -> bytes:
    """Give an OpenDocument spreadsheet."""
    document = OpenDocumentSpreadsheet()
    for name, rows in sheets.items():
        table = Table(name=name)
        for row in rows:
            line = TableRow()
            for cell in row:
                line.addElement(_ods_cell(cell))
            table.addElement(line)
        document.spreadsheet.addElement(table)
    written = io.BytesIO()
    document.save(written)
    return written.getvalue()


def _ods_cell(cell: Any) -> Any:
    if cell is None:
        return TableCell()
    if isinstance(cell, date | datetime):
        made = TableCell(valuetype="date", datevalue=cell.isoformat())
    elif isinstance(cell, int | float):
        made = TableCell(valuetype="float", value=repr(cell))
    else:
        made = TableCell(valuetype="string")
    made.addElement(P(text=str(cell)))
    return made


def changed(content: bytes, entry: str, change: Callable[[bytes], bytes]) -> bytes:
    """Give an archive with one of its entries changed."""
    written = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as there, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as new:
        for each in there.infolist():
            found = there.read(each)
            new.writestr(each, change(found) if each.filename == entry else found)
    return written.getvalue()


def with_cell(content: bytes, cell: str) -> bytes:
    """Give a workbook whose first sheet has one more row, written by hand as XML."""
    row = f"<row>{cell}</row></sheetData>".encode()
    return changed(content, "xl/worksheets/sheet1.xml", lambda xml: re.sub(b"</sheetData>", row, xml))
