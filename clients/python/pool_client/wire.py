"""How models become JSON and JSON becomes models. Nobody else knows the wire forms.

Credits are integers, money and unit prices are Decimals that stand as text on the wire, days and instants are text.
Reading is strict about what a model names: a missing member, or a value of another form, is refused with its place.
Members that a model doesn't name are passed over, so that an older client can read a newer service; where a person
wrote the JSON they are refused, as slips of the pen. A field whose name would be a keyword ends in an underscore that
the wire hasn't.
"""

import json
import re
import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")

Json = Any
"""A JSON value."""

BY_KIND = "by_kind"
"""In a field's metadata: models by the word that its sibling `kind` says; of other kinds the field is plain JSON."""

_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")


class Unfit(ValueError):
    """Something isn't what a model says, or not JSON at all. Its text is a sentence that names the place."""


def write(value: object) -> Json:
    """Give the JSON value of a model or a plain value; members that are None are left out.

    TypeError for what has no form on the wire, above all for a float."""
    match value:
        case None | bool() | int() | str():
            return value
        case Decimal():
            return _decimal_text(value)
        case date():
            return _day_or_instant(value)
        case Mapping():
            return {str(name): write(each) for name, each in value.items() if each is not None}
        case list() | tuple():
            return [write(each) for each in value]
        case _ if is_dataclass(value) and not isinstance(value, type):
            return write({_wire_name(each): getattr(value, each.name) for each in fields(value)})
        case _:
            raise TypeError(f"{value!r} of type {type(value).__name__} has no form on the wire")


def read_json(content: bytes | str) -> Json:
    """Read JSON text in UTF-8. Refuses: Unfit."""
    try:
        return json.loads(content)
    except (ValueError, RecursionError):
        raise Unfit("It isn't JSON.") from None


def read(form: type[T], told: Json, place: str = "#") -> T:
    """Read a JSON value that the service gave. Refuses: Unfit with the place of what doesn't fit.

    Takes:   place — the JSON Pointer of where the value itself stands."""
    found: T = _reader(cast("Any", form))(told, place)
    return found


def read_written(form: type[T], told: Json) -> T:
    """Read a JSON value that a person wrote: as read, but members that the model doesn't name are refused too."""
    found: T = _reader(cast("Any", form), exact=True)(told, "#")
    return found


Reader = Callable[[Json, str], Any]
"""Takes a JSON value and the JSON Pointer of its place; gives what it says, or refuses it."""


@cache
def _reader(form: Any, *, exact: bool = False) -> Reader:
    if form is Any:
        return lambda told, _: told
    if form in _PLAIN:
        return _PLAIN[form]
    if is_dataclass(form):
        return _object_reader(form, exact=exact)
    if isinstance(form, type) and issubclass(form, StrEnum):
        return _text_reader(form)
    origin, of = get_origin(form), get_args(form)
    if origin in (Union, types.UnionType):
        return _optional_reader(of, exact=exact)
    if origin is tuple and of[1:] == (...,):
        return _list_reader(_reader(of[0], exact=exact))
    if origin is Mapping and of[0] is str:
        return _map_reader(_reader(of[1], exact=exact))
    raise TypeError(f"no way to read {form}")


def _refuse(told: Json, place: str, wanted: str) -> Unfit:
    said = json.dumps(told, ensure_ascii=False)
    return Unfit(f"{said[:60]}{'…' * (len(said) > 60)} stands at {place} where {wanted} is expected.")


def _exactly(plain: type, wanted: str) -> Reader:
    def read_plain(told: Json, place: str) -> Any:
        if type(told) is not plain:
            raise _refuse(told, place, wanted)
        return told

    return read_plain


def _text_reader(understand: Callable[[str], Any]) -> Reader:
    def read_text(told: Json, place: str) -> Any:
        if not isinstance(told, str):
            raise _refuse(told, place, "text")
        try:
            return understand(told)
        except ValueError:
            raise _refuse(told, place, "text of another form") from None

    return read_text


def _instant(text: str) -> datetime:
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError(text)
    return instant


def _day_or_instant(value: date) -> str:
    if not isinstance(value, datetime):
        return value.isoformat()
    if value.tzinfo is None:
        raise TypeError(f"{value} has no form on the wire: an instant needs a time zone")
    return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _decimal(text: str) -> Decimal:
    if not _DECIMAL.fullmatch(text):
        raise ValueError(text)
    return Decimal(text)


def _decimal_text(value: Decimal) -> str:
    if not value.is_finite():
        raise TypeError(f"{value} has no form on the wire")
    return f"{value:f}"


_PLAIN: dict[Any, Reader] = {
    str: _exactly(str, "text"),
    int: _exactly(int, "a whole number"),
    bool: _exactly(bool, "true or false"),
    Decimal: _text_reader(_decimal),
    date: _text_reader(date.fromisoformat),
    datetime: _text_reader(_instant),
}


def _object_reader(form: Any, *, exact: bool) -> Reader:
    hints = get_type_hints(form)
    members = [
        (_wire_name(field), field, _field_reader(field, hints[field.name], exact=exact)) for field in fields(form)
    ]
    names = {name for name, _, _ in members}

    def read_object(told: Json, place: str) -> Any:
        if not isinstance(told, dict):
            raise _refuse(told, place, "an object")
        if exact and (unknown := sorted(told.keys() - names)):
            raise Unfit(f"{unknown[0]} is not known at {place}.")
        given = {}
        for name, field, reader in members:
            if name in told:
                given[field.name] = reader(told)(told[name], f"{place}/{name}")
            elif field.default is MISSING and field.default_factory is MISSING:
                raise Unfit(f"{name} is missing at {place}.")
        return form(**given)

    return read_object


def _field_reader(field: Field[Any], hint: Any, *, exact: bool) -> Callable[[Mapping[str, Json]], Reader]:
    """Give what finds a field's reader from the object that it stands in."""
    forms = field.metadata.get(BY_KIND)
    if forms is None:
        reader = _reader(hint, exact=exact)
        return lambda _: reader
    return lambda told: _reader(forms.get(told.get("kind"), Any), exact=exact)


def _optional_reader(of: tuple[Any, ...], *, exact: bool) -> Reader:
    kinds = [each for each in of if each is not types.NoneType]
    if len(kinds) != 1 or len(kinds) == len(of):
        raise TypeError(f"no way to tell {of} apart")
    reader = _reader(kinds[0], exact=exact)
    return lambda told, place: None if told is None else reader(told, place)


def _list_reader(reader: Reader) -> Reader:
    def read_list(told: Json, place: str) -> tuple[Any, ...]:
        if not isinstance(told, list):
            raise _refuse(told, place, "a list")
        return tuple(reader(each, f"{place}/{at}") for at, each in enumerate(told))

    return read_list


def _map_reader(reader: Reader) -> Reader:
    def read_map(told: Json, place: str) -> dict[str, Any]:
        if not isinstance(told, dict):
            raise _refuse(told, place, "an object")
        return {name: reader(each, f"{place}/{name}") for name, each in told.items()}

    return read_map


def _wire_name(field: Field[Any]) -> str:
    return field.name.removesuffix("_")
