"""How a quantity and an amount are written in a cell: the styles, and what is refused under each of them.

A Figure, a number that a spreadsheet keeps, is read under every style as what it is. Each reader takes the
text of one cell and raises Unfit with the reason; nobody guesses here which style a file has. Days stand in days.py.
"""

import re
import unicodedata
from functools import lru_cache

from pool_api.domain.values import MOST_CREDITS
from pool_api.intake.rows import Figure


class Unfit(Exception):
    """The cell doesn't say what its column should; the text is the reason."""


_MOST_DIGITS, _MOST_SHOWN = 18, 40

_TOTALS = ("total", "subtotal", "grand total", "sum", "summe", "gesamt", "saldo", "opening bal", "closing bal")

DECIMALS = (".", ",")
THOUSANDS = ("", ",", ".", " ", "'")
_MINUS, _BLANKS = re.compile("[\u2212\u2013]"), re.compile("[\u00a0\u202f\u2009]")
_MONEY = re.compile(r"^[^\d(+-]{1,4}(?=[\d(+-])|(?<=[\d)])[^\d)]{1,4}$")


def cleaned(text: str) -> str:
    """Give a text without blanks around it and without invisible characters that change only how it is shown."""
    if isinstance(text, Figure):
        return text
    if text.isascii():
        return text.strip()
    return "".join(sign for sign in text if unicodedata.category(sign) != "Cf").strip()


def credits_of(text: str, decimal: str, thousands: str) -> int:
    """Read a whole number of credits, signed; 12.00 is whole, 12.5 isn't. Refuses: Unfit."""
    sign, whole, part = _number(text, decimal, thousands)
    if part.strip("0"):
        raise Unfit(f"{shown(text)} is not a whole number of credits")
    if len(whole) > _MOST_DIGITS or int(whole) > MOST_CREDITS:
        raise Unfit(f"{shown(text)} is more than {MOST_CREDITS} credits")
    return sign * int(whole)


def amount_of(text: str, decimal: str, thousands: str) -> str:
    """Read an amount of money as exact decimal text, such as -4240.50; a currency's sign or code is read over.

    Refuses: Unfit."""
    plain = text if isinstance(text, Figure) else _MONEY.sub("", text).strip()
    sign, whole, part = _number(plain, decimal, thousands)
    if len(whole) + len(part) > _MOST_DIGITS:
        raise Unfit(f"{shown(text)} has too many digits for an amount")
    figures = str(int(whole)) + ("." + part if part else "")
    return "-" + figures if sign < 0 and figures.strip("0.") else figures


def is_total(text: str) -> bool:
    """Tell whether a cell's text announces a sum instead of a movement."""
    return text.casefold().startswith(_TOTALS)


def shown(text: str) -> str:
    """Give a cell's text as a sentence can hold it: quoted, and cut where it is long."""
    return f'"{text}"' if len(text) <= _MOST_SHOWN else f'"{text[:_MOST_SHOWN]}…"'


def _number(text: str, decimal: str, thousands: str) -> tuple[int, str, str]:
    """Give sign, digits before and digits behind the decimal sign."""
    digits = text[1:] if text[:1] in {"-", "+"} else text
    if digits.isascii() and digits.isdigit():
        return (-1 if text[0] == "-" else 1), digits, ""
    if isinstance(text, Figure):
        decimal, thousands = ".", ""
    plain = text if text.isascii() else _BLANKS.sub(" ", _MINUS.sub("-", text))
    negative = False
    if plain.startswith("(") and plain.endswith(")"):
        plain, negative = plain[1:-1].strip(), True
    elif plain.endswith("-"):
        plain, negative = plain[:-1].strip(), True
    elif plain.startswith(("-", "+")):
        plain, negative = plain[1:].strip(), plain.startswith("-")
    found = _figures(decimal, thousands).fullmatch(plain)
    if found is None:
        raise Unfit(f"{shown(text)} is not a number")
    return (-1 if negative else 1), re.sub(r"\D", "", found[1]), found[2] or ""


@lru_cache
def _figures(decimal: str, thousands: str) -> re.Pattern[str]:
    """Give the pattern of a number without its sign: digits, in groups of three if grouped at all, and decimals."""
    group = re.escape(thousands)
    digits = rf"\d+|\d{{1,3}}(?:{group}\d{{3}})+" if thousands else r"\d+"
    return re.compile(rf"({digits})(?:{re.escape(decimal)}(\d+))?", re.ASCII)
