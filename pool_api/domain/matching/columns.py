"""Columns of whole numbers: several packed into one, equal ones counted, values looked up. No field is known here."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_ROOM = 2**62
_WIDEST_TABLE = 100_000


def column(values: Sequence[int]) -> Ints:
    """Give whole numbers as a column."""
    return np.array(values, dtype=np.int64)


def ranked(texts: Sequence[str]) -> tuple[list[str], Ints]:
    """Give the different texts in order, and each one's place among them."""
    distinct = sorted(set(texts))
    place = dict(zip(distinct, range(len(distinct)), strict=True))
    return distinct, column([place[text] for text in texts])


def packed(columns: Sequence[Ints]) -> Ints:
    """Give one number per row that orders rows as the columns do, the first one first, and is equal where all are."""
    code = np.zeros(len(columns[0]), dtype=np.int64)
    if not len(code):
        return code
    room = 1
    for values in columns:
        low, width = int(values.min()), int(values.max()) - int(values.min()) + 1
        if room * width > _ROOM:
            room, code = _dense(code)
        if room * width > _ROOM:
            width, values = _dense(values)  # noqa: PLW2901  (the same column, in fewer numbers)
            low = 0
        code = code * width + (values - low)
        room *= width
    return code


def _dense(values: Ints) -> tuple[int, Ints]:
    found, place = np.unique(values, return_inverse=True)
    return len(found), place


def codes_of(*columns: Ints) -> Ints:
    """Give one code per row from 0, equal where all columns are."""
    return _dense(packed(columns))[1]


def shared_codes(left: Sequence[Ints], right: Sequence[Ints]) -> tuple[Ints, Ints]:
    """Give one code per row of two sets of columns, equal where all columns are, within a set and across."""
    code = codes_of(*(np.concatenate(pair) for pair in zip(left, right, strict=True)))
    return code[: len(left[0])], code[len(left[0]) :]


def occurrences(code: Ints) -> Ints:
    """Give for each row how many rows before it have its code."""
    order = np.argsort(code, kind="stable")
    found = np.empty(len(code), dtype=np.int64)
    found[order] = within_runs(code[order])
    return found


def within_runs(ordered: Ints) -> Ints:
    """Give each row's place within its run of equal values, the rows being in order of them."""
    places = np.arange(len(ordered), dtype=np.int64)
    starts = np.flatnonzero(np.diff(ordered, prepend=ordered[:1] - 1))
    return places - np.repeat(starts, np.diff(starts, append=len(ordered)))


def looked_up(values: Ints, find: Callable[[int], int]) -> Ints:
    """Compute a function once per different value."""
    return looked_up_all(values, lambda found: column([find(value) for value in found.tolist()]))


def looked_up_all(values: Ints, find: Callable[[Ints], Ints]) -> Ints:
    """Compute a function of columns once per different value."""
    if not len(values):
        return values
    low, width = int(values.min()), int(values.max()) - int(values.min()) + 1
    if width > _WIDEST_TABLE:
        found, place = np.unique(values, return_inverse=True)
        return find(found)[place]
    there = np.zeros(width, dtype=np.bool_)
    there[values - low] = True
    table = np.zeros(width, dtype=np.int64)
    table[there] = find(np.flatnonzero(there) + low)
    return table[values - low]
