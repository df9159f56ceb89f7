"""How a file becomes a table of text: what kind of file it is, where its header stands; no column has a meaning here.

What a file is, its bytes say and nothing else. Text is split by delimited.py, spreadsheets are read by sheets.py; from
there on both are rows of cells, whose header is looked for in the same way. A table may do without a header.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain, islice

from pool_api.domain.errors import FileTooLarge, FileUnreadable
from pool_api.domain.record import SetAside
from pool_api.intake.cells import cleaned
from pool_api.intake.delimited import records, separator_of
from pool_api.intake.encoding import decoded
from pool_api.intake.rows import MOST_BYTES, MOST_CELLS, MOST_ROWS, Figure, Row
from pool_api.intake.sheets import MAGICS, read_sheet

_LOOKED_AT = 20
_MOST_IN_WORD = 150
_LIKE_DATA = re.compile(r"[-+\u2212(]?\d[\d.,' ]*\)?-?|\d{1,4}[-./]\d{1,2}[-./]\d{1,4}.*")
_FOREIGN = {
    b"%PDF": "it is a PDF document",
    b"\x1f\x8b": "it is a compressed file",
    b"\x89PNG": "it is a picture",
}
_MARKUP = re.compile(r"\s*<(?:!doctype|html|\?xml)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A file's header and rows, every row as wide as the header.

    form is text, or what kind of spreadsheet the file is; text has an encoding and a separator, a spreadsheet the sheet
    that was read and the names of the others. Header words are unique and not empty; where the file has no header
    (headed is false) columns are called by their places. The skipped records stood above the header; the ragged ones
    have another number of cells than the header. Rows without any text are dropped."""

    form: str
    encoding: str | None = None
    separator: str | None = None
    sheet: str | None = None
    other_sheets: tuple[str, ...] = ()
    header: tuple[str, ...]
    headed: bool
    rows: tuple[Row, ...]
    ragged: tuple[SetAside, ...]
    skipped: tuple[SetAside, ...]


def read_table(content: bytes, *, sheet: str | None = None, encoding: str | None = None) -> Table:
    """Read a file of delimited text or a spreadsheet.

    Takes:   sheet — the one to read of a spreadsheet, None for the first that holds a table; encoding — the code page
             of text that isn't UTF-8 or UTF-16, None for the likeliest.
    Refuses: FileUnreadable when it is neither, has no separator, or a quote breaks the rules; FileTooLarge beyond the
             limits of rows.py. Nothing is half read."""
    if len(content) > MOST_BYTES:
        raise FileTooLarge(what="bytes", most=MOST_BYTES, line=1 + content.count(b"\n", 0, MOST_BYTES))
    if content.startswith(MAGICS):
        return _spreadsheet(content, sheet)
    for magic, reason in _FOREIGN.items():
        if content.startswith(magic):
            raise FileUnreadable(reason=reason, line=1, column=1)
    if sheet is not None:
        raise FileUnreadable(reason="it is no spreadsheet, so it has no sheets", line=1, column=1)
    return _delimited(*decoded(content, encoding))


def _spreadsheet(content: bytes, wanted: str | None) -> Table:
    found = read_sheet(content, wanted)
    width = max((len(row.cells) for row in found.rows), default=0)
    above, header, rest = _headed(iter(found.rows), width)
    rows, ragged = _body(rest, width, "the sheet has")
    return Table(
        form=found.form,
        sheet=found.name,
        other_sheets=found.others,
        header=_unique(header or ("",) * width),
        headed=header is not None,
        rows=rows,
        ragged=ragged,
        skipped=tuple(map(_above, above)),
    )


def _delimited(text: str, encoding: str) -> Table:
    if not text.strip():
        raise FileUnreadable(reason="it is empty", line=1, column=1)
    if _MARKUP.match(text):
        raise FileUnreadable(reason="it is a web page or an XML document", line=1, column=1)
    separator, width = separator_of(text)
    above, header, rest = _headed(records(text, separator), width)
    rows, ragged = _body(rest, width, "the header has" if header else "most rows have")
    return Table(
        form="text",
        encoding=encoding,
        separator=separator,
        header=_unique(header or ("",) * width),
        headed=header is not None,
        rows=rows,
        ragged=ragged,
        skipped=tuple(map(_above, above)),
    )


def _body(rest: Iterator[Row], width: int, measure: str) -> tuple[tuple[Row, ...], tuple[SetAside, ...]]:
    rows: list[Row] = []
    ragged: list[SetAside] = []
    for count, row in enumerate(rest):
        if count == MOST_ROWS:
            raise FileTooLarge(what="rows below the header", most=MOST_ROWS, line=row.line)
        if count * width > MOST_CELLS:
            raise FileTooLarge(what="cells", most=MOST_CELLS, line=row.line)
        cells = row.cells
        if len(cells) > width and not any(cells[width:]):
            cells = cells[:width]
        if len(cells) == width:
            rows.append(row if cells is row.cells else Row(row.line, cells))
        else:
            reason = f"has {len(cells)} cells where {measure} {width}"
            ragged.append(SetAside(line=row.line, column=None, reason=reason, cells=cells))
    return tuple(rows), tuple(ragged)


def _above(row: Row) -> SetAside:
    return SetAside(line=row.line, column=None, reason="stands above the header", cells=row.cells)


def _headed(found: Iterator[Row], width: int) -> tuple[list[Row], tuple[str, ...] | None, Iterator[Row]]:
    """Find the header: among the first records, of those that are words and at least half filled the fullest.

    Gives what stands above it, its words, and the records below; without one, all from the first of the usual width.
    Where words of it are left out and the next record has them, both together are the header: groups of columns stand
    above their columns, and cells that span both rows have their word in the first."""
    first = list(islice(found, _LOOKED_AT))
    wordy = [at for at, row in enumerate(first) if _names_columns(row, width) and 2 * _filled(row.cells) >= width]
    if not wordy:
        begin = next((at for at, row in enumerate(first) if len(row.cells) == width), 0)
        return first[:begin], None, chain(first[begin:], found)
    at = max(wordy, key=lambda at: (_filled(first[at].cells), -at))
    if at + 1 in wordy:
        both = _together(first[at], first[at + 1])
        if _filled(both) > _filled(first[at].cells):
            return first[: at + 1], both, chain(first[at + 2 :], found)
    return first[:at], first[at].cells, chain(first[at + 1 :], found)


def _names_columns(row: Row, width: int) -> bool:
    return len(row.cells) == width and not any(isinstance(c, Figure) or _LIKE_DATA.fullmatch(c) for c in row.cells)


def _together(upper: Row, lower: Row) -> tuple[str, ...]:
    return tuple(below or above for above, below in zip(upper.cells, lower.cells, strict=True))


def _filled(cells: tuple[str, ...]) -> int:
    return sum(map(bool, cells))


def _unique(words: tuple[str, ...]) -> tuple[str, ...]:
    """Give each header word once and in one line: an empty one is called by its place, a repeated one is numbered."""
    given: dict[str, None] = {}
    for at, word in enumerate(words, start=1):
        wanted = " ".join(cleaned(word).split())[:_MOST_IN_WORD].strip() or f"column {at}"
        name, count = wanted, 1
        while name in given:
            count += 1
            name = f"{wanted} ({count})"
        given[name] = None
    return tuple(given)
