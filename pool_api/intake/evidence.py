"""What the values of a table's columns bear out: days, numbers, accounts, codes, prose, and which column adds up.

Everything is judged by a sample of the rows, and nine of ten values decide. Nothing is chosen here; see proposal.py.
"""

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pool_api.intake.cells import Unfit, amount_of, cleaned, credits_of, is_total
from pool_api.intake.days import DayStyle, day_of
from pool_api.intake.table import Table

_SAMPLE = 2_000
_GLANCE = 40
_LEAST_PAIRS = 2
_FEW = 2
_DECIMALS = re.compile(r"\d[.,]\d{1,2}\b")
NUMBER_STYLES = ((".", ""), (",", ""), (".", ","), (",", "."), (",", " "), (".", " "), (".", "'"))
"""Signs of decimals and thousands, the plain ones first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: its word, its texts row by row, those that aren't empty, and how these can be read.

    day_styles are all under which they are days, number_style is the first under which they are whole credits, None
    when there is none; numbers are these, row by row, None for a cell that holds none."""

    word: str
    texts: tuple[str, ...]
    filled: tuple[str, ...]
    day_styles: tuple[DayStyle, ...]
    number_style: tuple[str, str] | None
    numbers: tuple[int | None, ...]

    @property
    def is_words(self) -> bool:
        """Whether it is neither days nor numbers, and not empty."""
        return bool(self.filled) and self.number_style is None and not self.day_styles

    @property
    def is_amounts(self) -> bool:
        """Whether it is numbers, at least half of them with decimals."""
        if self.number_style is not None or 2 * sum(bool(_DECIMALS.search(text)) for text in self.filled) < len(
            self.filled
        ):
            return False
        return any(_mostly(self.filled, amount_of, *style) for style in NUMBER_STYLES)

    @property
    def is_codes(self) -> bool:
        """Whether it is a reference: hardly any value twice, digits in each, no blanks."""
        codes = sum(any(map(str.isdigit, text)) and not any(map(str.isspace, text)) for text in self.filled)
        distinct = len(set(self.filled))
        return len(self.filled) > 2 and 20 * distinct >= 19 * len(self.filled) and _nine_of_ten(codes, self.filled)

    @property
    def is_prose(self) -> bool:
        """Whether it is free text: some of it of several words."""
        return self.is_words and 5 * sum(" " in text for text in self.filled) >= len(self.filled)

    def is_accounts(self, handles: Collection[str]) -> bool:
        """Tell whether at least half of it are accounts that are known."""
        known = {handle.casefold() for handle in handles}
        return self.is_words and 2 * sum(text.casefold() in known for text in self.filled) >= len(self.filled)


def most_telling(words: str, among: Iterable[str]) -> str | None:
    """Give the header word that tells the most, the first of several; None when none of them tells anything.

    Takes:   words — what is looked for in header words, the more telling ones first; fewer words around are better."""
    wanted = words.split()
    ranks = {}
    for each in among:
        parts = re.findall(r"[^\W_]+", each.casefold())
        if hits := [wanted.index(part) for part in parts if part in wanted]:
            ranks[each] = (min(hits), len(parts))
    return min(ranks, key=lambda each: ranks[each], default=None)


def columns_of(table: Table) -> dict[str, Column]:
    """Give the columns of a table by their words, in its order; rows of totals don't count."""
    sample = [[cleaned(cell) for cell in row.cells] for row in table.rows[:_SAMPLE]]
    rows = [cells for cells in sample if not any(map(is_total, cells))]
    return {word: _column(word, [cells[at] for cells in rows]) for at, word in enumerate(table.header)}


def _column(word: str, texts: list[str]) -> Column:
    filled = [text for text in texts if text]
    number_style = next((style for style in NUMBER_STYLES if _mostly(filled, credits_of, *style)), None)
    return Column(
        word=word,
        texts=tuple(texts),
        filled=tuple(filled),
        day_styles=_day_styles(filled),
        number_style=number_style,
        numbers=tuple(_number_of(text, number_style) for text in texts),
    )


def _day_styles(texts: Sequence[str]) -> tuple[DayStyle, ...]:
    """Give the styles under which the texts are dates; ISO 8601 alone where they are in it."""
    if _mostly(texts, day_of, DayStyle.ISO):
        return (DayStyle.ISO,)
    return tuple(style for style in DayStyle if _mostly(texts, day_of, style))


def _number_of(text: str, style: tuple[str, str] | None) -> int | None:
    """Give the whole number that a text is, None when it is none."""
    try:
        return credits_of(text, *style) if style else None
    except Unfit:
        return None


def fitting(texts: Sequence[str], reader: Callable[..., object], *style: str) -> int:
    """Count the texts that a reader takes."""
    count = 0
    for text in texts:
        try:
            reader(text, *style)
        except Unfit:
            continue
        count += 1
    return count


def _mostly(texts: Sequence[str], reader: Callable[..., object], *style: str) -> bool:
    """Tell whether nine of ten texts fit, or all of a few but one; at a glance first."""
    if not texts or not fitting(texts[:_GLANCE], reader, *style):
        return False
    count = fitting(texts, reader, *style)
    return _nine_of_ten(count, texts) or len(texts) - 1 <= count > _FEW


def _nine_of_ten(count: int, of: Sequence[object]) -> bool:
    return bool(of) and 10 * count >= 9 * len(of)


# --- what adds up ----------------------------------------------------------------------------------------------------


def follows(balances: Sequence[int | None], changes: Sequence[int | None]) -> int:
    """Tell whether balances run on by changes: 1 from the top down, -1 from the bottom up, 0 when they don't.

    Takes:   both row by row; pairs of rows with anything missing don't count, and two are the fewest that decide."""
    for order in (1, -1):
        rows = list(zip(balances, changes, strict=True))[::order]
        steps = [
            (balance - before, change)
            for (before, _), (balance, change) in pairwise(rows)
            if before is not None and balance is not None and change is not None
        ]
        agreeing = sum(step == change for step, change in steps)
        if len(steps) >= _LEAST_PAIRS and _nine_of_ten(agreeing, steps):
            return order
    return 0


def sizes_follow(balances: Sequence[int | None], sizes: Sequence[int | None]) -> bool:
    """Tell whether balances change by as much as unsigned sizes say, whichever way."""
    for order in (1, -1):
        rows = list(zip(balances, sizes, strict=True))[::order]
        steps = [
            (abs(balance - before), size)
            for (before, _), (balance, size) in pairwise(rows)
            if before is not None and balance is not None and size is not None
        ]
        if len(steps) >= _LEAST_PAIRS and _nine_of_ten(sum(step == size for step, size in steps), steps):
            return True
    return False


def beside(one: Column, other: Column) -> bool:
    """Tell whether of two columns of numbers each row fills just one, and both are used."""
    filled = [
        (bool(a), bool(b)) for a, b in zip(one.numbers, other.numbers, strict=True) if a is not None or b is not None
    ]
    both_used = any(a for a, _ in filled) and any(b for _, b in filled)
    return both_used and _nine_of_ten(sum(a != b for a, b in filled), filled)


def net(incoming: Column, outgoing: Column) -> tuple[int | None, ...]:
    """Give what comes in less what goes out, row by row."""
    return tuple(
        None if came is None and went is None else (came or 0) - abs(went or 0)
        for came, went in zip(incoming.numbers, outgoing.numbers, strict=True)
    )


def own_account(one: Column, other: Column) -> str:
    """Give the account that stands in most rows of two columns of accounts: the one that the file is the record of."""
    return Counter(text.casefold() for text in (*one.filled, *other.filled)).most_common(1)[0][0]


def gives(column: Column, own: str, balances: Sequence[int | None]) -> int:
    """Tell whether the balance falls in the rows in which a column names the own account: above 0 if so, below 0 if it
    rises; whichever way the file runs, it is the newer row's balance that counts."""
    said = 0
    for (before, _), (balance, text) in pairwise(zip(balances, column.texts, strict=True)):
        if before is not None and balance is not None and text.casefold() == own:
            said += (balance < before) - (balance > before)
    return said
