"""Workbooks as the tests look at them: what stands in the cells, and what another library makes of the formulas."""

import io
from pathlib import Path
from typing import Any

import formulas
import openpyxl
from openpyxl.worksheet.worksheet import Worksheet


def opened(content: bytes, *, shown: bool) -> Worksheet:
    """Give the sheet of a workbook: as shown, or with its formulas."""
    return openpyxl.load_workbook(io.BytesIO(content), data_only=shown).active


def formula_cells(content: bytes) -> dict[str, str]:
    """Give each formula by its cell."""
    cells = (cell for row in opened(content, shown=False).iter_rows() for cell in row)
    return {cell.coordinate: cell.value for cell in cells if cell.data_type == "f"}


def recomputed(content: bytes, folder: Path) -> dict[str, Any]:
    """Compute every formula anew, and give the values by cell."""
    file = folder / "statement.xlsx"
    file.write_bytes(content)
    model = formulas.ExcelModel().loads(str(file)).finish()
    found = {str(name).rpartition("!")[2]: value for name, value in model.calculate().items()}
    return {cell: found[cell].value[0, 0] for cell in formula_cells(content)}


def changed(content: bytes, cell: str, value: object) -> bytes:
    """Give a workbook in which somebody has written something else into a cell."""
    book = openpyxl.load_workbook(io.BytesIO(content))
    book.active[cell] = value
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def row_of(content: bytes, words: str) -> int:
    """Give the row that says these words in column D."""
    rows = [cell.row for (cell,) in opened(content, shown=False).iter_rows(min_col=4, max_col=4) if cell.value == words]
    (found,) = rows
    return int(found)
