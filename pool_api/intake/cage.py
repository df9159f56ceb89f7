"""A program of its own that reads one spreadsheet: bytes on standard input, JSON on standard output.

The reader of spreadsheets is a compiled library that takes memory for as many cells as a file claims to have, and that
ends its process where there is none. So it runs here, in a process that the system holds to some memory and time, and
that nothing else depends on. Before the library sees a file that is an archive, its entries are counted and inflated:
what they say of their sizes is not believed.

It imports nothing of the service, so that it starts in little time. How it is asked and answers is said in sheets.py.
"""

import io
import json
import lzma
import sys
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

import python_calamine

MOST_MEMORY = 2**30
MOST_SECONDS = 60
MOST_ENTRIES = 1_000
MOST_INFLATED = 256 * 2**20
MOST_RATIO = 500
"""Limits of the process: bytes, seconds of the processor; and of an archive: entries, bytes inflated in all, and how
many times as large an entry of more than a mebibyte may become."""

_CHUNK = 2**16
_ARCHIVE = b"PK\x03\x04"
_BROKEN = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    OSError,
    ValueError,
    RuntimeError,
)
"""What reading an archive may raise; RuntimeError is how a password is asked for."""

_DECLARATIONS = tuple("<!DOCTYPE".encode(codec) for codec in ("ascii", "utf-16-le", "utf-16-be"))
_FORMS = {"xl/workbook.xml": "xlsx", "xl/workbook.bin": "xlsb", "content.xml": "ods"}
_EXACT = 2**53
"""Up to here every whole number has a binary form of its own."""

_SIGNIFICANT = ".15g"
"""Spreadsheets keep numbers in binary and show at most 15 digits; what is behind them was never written by anybody."""


class Refused(Exception):
    """The file isn't read; the arguments are the name of a kind of refusal and its fields."""

    def __init__(self, kind: str, **fields: Any) -> None:
        super().__init__(kind)
        self.told = {kind: fields}


def unreadable(reason: str) -> Refused:
    """Give the refusal of a file that is no spreadsheet, or a broken one."""
    return Refused("unreadable", reason=reason, line=1, column=1)


def main() -> None:
    """Read what standard input holds; the one argument says which sheet is wanted, and the limits."""
    _confine()
    asked = json.loads(sys.argv[1])
    try:
        told = read(sys.stdin.buffer.read(), asked)
    except Refused as refused:
        told = refused.told
    sys.stdout.buffer.write(json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode())


def _confine() -> None:
    if sys.platform != "win32":
        import resource  # noqa: PLC0415 - there is none on Windows

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def read(content: bytes, asked: dict[str, Any]) -> dict[str, Any]:
    """Give the form, the name of the sheet that is read, those of the others, and its rows. Refuses: Refused."""
    form = _checked_archive(content) if content.startswith(_ARCHIVE) else "xls"
    try:
        workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        sheet = _chosen(workbook, asked["sheet"])
        rows = list(_rows(sheet, asked))
    except python_calamine.PasswordError:
        raise unreadable("it is protected by a password; save it without one") from None
    except python_calamine.CalamineError as flaw:
        raise unreadable(f"it is a broken spreadsheet ({' '.join(str(flaw).split())[:100]})") from None
    others = [name for name in workbook.sheet_names if name != sheet.name]
    return {"form": form, "sheet": sheet.name, "others": others, "rows": rows}


def _checked_archive(content: bytes) -> str:
    """Tell which form of spreadsheet an archive is, once it has been inflated within the limits."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = archive.infolist()
            if len(entries) > MOST_ENTRIES:
                raise Refused("too_large", what="entries of its archive", most=MOST_ENTRIES, line=1)
            form = next((form for name, form in _FORMS.items() if name in archive.namelist()), None)
            if form is None:
                raise unreadable("it is an archive, but no spreadsheet")
            left = MOST_INFLATED
            for entry in entries:
                left -= _inflated(archive, entry, left)
    except _BROKEN as flaw:
        raise unreadable(f"it is a broken archive ({str(flaw)[:100]})") from None
    return form


def _inflated(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, most: int) -> int:
    """Give how large an entry really is, reading no more of it than is allowed."""
    size, tail = 0, b""
    with archive.open(entry) as stream:
        while chunk := stream.read(_CHUNK):
            size += len(chunk)
            if max(size, entry.file_size) > most:
                raise Refused("too_large", what="bytes when it is inflated", most=MOST_INFLATED, line=1)
            if size > 2**20 and size > MOST_RATIO * max(entry.compress_size, 1):
                raise unreadable(f"it inflates to more than {MOST_RATIO} times its size, as no table does")
            if any(sign in tail + chunk for sign in _DECLARATIONS):
                raise unreadable("its XML declares a document type, as no spreadsheet does")
            tail = chunk[-32:]
    return size


def _chosen(workbook: python_calamine.CalamineWorkbook, wanted: str | None) -> python_calamine.CalamineSheet:
    """Give the sheet that is wanted, or else the first that people see with rows and columns."""
    if wanted is not None:
        if wanted not in workbook.sheet_names:
            named = ", ".join(workbook.sheet_names[:20])
            raise unreadable(f"it has no sheet {wanted[:100]!r}; its sheets are {named}")
        return workbook.get_sheet_by_name(wanted)
    seen = [each for each in workbook.sheets_metadata if each.typ == python_calamine.SheetTypeEnum.WorkSheet]
    seen.sort(key=lambda each: each.visible != python_calamine.SheetVisibleEnum.Visible)
    for each in seen:
        sheet = workbook.get_sheet_by_name(each.name)
        if sheet.height > 1 and sheet.width > 1:
            return sheet
    raise unreadable("none of its sheets holds a table")


def _rows(sheet: python_calamine.CalamineSheet, asked: dict[str, Any]) -> Iterator[list[Any]]:
    """Give line and cells of each row that isn't empty: texts, and numbers as numbers."""
    first = (sheet.start or (0, 0))[0] + 1
    if sheet.width > asked["columns"]:
        raise Refused("too_large", what="columns", most=asked["columns"], line=first)
    count, size = 0, 0
    for line, cells in enumerate(sheet.to_python(), start=first):
        told = [_told(cell) for cell in cells]
        filled = [cell for cell in told if cell != ""]
        if not filled:
            continue
        count += 1
        size += sum(len(cell) for cell in filled if isinstance(cell, str)) + len(told)
        if count > asked["rows"] or size > asked["characters"]:
            what = "rows" if count > asked["rows"] else "characters"
            raise Refused("too_large", what=what, most=asked[what], line=line)
        yield [line, told]


def _told(cell: object) -> str | int | float:
    """Give a cell as JSON has it: days and instants in ISO 8601, numbers by the digits that were written."""
    if isinstance(cell, bool):
        return str(cell).upper()
    if isinstance(cell, float):
        return _number(cell)
    if isinstance(cell, datetime | date | time):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        return str(cell)
    return cell if isinstance(cell, str | int) else str(cell)


def _number(cell: float) -> str | int | float:
    if cell != cell or cell in {float("inf"), float("-inf")}:  # noqa: PLR0124 - nothing but NaN differs from itself
        return str(cell)
    if cell.is_integer() and abs(cell) <= _EXACT:
        return int(cell)
    return float(format(cell, _SIGNIFICANT))


if __name__ == "__main__":
    main()
