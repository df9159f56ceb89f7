"""How days, times, amounts and pairs are written on the command line."""

from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any

import click


class _Day(click.ParamType[date]):
    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value} is no day; write YYYY-MM-DD", param, ctx)


class _When(click.ParamType["datetime | time"]):
    name = "when"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime | time:
        try:
            return time.fromisoformat(str(value)) if len(str(value)) <= len("12:00:00") else _moment(str(value))
        except ValueError:
            self.fail(f"{value} is no day and time; write 'YYYY-MM-DD HH:MM', or HH:MM of today", param, ctx)


def _moment(text: str) -> datetime:
    if ":" not in text:
        raise ValueError(text)
    return datetime.fromisoformat(text)


class _Amount(click.ParamType[Decimal]):
    name = "amount"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Decimal:
        try:
            found = Decimal(str(value))
        except InvalidOperation:
            self.fail(f"{value} is no amount; write digits with a point, such as 3450.00", param, ctx)
        if not found.is_finite():
            self.fail(f"{value} is no amount", param, ctx)
        return found


class _Pairs(click.ParamType[tuple[tuple[str, str], ...]]):
    name = "pairs"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[tuple[str, str], ...]:
        if value == "none":
            return ()
        found = []
        for pair in str(value).split(","):
            one, plus, other = pair.strip().partition("+")
            if not (one and plus and other):
                self.fail(f"{pair} is no pair; write ALDER+BIRCH, with commas between pairs, or none", param, ctx)
            found.append((one, other))
        return tuple(found)


DAY = _Day()
WHEN = _When()
AMOUNT = _Amount()
PAIRS = _Pairs()


def one_of(words: type[StrEnum]) -> click.Choice[str]:
    """Give the choice between the words of a list, as they stand on the wire."""
    return click.Choice([each.value for each in words])
