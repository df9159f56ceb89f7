"""Addresses: from a path to what can be done there, by its segments. Knows paths and methods, nothing of what they do.

A segment of a path format is a word or a parameter in braces; a word goes before a parameter. A parameter takes any
segment that isn't empty. Looking up costs a step per segment, however many addresses there are.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

Operation = TypeVar("Operation")


@dataclass(slots=True)
class _Place(Generic[Operation]):
    words: "dict[str, _Place[Operation]]" = field(default_factory=dict)
    parameter: "_Place[Operation] | None" = None
    methods: dict[str, Operation] = field(default_factory=dict)


class Addresses(Generic[Operation]):
    """The addresses of a service."""

    def __init__(self) -> None:
        self._root: _Place[Operation] = _Place()

    def add(self, path_format: str, method: str, operation: Operation) -> None:
        """Say what a method does at an address.

        Refuses: ValueError for a segment that mixes words and parameters, and for a method that is there already."""
        place = self._root
        for segment in path_format.split("/")[1:]:
            if _is_parameter(segment):
                if place.parameter is None:
                    place.parameter = _Place()
                place = place.parameter
            elif "{" in segment or "}" in segment:
                raise ValueError(f"{path_format}: a segment is a word or a parameter")
            else:
                place = place.words.setdefault(segment, _Place())
        if method in place.methods:
            raise ValueError(f"{method} {path_format} stands twice")
        place.methods[method] = operation

    def find(self, path: str) -> tuple[Mapping[str, Operation], list[str]] | None:
        """Give what can be done at a path, by method, with the parameters' values in order; None for no address."""
        segments = path.split("/")
        if segments[0]:
            return None
        values: list[str] = []
        place = _walk(self._root, segments, 1, values)
        return None if place is None else (place.methods, values)


def parameters_of(path_format: str) -> tuple[str, ...]:
    """Give the names of a path format's parameters, in order."""
    return tuple(segment[1:-1] for segment in path_format.split("/") if _is_parameter(segment))


def _is_parameter(segment: str) -> bool:
    return segment.startswith("{") and segment.endswith("}") and segment[1:-1].isidentifier()


def _walk(place: _Place[Operation], segments: list[str], at: int, values: list[str]) -> _Place[Operation] | None:
    if at == len(segments):
        return place if place.methods else None
    segment = segments[at]
    word = place.words.get(segment)
    if word is not None and (found := _walk(word, segments, at + 1, values)) is not None:
        return found
    if place.parameter is None or not segment:
        return None
    values.append(segment)
    found = _walk(place.parameter, segments, at + 1, values)
    if found is None:
        values.pop()
    return found


def allowed(methods: Mapping[str, object]) -> list[str]:
    """Give every method of an address, those that the service adds by itself included, in order of the alphabet."""
    return sorted({*methods, "OPTIONS"} | ({"HEAD"} if "GET" in methods else set()))
