"""How a spreadsheet becomes rows of text: asking the program in cage.py, and understanding what it tells.

It is given the file on standard input and, as its argument, which sheet is wanted and how much of it. It answers with
one JSON object: the sheet, or the fields of a refusal. Where it doesn't answer, the system has ended it.
Formulas are never computed: a cell has the value that was saved with it.
"""

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pool_api.domain.errors import FileTooLarge, FileUnreadable
from pool_api.intake.encoding import CONTROL, control_named
from pool_api.intake.rows import MOST_BYTES, MOST_COLUMNS, MOST_IN_CELL, MOST_ROWS, Figure, Row

MAGICS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How files begin that may be spreadsheets: archives, and the compound files of an older kind."""

_CAGE = Path(__file__).with_name("cage.py")
_MOST_ABOVE = 1_000
_LONGEST_S = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The rows of one sheet that hold anything, all equally wide, and the names of the others.

    form is xlsx, xlsb, xls or ods."""

    form: str
    name: str
    others: tuple[str, ...]
    rows: tuple[Row, ...]


def read_sheet(content: bytes, wanted: str | None = None) -> Sheet:
    """Read one sheet of a spreadsheet: the one that is wanted, or the first with rows and columns.

    Gives:   lines are the numbers of rows in the sheet; days and instants are in ISO 8601, numbers are Figures.
    Refuses: FileUnreadable when it is no spreadsheet, a broken or a hostile one; FileTooLarge beyond the limits."""
    told = _asked(content, wanted)
    if "unreadable" in told:
        raise FileUnreadable(**_plain(told["unreadable"]))
    if "too_large" in told:
        raise FileTooLarge(**_plain(told["too_large"]))
    rows = tuple(Row(int(line), tuple(map(_trimmed, cells))) for line, cells in told["rows"])
    for row in rows:
        _check(row)
    return Sheet(form=told["form"], name=told["sheet"], others=tuple(told["others"]), rows=rows)


def _asked(content: bytes, wanted: str | None) -> dict[str, Any]:
    asked = {"sheet": wanted, "rows": MOST_ROWS + _MOST_ABOVE, "columns": MOST_COLUMNS, "characters": 2 * MOST_BYTES}
    line = [sys.executable, "-I", str(_CAGE), json.dumps(asked)]
    try:
        done = subprocess.run(  # noqa: S603 - our own program
            line, input=content, capture_output=True, check=False, timeout=_LONGEST_S, env={}
        )
    except subprocess.TimeoutExpired:
        done = None
    if done is None or done.returncode:
        raise FileUnreadable(
            reason="reading it takes more memory or time than a spreadsheet may; save the sheet as CSV",
            line=1,
            column=1,
        )
    told: dict[str, Any] = json.loads(done.stdout, parse_int=Figure.of, parse_float=Figure.of)
    return told


def _plain(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: int(value) if isinstance(value, Figure) else value for name, value in fields.items()}


def _trimmed(cell: str) -> str:
    return cell if isinstance(cell, Figure) else cell.strip()


def _check(row: Row) -> None:
    if max(map(len, row.cells)) > MOST_IN_CELL:
        raise FileTooLarge(what="characters in one cell", most=MOST_IN_CELL, line=row.line)
    if CONTROL.search("".join(row.cells)):
        at, control = next((at, found) for at, cell in enumerate(row.cells, 1) if (found := CONTROL.search(cell)))
        reason = f"{control_named(control.group())}, as no text of people does"
        raise FileUnreadable(reason=reason, line=row.line, column=at)
