"""A price ladder's file: which columns it has, and how its rows become tiers.

Columns are known by their header words, in any order: `from_credits`, `unit_price`, and `valid_from` where the file
has several ladders or the day isn't stated otherwise. Prices have a decimal point. Unlike a row of the vendor's record
none is set aside: a ladder with a tier missing would be another ladder.
"""

from datetime import date

from pool_api.domain.errors import ColumnMissing, FileUnreadable
from pool_api.domain.ladder import Tier
from pool_api.intake.cells import Unfit, amount_of, credits_of
from pool_api.intake.days import DayStyle, day_of
from pool_api.intake.rows import Row
from pool_api.intake.table import Table, read_table

VALID_FROM, FROM_CREDITS, UNIT_PRICE = "valid_from", "from_credits", "unit_price"


def read_ladder(content: bytes, valid_from: date | None) -> dict[date, tuple[Tier, ...]]:
    """Give the tiers of a file by the day that they are valid from, in the order of the days and of the rows.

    Takes:   valid_from — the day of all rows, where the file has no such column.
    Refuses: ColumnMissing, FileUnreadable, FileTooLarge."""
    table = read_table(content)
    wanted = [FROM_CREDITS, UNIT_PRICE, *([VALID_FROM] if valid_from is None else [])]
    places = {word.casefold().replace(" ", "_"): at for at, word in enumerate(table.header)}
    missing = ", ".join(word for word in wanted if word not in places)
    if missing:
        raise ColumnMissing(missing=missing, present=", ".join(table.header))
    _refuse_ragged(table)
    found: dict[date, list[Tier]] = {}
    for row in table.rows:
        day, tier = _tier(row, places, valid_from)
        found.setdefault(day, []).append(tier)
    return {day: tuple(found[day]) for day in sorted(found)}


def _refuse_ragged(table: Table) -> None:
    for each in table.ragged:
        raise FileUnreadable(reason=each.reason, line=each.line, column=1)


def _tier(row: Row, places: dict[str, int], valid_from: date | None) -> tuple[date, Tier]:
    at = 0
    try:
        if valid_from is None:
            at = places[VALID_FROM]
            valid_from = day_of(row.cells[at], DayStyle.ISO)
        at = places[FROM_CREDITS]
        quantity = credits_of(row.cells[at], ".", "")
        at = places[UNIT_PRICE]
        return valid_from, Tier(quantity, amount_of(row.cells[at], ".", ""))
    except Unfit as unfit:
        raise FileUnreadable(reason=f"{unfit} (column {at + 1} of the table)", line=row.line, column=1) from None
