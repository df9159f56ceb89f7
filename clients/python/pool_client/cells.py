"""How values become the cells of a table: amounts with the digits that the service gives and commas between thousands,
credits as whole numbers, what is absent as a dash."""

from collections.abc import Iterable
from decimal import Decimal

from pool_client.models.months import Costed, Replacement, UnitCost
from pool_client.table import Table

NOTHING = "–"


def tabulated(title: str, columns: str, rows: Iterable[Iterable[object]], *words: str) -> Table:
    """Give a table. columns are heads with bars between them, those of figures with > before."""
    return Table(
        title=title,
        columns=tuple(column.strip() for column in columns.split("|")),
        rows=tuple(tuple(text(cell) for cell in row) for row in rows),
        words=words,
    )


def text(cell: object) -> str:
    """Give what stands in a cell."""
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


_BASES = {
    "planned": "as planned",
    "last_purchase": "as large as the last purchase",
    "smallest_order": "the smallest there is",
}


def replacement(found: Replacement) -> str:
    """Say what a credit costs to replace."""
    basis = _BASES.get(found.basis, found.basis)
    return f"Replacing a credit costs {found.unit_price:,}: the next order, {basis}, is of {found.quantity:,}."
