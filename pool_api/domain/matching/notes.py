"""How two notes compare: equal, alike, or naming different things. Notes are given by code and in normal form."""

from collections.abc import Sequence
from functools import cached_property, lru_cache

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import OSA, Indel

from pool_api.domain.matching.columns import Bools, Ints, column, looked_up_all

LEVELS = EQUAL, NAMED, SIMILAR, WEAK, DIFFERENT, CONTRARY, OURS_ONLY, THEIRS_ONLY, NEITHER = range(9)
"""How two notes compare: named when both name the same number, as of an order, contrary when they name others; the
last three when one or both are empty."""

_LONG_ENOUGH, _NUMBER_LENGTH = 6, 3
_NONE, _SEVERAL = -1, -2


class Notes:
    """Compares notes pair by pair; what one note says by itself is found out once."""

    def __init__(self, texts: Sequence[str]) -> None:
        self._texts = texts
        self._numbers: list[str] = []

    @cached_property
    def _length(self) -> Ints:
        return column([len(text) for text in self._texts])

    def levels(self, left: Ints, right: Ints) -> Ints:
        """Compare the notes of code left with those of code right."""
        level = np.where(left == right, np.int64(EQUAL), DIFFERENT)
        level[right == 0] = OURS_ONLY
        level[left == 0] = THEIRS_ONLY
        level[(left == 0) & (right == 0)] = NEITHER
        unlike = np.flatnonzero(level == DIFFERENT)
        width = len(self._texts)
        pairs = left[unlike] * width + right[unlike]
        level[unlike] = looked_up_all(pairs, lambda each: self._compared(each // width, each % width))
        return level

    @cached_property
    def number(self) -> Ints:
        """The code from 0 of the one number that each text names, below 0 for none or several."""
        codes: dict[str, int] = {}
        found = np.full(len(self._texts), _NONE, dtype=np.int64)
        for place, text in enumerate(self._texts):
            named = _numbers(text)
            if named:
                found[place] = codes.setdefault(next(iter(named)), len(codes)) if len(named) == 1 else _SEVERAL
        self._numbers = list(codes)
        return found

    def _compared(self, left: Ints, right: Ints) -> Ints:
        """Compare notes that differ and say something, each pair once."""
        texts = self._texts
        ones, others = [texts[code] for code in left.tolist()], [texts[code] for code in right.tolist()]
        distance = process.cpdist(ones, others, scorer=Indel.distance, dtype=np.int32).astype(np.int64)
        short, long = np.sort(np.stack((self._length[left], self._length[right])), axis=0)
        length = short + long
        level = np.where(
            100 * distance <= 15 * length, SIMILAR, np.where(100 * distance <= 40 * length, WEAK, np.int64(DIFFERENT))
        )
        same, other = self._by_numbers(left, right)
        level[other] = CONTRARY
        for at in np.flatnonzero((short >= _LONG_ENOUGH) & (distance == long - short)).tolist():
            if ones[at] in others[at] or others[at] in ones[at]:
                level[at] = SIMILAR
        level[same] = NAMED
        return level

    def _by_numbers(self, left: Ints, right: Ints) -> tuple[Bools, Bools]:
        """Tell which pairs name the same number, and which name others that no slip of the keyboard explains."""
        one, other = self.number[left], self.number[right]
        single = (one >= 0) & (other >= 0)
        same = single & (one == other)
        apart = np.flatnonzero(single & ~same)
        contrary = np.zeros(len(left), dtype=np.bool_)
        ours, theirs = [self._numbers[at] for at in one[apart]], [self._numbers[at] for at in other[apart]]
        contrary[apart] = process.cpdist(ours, theirs, scorer=OSA.distance, dtype=np.int32) > 1
        for at in np.flatnonzero(((one == _SEVERAL) & (other != _NONE)) | ((other == _SEVERAL) & (one != _NONE))):
            mine, yours = _numbers(self._texts[left[at]]), _numbers(self._texts[right[at]])
            same[at] = not mine.isdisjoint(yours)
            contrary[at] = not same[at] and not any(
                OSA.distance(a, b, score_cutoff=1) <= 1 for a in mine for b in yours
            )
        return same, contrary


@lru_cache(maxsize=100_000)
def _numbers(text: str) -> frozenset[str]:
    return frozenset(word for word in text.split() if len(word) >= _NUMBER_LENGTH and any(map(str.isdigit, word)))
