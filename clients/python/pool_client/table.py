"""Tables of text, and how they get onto a screen or into a file: the only place that draws.

On a terminal a table has lines and is fitted to the width; elsewhere it is plain columns, whole, a line each. What
other people wrote can't command the terminal.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table as RichTable
from rich.text import Text

_GAP = "  "


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A title, columns (a name that starts with > is of figures, set to the right), rows of text, and closing words."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: tuple[str, ...] = ()


def put(console: Console, tables: Iterable[Table]) -> None:
    """Print tables."""
    for table in tables:
        if console.is_terminal and table.rows:
            console.print(_drawn(table))
            lines: Iterable[str] = table.words
        else:
            lines = plain(table)
        for line in lines:
            console.print(Text(readable(line)), soft_wrap=True)
        console.print()


def plain(table: Table) -> Iterator[str]:
    """Give the lines of a table without any drawing; the head is left out where there are no rows."""
    yield table.title
    if table.rows:
        head = tuple(column.removeprefix(">") for column in table.columns)
        lines = [tuple(map(readable, line)) for line in (head, *table.rows)]
        widths = [max(map(cell_len, column)) for column in zip(*lines, strict=True)]
        for line in lines:
            cells = (_fitted(*each) for each in zip(line, widths, table.columns, strict=True))
            yield _GAP.join(cells).rstrip()
    yield from table.words


def readable(text: str) -> str:
    """Give text in one line without anything that a terminal would obey."""
    return "".join(
        each if each.isprintable() else " " if each.isspace() else "\N{REPLACEMENT CHARACTER}" for each in text
    )


def _fitted(cell: str, width: int, column: str) -> str:
    room = " " * (width - cell_len(cell))
    return room + cell if _is_of_figures(column) else cell + room


def _is_of_figures(column: str) -> bool:
    return column.startswith(">")


def _drawn(table: Table) -> RichTable:
    drawn = RichTable(title=Text(readable(table.title)), title_justify="left", box=SIMPLE_HEAD, pad_edge=False)
    for column in table.columns:
        drawn.add_column(
            Text(readable(column.removeprefix(">"))), justify="right" if _is_of_figures(column) else "left"
        )
    for row in table.rows:
        drawn.add_row(*(Text(readable(cell)) for cell in row))
    return drawn
