"""What one record of a file is, before any column has a meaning, and how much of a file is taken.

Every limit is checked before memory is taken for what exceeds it.
"""

from dataclasses import dataclass
from decimal import Decimal

MOST_BYTES = 32 * 2**20
MOST_ROWS = 200_000
MOST_COLUMNS = 200
MOST_CELLS = 4_000_000
MOST_IN_CELL = 10_000
MOST_IN_ROW = 250_000
"""Limits of a file: bytes; rows below the header; cells of a row and of all; characters of a cell and of a row."""


class Figure(str):
    """A cell that a spreadsheet keeps as a number, in plain decimal notation: no style of writing applies to it."""

    __slots__ = ()

    @classmethod
    def of(cls, text: str) -> "Figure":
        """Read a number as JSON writes it."""
        return cls(format(Decimal(text), "f") if "e" in text or "E" in text else text)


@dataclass(frozen=True, slots=True)
class Row:
    """The cells of one record and the line it begins on."""

    line: int
    cells: tuple[str, ...]
