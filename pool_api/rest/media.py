"""Media types: whether a body is of a type that is taken here, and which of several forms an answer gets.

Where an operation has a single form, the header Accept is not looked at (RFC 9110, 12.5.1, allows it).
"""

from collections.abc import Collection, Sequence
from typing import Annotated

from fastapi import Header

from pool_api.rest.errors import NotAcceptable, UnsupportedMediaType

JSON = "application/json"
CSV = "text/csv"
PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
XLSB = "application/vnd.ms-excel.sheet.binary.macroenabled.12"
XLS = "application/vnd.ms-excel"
ODS = "application/vnd.oasis.opendocument.spreadsheet"
XML = "application/xml"
ZIP = "application/zip"

TABLES = (CSV, XLSX, ODS, XLSB, XLS)
"""What files of the vendor's may be: delimited text, or a spreadsheet."""

Accept = Annotated[str | None, Header(alias="Accept", max_length=500, include_in_schema=False)]
"""Of an operation that offers several media types; see choose."""


def check_media_type(header: str | None, supported: Collection[str]) -> None:
    """Refuse a body that isn't of a supported type in UTF-8.

    Takes:   header — Content-Type as it came; supported — media types in small letters.
    Refuses: UnsupportedMediaType."""
    if header in supported:
        return
    kind, _, rest = (header or "").partition(";")
    parameters = [part.strip().lower().replace('"', "") for part in rest.split(";") if part.strip()]
    if kind.strip().lower() not in supported or any(
        part.startswith("charset=") and part != "charset=utf-8" for part in parameters
    ):
        raise UnsupportedMediaType(supported=sorted(supported))


def choose(accept: str | None, offered: Sequence[str]) -> str:
    """Give the offered media type that a client likes best; the earlier one where it likes several equally.

    Refuses: NotAcceptable when it accepts none of them.
    Source:  RFC 9110, 12.5.1: the most specific range decides a type's weight."""
    ranges = _ranges(accept if accept and accept.strip() else "*/*")
    best = max(offered, key=lambda kind: _weight(kind, ranges))
    if _weight(best, ranges) == 0:
        raise NotAcceptable(offered=list(offered))
    return best


def _ranges(accept: str) -> dict[str, int]:
    """Give each range's weight in thousandths; what can't be read as a weight counts as 0."""
    found = {}
    for part in accept.split(","):
        kind, *parameters = (piece.strip().lower() for piece in part.split(";"))
        weights = [piece.removeprefix("q=") for piece in parameters if piece.startswith("q=")]
        found[kind] = _thousandths(weights[0]) if weights else 1_000
    return found


def _thousandths(weight: str) -> int:
    whole, _, decimals = weight.partition(".")
    digits = f"{whole}{decimals:0<3}"
    return min(int(digits), 1_000) if digits.isascii() and digits.isdigit() and len(decimals) <= 3 else 0


def _weight(kind: str, ranges: dict[str, int]) -> int:
    for pattern in (kind, kind.partition("/")[0] + "/*", "*/*"):
        if pattern in ranges:
            return ranges[pattern]
    return 0
