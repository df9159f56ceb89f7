"""JSON read strictly (RFC 8259 and the interoperable subset of RFC 7493): one reading of every body, or none.

Refused: what isn't UTF-8, a byte order mark, NaN and infinities, a member that stands twice in one object, lone
surrogates and U+0000 in any text (PostgreSQL can't store it, SQLite can), whole numbers of thousands of digits, and
nesting deeper than a body here ever needs. Numbers are exact: 24.0 is the whole number 24, as JSON Schema has it, and
what isn't whole is a Decimal.
"""

import json
from decimal import Decimal
from typing import Any, NoReturn

from pool_api.rest.errors import DuplicateMember, MalformedJson

MOST_DEPTH = 32

_MOST_DIGITS = 18
"""A longer number with a point or an exponent stays a Decimal, whole or not: an exponent makes any number of digits."""


def read_json(raw: bytes) -> Any:
    """Give the value of a JSON text. Refuses: MalformedJson, DuplicateMember."""
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise MalformedJson(reason=f"byte {error.start + 1} is not UTF-8") from None
    if text.startswith("\ufeff"):
        raise MalformedJson(reason="it starts with a byte order mark (BOM)")
    try:
        value = _READER.decode(text)
    except json.JSONDecodeError as error:
        raise MalformedJson(reason=f"{error.msg} at line {error.lineno}, column {error.colno}") from None
    except RecursionError:
        raise _too_deep() from None
    except (ValueError, ArithmeticError):
        raise MalformedJson(reason="a number has too many digits") from None
    escaped = b"\\u" in raw
    if escaped or raw.count(b"[") + raw.count(b"{") > MOST_DEPTH:
        _check(value, 1, escaped=escaped)
    return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        names = [name for name, _ in pairs]
        raise DuplicateMember(member=_printable(next(name for name in names if names.count(name) > 1)))
    return made


def _constant(name: str) -> NoReturn:
    raise MalformedJson(reason=f"{name} is not a JSON number")


def _number(text: str) -> int | Decimal:
    """Works on the digits alone: arithmetic on a Decimal would round by a context that others can set."""
    value = Decimal(text)
    sign, digits, exponent = value.as_tuple()
    if not isinstance(exponent, int) or len(digits) + max(exponent, 0) > _MOST_DIGITS:
        return value
    whole = len(digits) + min(exponent, 0)
    if any(digits[max(whole, 0) :]):
        return value
    size = int("".join(map(str, digits[: max(whole, 0)])) + "0" * max(exponent, 0) or "0")
    return -size if sign else size


_READER = json.JSONDecoder(object_pairs_hook=_object, parse_constant=_constant, parse_float=_number)


def _check(value: Any, depth: int, *, escaped: bool) -> None:
    """Only escapes can bring in U+0000 and lone surrogates: as bytes they are refused before this."""
    if isinstance(value, str):
        if escaped and ("\0" in value or any("\ud800" <= character <= "\udfff" for character in value)):
            raise MalformedJson(reason="a text has U+0000 or half of a surrogate pair")
    elif isinstance(value, dict | list):
        if depth > MOST_DEPTH:
            raise _too_deep()
        for inner in (*value, *value.values()) if isinstance(value, dict) else value:
            _check(inner, depth + 1, escaped=escaped)


def _too_deep() -> MalformedJson:
    return MalformedJson(reason=f"it is nested deeper than {MOST_DEPTH}")


def _printable(name: str) -> str:
    return name[:100].encode("utf-8", "replace").decode()
