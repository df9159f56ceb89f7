"""How bytes become a table of text: encoding, separator, quoting, header and the limits; no column has a meaning here.

Quoting is that of RFC 4180, sections 2.5 to 2.7: quoted cells may hold separators and line breaks, a quote inside is
doubled, nothing stands between a closing quote and the next separator. Line endings may be CRLF, LF or CR. Unlike
section 2.4 there, blanks around a cell's text are dropped: no column of a vendor's record means anything by them.

Every limit is checked before memory is taken for what exceeds it.
"""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from pool_api.domain.errors import FileTooLarge, FileUnreadable
from pool_api.domain.record import SetAside
from pool_api.intake.encoding import decoded, place

MOST_BYTES = 32 * 2**20
MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_IN_CELL = 10_000
MOST_IN_ROW = 250_000
"""Limits of a file: bytes; rows below the header; cells of a row; characters of a cell and of a row."""

SEPARATORS = ",;\t|"
_SAMPLE_RECORDS = 100
_LIKE_DATA = re.compile(r"[-+\u2212(]?\d[\d.,' ]*\)?|\d{1,4}[-./]\d{1,2}[-./]\d{1,4}.*")
_QUOTED = re.compile(r'"(?:[^"]++|"")*+"')
_FOREIGN = {
    b"PK\x03\x04": "it is a spreadsheet or an archive; save the sheet as CSV first",
    b"\xd0\xcf\x11\xe0": "it is a spreadsheet of an old kind; save the sheet as CSV first",
    b"%PDF": "it is a PDF document",
    b"\x1f\x8b": "it is a compressed file",
    b"\x89PNG": "it is a picture",
}
_MARKUP = re.compile(r"\s*<(?:!doctype|html|\?xml)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of one record and the line it begins on."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A file's header and rows, every row as wide as the header.

    Header words are unique and not empty. The skipped records stood above the header; the ragged ones have another
    number of cells than the header. Rows without any text are dropped."""

    encoding: str
    separator: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    ragged: tuple[SetAside, ...]
    skipped: tuple[SetAside, ...]


def read_table(content: bytes) -> Table:
    """Read a file of delimited text.

    Refuses: FileUnreadable when it isn't text, has no separator or no header, or a quote breaks the rules;
             FileTooLarge beyond the limits of this module. Nothing is half read."""
    if len(content) > MOST_BYTES:
        raise FileTooLarge(what="bytes", most=MOST_BYTES, line=1 + content.count(b"\n", 0, MOST_BYTES))
    for magic, reason in _FOREIGN.items():
        if content.startswith(magic):
            raise FileUnreadable(reason=reason, line=1, column=1)
    text, encoding = decoded(content)
    if not text.strip():
        raise FileUnreadable(reason="it is empty", line=1, column=1)
    if _MARKUP.match(text):
        raise FileUnreadable(reason="it is a web page or an XML document", line=1, column=1)
    separator, width = _separator(text)
    records = _records(text, separator)
    above, header = _header(records, width)
    rows, ragged = _body(records, len(header.cells))
    return Table(
        encoding=encoding,
        separator=separator,
        header=_unique(header.cells),
        rows=rows,
        ragged=ragged,
        skipped=tuple(_above(row) for row in above),
    )


def _body(records: Iterator[Row], width: int) -> tuple[tuple[Row, ...], tuple[SetAside, ...]]:
    rows: list[Row] = []
    ragged: list[SetAside] = []
    for row in records:
        if len(rows) + len(ragged) == MOST_ROWS:
            raise FileTooLarge(what="rows below the header", most=MOST_ROWS, line=row.line)
        cells = row.cells
        if len(cells) > width and not any(cells[width:]):
            cells = cells[:width]
        if len(cells) == width:
            rows.append(row if cells is row.cells else Row(row.line, cells))
        else:
            reason = f"has {len(cells)} cells where the header has {width}"
            ragged.append(SetAside(line=row.line, column=None, reason=reason, cells=cells))
    return tuple(rows), tuple(ragged)


def _above(row: Row) -> SetAside:
    return SetAside(line=row.line, column=None, reason="stands above the header", cells=row.cells)


def _header(records: Iterator[Row], width: int) -> tuple[list[Row], Row]:
    """Find the header: the first record of the usual width. Gives what stands above it, too."""
    above: list[Row] = []
    for row in records:
        if len(row.cells) == width:
            if not any(map(_LIKE_DATA.fullmatch, row.cells)):
                return above, row
            break
        above.append(row)
    raise FileUnreadable(
        reason="it has no header: a row of words that names the columns", line=above[0].line if above else 1, column=1
    )


def _unique(words: tuple[str, ...]) -> tuple[str, ...]:
    """Give each header word once: an empty one is called by its place, a repeated one is numbered."""
    given: list[str] = []
    for at, word in enumerate(words, start=1):
        wanted = word or f"column {at}"
        name, count = wanted, 1
        while name in given:
            count += 1
            name = f"{wanted} ({count})"
        given.append(name)
    return tuple(given)


def _separator(text: str) -> tuple[str, int]:
    """Give the separator and the usual number of cells: the one by which most records agree in their number of cells,
    among equals the one that makes more cells."""
    best = (0, 0, "")
    for separator in SEPARATORS:
        widths = Counter(_sampled_widths(text, separator))
        width, agreeing = max(widths.items(), key=lambda item: (item[1], item[0]))
        if width > 1 and (agreeing, width) > best[:2]:
            best = (agreeing, width, separator)
    if not best[2]:
        next(_records(text, ","), None)  # a quote broken in the first row is the better reason, and is raised here
        reason = "no comma, semicolon, tab or bar separates its lines into columns"
        raise FileUnreadable(reason=reason, line=1, column=1)
    return best[2], best[1]


def _sampled_widths(text: str, separator: str) -> list[int]:
    widths: list[int] = []
    for row in _records(text, separator, forgiving=True):
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


def _records(text: str, separator: str, *, forgiving: bool = False) -> Iterator[Row]:
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
