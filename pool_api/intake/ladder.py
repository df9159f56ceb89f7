"""A price ladder's file: which of its columns says what, and how its rows become tiers.

Columns are stated, or else known by their header words, borne out by the values. A size is a number of credits or a
range of them: 50, 50-99, 50+. Unlike a row of the vendor's record none is set aside: a ladder with a tier missing would
be another ladder. What is doubted has been read, and is for who looks at it.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import pairwise

from pool_api.domain.errors import ColumnMissing, FileTooLarge, FileUnreadable
from pool_api.domain.ladder import Tier
from pool_api.domain.values import MOST_CREDITS
from pool_api.intake.cells import Unfit, amount_of, cleaned, credits_of, shown
from pool_api.intake.days import DayStyle, day_of
from pool_api.intake.evidence import NUMBER_STYLES, Column, columns_of, fitting, most_telling
from pool_api.intake.rows import Figure, Row
from pool_api.intake.table import Table

MOST_ROWS = 2_000
"""Rows of a file: a hundred ladders of as many tiers as one can have."""

_GLANCE = 40

VALID_FROM, FROM_CREDITS, UNIT_PRICE = "valid_from", "from_credits", "unit_price"

_WORDS = {
    VALID_FROM: "valid since effective gültig date day datum",
    FROM_CREDITS: "from ab min minimum quantity qty menge size credits units anzahl stück order tier",
    UNIT_PRICE: "price preis einzelpreis stückpreis each rate unit cost kosten",
}
"""Words of header cells by what the column is, the more telling ones first; in the order in which they choose."""

_COUNT = r"\d{1,3}(?:[.,' ]\d{3})+|\d+"
_SIZE = re.compile(
    rf"(?:≥|>=|from|ab)?\s*(?P<first>{_COUNT})(?:[.,]0{{1,2}})?"
    rf"\s*(?:\+|and more|or more|(?:-|\N{{EN DASH}}|to|bis)\s*(?P<last>{_COUNT}))?",
    re.ASCII | re.IGNORECASE,
)


_BELOW_ONE = re.compile(r"\D*0[.,]")


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderFile:
    """The tiers of a file by the day that they are valid from, in the order of the days and of the rows; the column
    found for each role; and the doubts."""

    tiers: dict[date, tuple[Tier, ...]]
    columns: dict[str, str]
    doubts: tuple[str, ...]


def read_ladders(table: Table, valid_from: date | None, named: Mapping[str, str] | None = None) -> LadderFile:
    """Give the ladders of a table.

    Takes:   valid_from — the day of all rows, where no column says it; named — header words by their roles, for what
             isn't to be guessed.
    Refuses: ColumnMissing, FileUnreadable."""
    if len(table.rows) > MOST_ROWS:
        raise FileTooLarge(what="rows of tiers", most=MOST_ROWS, line=table.rows[MOST_ROWS].line)
    chooser = _Chooser(columns=columns_of(table), named=named or {}, doubts=[])
    chosen = chooser.choose([*([] if valid_from else [VALID_FROM]), FROM_CREDITS, UNIT_PRICE])
    for each in table.ragged:
        raise FileUnreadable(reason=each.reason, line=each.line, column=1)
    found: dict[date, list[_Step]] = {}
    reader = _reader(table, {role: chooser.columns[word] for role, word in chosen.items()}, valid_from)
    for row in table.rows:
        day, step = reader.step(row)
        found.setdefault(day, []).append(step)
    tiers = {day: tuple(Tier(each.first, each.unit_price) for each in found[day]) for day in sorted(found)}
    gaps = [doubt for day in sorted(found) for doubt in _gaps(found[day])]
    prices = _price_doubts(chooser.columns[chosen[UNIT_PRICE]], reader.number_style)
    return LadderFile(tiers=tiers, columns=chosen, doubts=(*chooser.doubts, *prices, *gaps))


# --- which column says what ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chooser:
    """Finds the columns of roles among a table's; doubts grows."""

    columns: Mapping[str, Column]
    named: Mapping[str, str]
    doubts: list[str]

    def choose(self, roles: list[str]) -> dict[str, str]:
        """Give each role its column: the one that is named, else the likeliest. Refuses: ColumnMissing."""
        words = {word.casefold(): word for word in reversed([*self.columns])}
        chosen = {role: words[name] for role in roles if (name := self.named.get(role, "").casefold()) in words}
        for role in roles:
            if role not in chosen and role not in self.named:
                free = [word for word in self.columns if word not in chosen.values()]
                if found := self._guess(role, free):
                    chosen[role] = found
        missing = [
            f"{self.named[role]} ({role})" if role in self.named else role for role in roles if role not in chosen
        ]
        if missing:
            raise ColumnMissing(missing=", ".join(missing), present=", ".join(self.columns))
        return {role: chosen[role] for role in roles}

    def _guess(self, role: str, free: list[str]) -> str | None:
        """Give the column with the most telling word of those that fit, else the only one that fits and has no word for
        anything, else the one with the most telling word though it doesn't fit."""
        fit = [word for word in free if _fits(role, self.columns[word])]
        if told := most_telling(_WORDS[role], fit):
            return told
        wordless = [word for word in fit if not any(most_telling(words, [word]) for words in _WORDS.values())]
        if len(wordless) != 1:
            return most_telling(_WORDS[role], free)
        self.doubts.append(f"{wordless[0]} is taken for {role} by its values alone.")
        return wordless[0]


def _fits(role: str, column: Column) -> bool:
    """Tell whether at least half of a column's first cells can be what the role says."""
    texts = column.filled[:_GLANCE]
    if role == VALID_FROM:
        return bool({*column.day_styles} - {DayStyle.SERIAL, DayStyle.COMPACT})
    count = fitting(texts, _size) if role == FROM_CREDITS else fitting(texts, amount_of, *_number_style(texts))
    return 2 * count >= len(texts) > 0


def _number_style(texts: Sequence[str]) -> tuple[str, str]:
    """Give the style under which the most texts are amounts, the plain one when all read as many."""
    return max(NUMBER_STYLES, key=lambda style: fitting(texts, amount_of, *style))


def _price_doubts(column: Column, style: tuple[str, str]) -> list[str]:
    """Say of the first price that is another number under another style that fits as well: 1,000 is 1.000 or 1000.

    Where a price begins with a nought, a comma or point behind it groups nothing, nor does it in the others."""
    texts = column.filled
    if any(_BELOW_ONE.match(text) for text in texts):
        return []
    most = fitting(texts, amount_of, *style)
    others = [each for each in NUMBER_STYLES if each != style and fitting(texts, amount_of, *each) == most]
    for text in texts:
        found = {each: amount_of(text, *each) for each in (style, *others) if fitting([text], amount_of, *each)}
        read = found.pop(style, None)
        for instead in found.values() if read else ():
            if Fraction(instead) != Fraction(read or 0):
                return [f"{shown(text)} of {column.word} is read as {read}; it could be {instead}."]
    return []


def _day_style(column: Column) -> DayStyle:
    """Give the style of a column of days. Refuses: FileUnreadable where it could be one or another."""
    styles = column.day_styles or (DayStyle.ISO,)
    if len(styles) > 1:
        read = " or as ".join(styles)
        reason = f"the days of {column.word} can be read as {read}: write them as YYYY-MM-DD, or state the day"
        raise FileUnreadable(reason=reason, line=1, column=1)
    return styles[0]


# --- rows ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """A row: its line, the size that it begins at, the one that it ends at where it says so, and its price."""

    line: int
    first: int
    last: int | None
    unit_price: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reader:
    """Reads rows: at says where in a row each role's cell stands, the styles how days and prices are written."""

    at: Mapping[str, int]
    valid_from: date | None
    day_style: DayStyle
    number_style: tuple[str, str]

    def step(self, row: Row) -> tuple[date, _Step]:
        """Give the day and the step of a row. Refuses: FileUnreadable."""
        at = 0
        try:
            day = self.valid_from
            if day is None:
                at = self.at[VALID_FROM]
                day = day_of(cleaned(row.cells[at]), self.day_style)
            at = self.at[FROM_CREDITS]
            first, last = _size(cleaned(row.cells[at]))
            at = self.at[UNIT_PRICE]
            price = amount_of(cleaned(row.cells[at]), *self.number_style)
        except Unfit as unfit:
            raise FileUnreadable(reason=f"{unfit} (column {at + 1} of the table)", line=row.line, column=1) from None
        return day, _Step(line=row.line, first=first, last=last, unit_price=price)


def _reader(table: Table, columns: Mapping[str, Column], valid_from: date | None) -> _Reader:
    return _Reader(
        at={role: table.header.index(column.word) for role, column in columns.items()},
        valid_from=valid_from,
        day_style=DayStyle.ISO if valid_from else _day_style(columns[VALID_FROM]),
        number_style=_number_style(columns[UNIT_PRICE].filled),
    )


def _size(text: str) -> tuple[int, int | None]:
    """Read a size of orders: where it begins, and where it ends if it says so. Refuses: Unfit."""
    if isinstance(text, Figure):
        return credits_of(text, ".", ""), None
    found = _SIZE.fullmatch(text)
    if found is None:
        raise Unfit(f"{shown(text)} is not a whole number of credits, nor a range of them")
    first, last = (None if part is None else int(re.sub(r"\D", "", part)) for part in found.group("first", "last"))
    if first is None or max(first, last or 0) > MOST_CREDITS:
        raise Unfit(f"{shown(text)} is more than {MOST_CREDITS} credits")
    return first, last


def _gaps(steps: list[_Step]) -> list[str]:
    """Say where ranges don't meet, and where the last one ends."""
    doubts = [
        f"Line {step.line} ends at {step.last}, and the next tier begins at {following.first}."
        for step, following in pairwise(steps)
        if step.last is not None and step.last + 1 != following.first
    ]
    if steps[-1].last is not None:
        doubts.append(f"The last tier ends at {steps[-1].last}; larger orders are taken to cost as much for a credit.")
    return doubts
