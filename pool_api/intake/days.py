"""How a day is written in a cell: the styles, and what is refused under each of them.

A day in ISO 8601 is read under every style, because nothing else is written like that and spreadsheets keep days so.
A time of day behind it counts only where the cell says how far its clock is from UTC and the vendor's zone is known:
then the day is the one that the vendor's clocks showed. Otherwise the day is taken as it is written.
"""

import re
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from babel import Locale

from pool_api.intake.cells import Unfit, shown


class DayStyle(StrEnum):
    """The order of a date's parts."""

    ISO = "iso"
    DAY_MONTH_DOTS = "d.m.y"
    MONTH_DAY = "m/d/y"
    DAY_MONTH = "d/m/y"
    SHORT_YEAR_FIRST = "yy-m-d"
    MONTH_NAMED = "named month"
    COMPACT = "yyyymmdd"
    SERIAL = "serial"


_TIME = (
    r"(?:(?:[Tt,]|\s)\s*(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<half>[AaPp])?(?(half)\.?[Mm]\.?)\s*(?P<offset>[Zz]|UTC|GMT|[+\-\u2212]\d{2}(?::?\d{2})?)?)?"
)
_YEAR = r"(?P<y>\d{4}|\d{2})"
_DAYS = {
    DayStyle.ISO: r"(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})",
    DayStyle.DAY_MONTH_DOTS: rf"(?P<d>\d{{1,2}})\.\s?(?P<m>\d{{1,2}})\.\s?{_YEAR}",
    DayStyle.MONTH_DAY: rf"(?P<m>\d{{1,2}})[/-](?P<d>\d{{1,2}})[/-]{_YEAR}",
    DayStyle.DAY_MONTH: rf"(?P<d>\d{{1,2}})[/-](?P<m>\d{{1,2}})[/-]{_YEAR}",
    DayStyle.SHORT_YEAR_FIRST: r"(?P<y>\d{2})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})",
    DayStyle.COMPACT: r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})",
    DayStyle.MONTH_NAMED: (
        rf"(?:\w+,?\s+)?(?:(?P<d>\d{{1,2}})(?:st|nd|rd|th|er|\.|º)?[\s-]+(?:de\s+)?(?P<name>[^\W\d_]+)\.?,?[\s-]+(?:de\s+)?{_YEAR}"
        r"|(?P<name2>[^\W\d_]+)\.?\s+(?P<d2>\d{1,2})(?:st|nd|rd|th)?,?\s+(?P<y2>\d{4}))"
    ),
}
_PATTERNS = {
    style: re.compile(day + _TIME, re.ASCII if style != DayStyle.MONTH_NAMED else 0) for style, day in _DAYS.items()
}
_SERIAL = re.compile(r"(\d{5})(?:\.\d+)?", re.ASCII)
_SERIAL_BEGAN = date(1899, 12, 30)
"""Day 0 of spreadsheets, for days from March 1900 on (ECMA-376 part 1, 18.17.4.1, from memory)."""

_EARLIEST, _LATEST = 1990, 2100
_LANGUAGES = [
    "en",
    "de",
    "fr",
    "es",
    "it",
    "pt",
    "nl",
    "da",
    "sv",
    "nb",
    "fi",
    "pl",
    "cs",
    "sk",
    "hu",
    "ro",
    "sl",
    "tr",
]


@lru_cache(maxsize=4_096)
def day_of(text: str, style: DayStyle, zone: str | None = None) -> date:
    """Read a day; years of two digits are of this century.

    Takes:   zone — the vendor's, by its name in the IANA database, for instants that state their offset.
    Refuses: Unfit."""
    if style is DayStyle.SERIAL and (serial := _SERIAL.fullmatch(text)):
        return _plausible(_SERIAL_BEGAN + timedelta(days=int(serial[1])), text)
    found = _PATTERNS[DayStyle.ISO].fullmatch(text)
    if found is None and style in _PATTERNS:
        found = _PATTERNS[style].fullmatch(text)
    if found is None:
        raise Unfit(f"{shown(text)} is not a date of the style {style}")
    parts = found.groupdict()
    try:
        day = date(*_year_month_day(parts, text))
        instant = _instant(day, parts)
    except ValueError:
        raise Unfit(f"{shown(text)} is not a day of the calendar, read in the style {style}") from None
    if instant is not None and zone is not None:
        day = instant.astimezone(ZoneInfo(zone)).date()
    return _plausible(day, text)


def states_offset(text: str) -> bool:
    """Tell whether a cell says how far from UTC the clock was that it tells the time by."""
    return bool(re.search(r"\d{2}:\d{2}.*(?:[Zz]|UTC|GMT|[+\-\u2212]\d{2}:?\d{2})$", text))


def is_zone(name: str) -> bool:
    """Tell whether the database of time zones has a zone of that name."""
    try:
        ZoneInfo(name)
    except (OSError, ValueError):
        return False
    return True


def _plausible(day: date, text: str) -> date:
    if not _EARLIEST <= day.year <= _LATEST:
        raise Unfit(f"the year of {shown(text)} is not from {_EARLIEST} to {_LATEST}")
    return day


def _year_month_day(parts: dict[str, str | None], text: str) -> tuple[int, int, int]:
    year = parts["y"] or parts.get("y2") or ""
    name = parts.get("name") or parts.get("name2")
    month = _months().get(name.casefold()) if name else int(parts["m"] or 0)
    if month is None:
        raise Unfit(f"{shown(text)} names no month in a known language")
    return int(year) + (2000 if len(year) == 2 else 0), month, int(parts["d"] or parts.get("d2") or 0)


def _instant(day: date, parts: dict[str, str | None]) -> datetime | None:
    """Give the instant in UTC where the offset is stated. Refuses: ValueError for what no clock shows."""
    if parts["hour"] is None:
        return None
    hour, minute = int(parts["hour"]), int(parts["minute"] or 0)
    if parts["half"]:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if parts["half"] in "Pp" else 0)
    if int(parts["second"] or 0) > 60:
        raise ValueError
    at = datetime(day.year, day.month, day.day, hour, minute, tzinfo=UTC)
    offset = parts["offset"]
    if offset is None:
        return None
    digits = re.sub(r"\D", "", offset)
    hours, minutes = int(digits[:2] or 0), int(digits[2:] or 0)
    if hours > 23 or minutes > 59:
        raise ValueError
    away = timedelta(hours=hours, minutes=minutes)
    return at + away if offset[0] in "-\u2212" else at - away


@cache
def _months() -> dict[str, int]:
    """Give the numbers of months by their names, whole and abbreviated, in small letters.

    Source: the Common Locale Data Repository, as Babel brings it; no name means two months in these languages."""
    return {
        name.casefold().rstrip("."): number
        for language in _LANGUAGES
        for months in Locale(language).months.values()
        for width in ("wide", "abbreviated")
        for number, name in months[width].items()
    }
