"""How models become JSON and JSON becomes models. Nobody else knows the wire forms.

Credits are integers, money and unit prices are Decimals that stand as text on the wire, days and instants are text.
Reading is strict about what a model names: a missing member, or a value of another form, is refused with its place.
Members that a model doesn't name are passed over, so that an older client can read a newer service. A field whose name
would be a keyword ends in an underscore that the wire hasn't.
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

from pool_client.errors import ServerFault

T = TypeVar("T")

Json = Any
"""A JSON value."""

BY_KIND = "by_kind"
"""In a field's metadata: models by the word that its sibling `kind` says; of other kinds the field is plain JSON."""

OF_ADDRESS = {"of_address": True}
"""A field's metadata: what it says stands in the address of what is sent, and not in its body."""

_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")


class Unreadable(ServerFault):
    """An answer isn't what the service describes."""


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
            return write({_wire_name(each.name): getattr(value, each.name) for each in fields(value) if _sent(each)})
        case _:
            raise TypeError(f"{value!r} of type {type(value).__name__} has no form on the wire")


def read_json(content: bytes) -> Json:
    """Read the JSON of an answer. Refuses: Unreadable."""
    try:
        return json.loads(content)
    except ValueError:
        raise Unreadable("The answer isn't JSON.") from None


def read(form: type[T], told: Json) -> T:
    """Read a JSON value as a model or a plain type. Refuses: Unreadable with the place of what doesn't fit."""
    found: T = _reader(cast("Any", form))(told, "#")
    return found


Reader = Callable[[Json, str], Any]
"""Takes a JSON value and the JSON Pointer of its place; gives what it says, or refuses it."""


@cache
def _reader(form: Any) -> Reader:
    if form is Any:
        return lambda told, _: told
    if form in _PLAIN:
        return _PLAIN[form]
    if is_dataclass(form):
        return _object_reader(form)
    if isinstance(form, type) and issubclass(form, StrEnum):
        return _text_reader(form)
    origin, of = get_origin(form), get_args(form)
    if origin in (Union, types.UnionType):
        return _optional_reader(of)
    if origin is tuple and of[1:] == (...,):
        return _list_reader(_reader(of[0]))
    if origin is Mapping and of[0] is str:
        return _map_reader(_reader(of[1]))
    raise TypeError(f"no way to read {form}")


def _refuse(told: Json, place: str, wanted: str) -> Unreadable:
    said = repr(told)
    return Unreadable(f"The answer has {said[:60]}{'…' * (len(said) > 60)} at {place} where {wanted} was expected.")


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
    return value.astimezone(UTC).isoformat().replace("+00:00", "Z")


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


def _object_reader(form: Any) -> Reader:
    hints = get_type_hints(form)
    members = [(field, _wire_name(field.name), _field_reader(field, hints[field.name])) for field in fields(form)]

    def read_object(told: Json, place: str) -> Any:
        if not isinstance(told, dict):
            raise _refuse(told, place, "an object")
        given = {}
        for field, wire_name, reader in members:
            if wire_name in told:
                given[field.name] = reader(told)(told[wire_name], f"{place}/{wire_name}")
            elif field.default is MISSING and field.default_factory is MISSING:
                raise Unreadable(f"The answer lacks {wire_name} at {place}.")
        return form(**given)

    return read_object


def _field_reader(field: Field[Any], hint: Any) -> Callable[[Mapping[str, Json]], Reader]:
    """Give what finds a field's reader from the object that it stands in."""
    forms = field.metadata.get(BY_KIND)
    if forms is None:
        reader = _reader(hint)
        return lambda _: reader
    return lambda told: _reader(forms.get(told.get("kind"), Any))


def _optional_reader(of: tuple[Any, ...]) -> Reader:
    kinds = [each for each in of if each is not types.NoneType]
    if len(kinds) != 1 or len(kinds) == len(of):
        raise TypeError(f"no way to tell {of} apart")
    reader = _reader(kinds[0])
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


def _sent(field: Field[Any]) -> bool:
    return not field.metadata.get("of_address")


def _wire_name(name: str) -> str:
    return name.removesuffix("_")
