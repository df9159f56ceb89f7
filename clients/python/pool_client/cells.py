"""How values are shown in the cells of tables: what stands for nothing, and commas between thousands."""

from collections.abc import Iterable
from decimal import Decimal

from pool_client.models.months import Costed, UnitCost
from pool_client.table import Table

NOTHING = "–"


def table(title: str, columns: str, rows: Iterable[Iterable[object]], *words: str) -> Table:
    """Give a table of values; columns are named in one text, with | between them."""
    return Table(
        title=title,
        columns=tuple(column.strip() for column in columns.split("|")),
        rows=tuple(tuple(text(cell) for cell in row) for row in rows),
        words=words,
    )


def text(cell: object) -> str:
    """Give what a value is shown as."""
    match cell:
        case None | "":
            return NOTHING
        case UnitCost():
            return str(cell.shown)
        case Costed():
            return f"{cell.quantity:,} / {cell.cost:,}" if cell.quantity or cell.cost else NOTHING
        case Decimal():
            return f"{cell:,}"
        case int():
            return f"{cell:,}"
        case _:
            return str(cell)
