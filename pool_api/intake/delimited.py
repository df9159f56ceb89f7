"""How delimited text becomes records: the separator, the rules of quoting, and the limits on rows and cells.

Quoting is that of RFC 4180, sections 2.5 to 2.7: quoted cells may hold separators and line breaks, a quote inside is
doubled, nothing stands between a closing quote and the next separator. Line endings may be CRLF, LF or CR. Unlike
section 2.4 there, blanks around a cell's text are dropped: no column of a vendor's record means anything by them.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from pool_api.domain.errors import FileTooLarge, FileUnreadable
from pool_api.intake.encoding import place
from pool_api.intake.rows import MOST_COLUMNS, MOST_IN_CELL, MOST_IN_ROW, Row

SEPARATORS = ",;\t|^"
_SAMPLE_RECORDS = 100
_QUOTED = re.compile(r'"(?:[^"]++|"")*+"')


def separator_of(text: str) -> tuple[str, int]:
    """Give the separator and the usual number of cells: the one by which most records agree in their number of cells,
    among equals the one that makes more cells."""
    best = (0, 0, "")
    for separator in SEPARATORS:
        widths = Counter(_sampled_widths(text, separator))
        width, agreeing = max(widths.items(), key=lambda item: (item[1], item[0]))
        if width > 1 and (agreeing, width) > best[:2]:
            best = (agreeing, width, separator)
    if not best[2]:
        next(records(text, ","), None)  # a quote broken in the first row is the better reason, and is raised here
        reason = "no comma, semicolon, tab or bar separates its lines into columns"
        raise FileUnreadable(reason=reason, line=1, column=1)
    return best[2], best[1]


def _sampled_widths(text: str, separator: str) -> list[int]:
    widths: list[int] = []
    for row in records(text, separator, forgiving=True):
        widths.append(len(row.cells))
        if len(widths) == _SAMPLE_RECORDS:
            break
    return widths or [0]


@dataclass(slots=True)
class _Lines:
    """The lines of a text, remembering those of the record that is being read, up to the limit of a row."""

    source: io.StringIO
    record: list[str] = field(default_factory=list)
    size: int = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = next(self.source)
        self.size += len(line)
        self.record.append(line)
        if self.size > MOST_IN_ROW:
            raise _RowTooLong
        return line


class _RowTooLong(Exception):
    pass


def records(text: str, separator: str, *, forgiving: bool = False) -> Iterator[Row]:
    """Give the records that hold any text. A forgiving reading ends where the text breaks the rules of quoting,
    and lets cells be as long as rows."""
    lines = _Lines(io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=separator, strict=True)
    while True:
        start = reader.line_num + 1
        lines.record.clear()
        lines.size = 0
        try:
            cells = next(reader)
        except StopIteration:
            return
        except (csv.Error, _RowTooLong):
            if forgiving:
                return
            raise _broken("".join(lines.record), start, separator) from None
        if not forgiving and (lines.size > MOST_IN_CELL or len(cells) > MOST_COLUMNS):
            _refuse_wide(cells, start)
        trimmed = tuple([cell.strip() for cell in cells])
        if any(trimmed):
            yield Row(start, trimmed)


def _refuse_wide(cells: list[str], line: int) -> None:
    if len(cells) > MOST_COLUMNS:
        raise FileTooLarge(what="columns", most=MOST_COLUMNS, line=line)
    if max(map(len, cells)) > MOST_IN_CELL:
        raise FileTooLarge(what="characters in one cell", most=MOST_IN_CELL, line=line)


def _broken(record: str, start: int, separator: str) -> FileUnreadable | FileTooLarge:
    """Say why a record can't be read, and where the quote opened if it is a quote."""
    at = 0
    plain = re.compile(f"[^{re.escape(separator)}\r\n]*+")
    while at < len(record):
        if record[at] == '"':
            quoted = _QUOTED.match(record, at)
            if quoted is None:
                return _quote_refused("the quote that opens here is never closed", record, at, start)
            end = quoted.end()
            if end < len(record) and record[end] not in separator + "\r\n":
                line, column = place(record, end, start)
                reason = f"the quote that opens here is closed before more text at line {line}, column {column}"
                return _quote_refused(reason, record, at, start)
        else:
            unquoted = plain.match(record, at)
            end = unquoted.end() if unquoted else at
        at = end + 1
    if len(record) > MOST_IN_ROW:
        return FileTooLarge(what="characters in one row", most=MOST_IN_ROW, line=start)
    return FileTooLarge(what="characters in one cell", most=MOST_IN_CELL, line=start)


def _quote_refused(reason: str, record: str, at: int, start: int) -> FileUnreadable:
    line, column = place(record, at, start)
    return FileUnreadable(reason=reason, line=line, column=column)
