"""How much speaks for two rows being one movement: the evidence, field by field, in milli-bits.

Source: the weights are logarithms of likelihood ratios (Fellegi and Sunter, "A Theory for Record Linkage", Journal of
the American Statistical Association 64, 1969; from memory). Values that are rare on the vendor's side weigh more. The
prior holds the rates at which rows are missing on either side, as in multiple-target tracking (Reid, IEEE Transactions
on Automatic Control 24, 1979; from memory): two leftover rows that fit are likelier one movement than two omissions.
The rates in the tables are own estimates. Logarithms are exact floors of whole numbers: a score is the same anywhere.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from rapidfuzz.distance import OSA

from pool_api.domain.matching.columns import Bools, Ints, codes_of, column, looked_up
from pool_api.domain.matching.notes import EQUAL, LEVELS, NAMED, NEITHER, THEIRS_ONLY, Notes
from pool_api.domain.matching.sides import NOBODY, Side, Words

_NOTES_OF_ONE = (420, 150, 60, 15, 40, 10, 80, 25, 200)
_NOTES_OF_TWO = (5, 2, 5, 58, 300, 200, 200, 150, 80)
"""Out of a thousand pairs of rows that are one movement, and that are two, how many have notes of each level."""

_MOST_NOTE_BITS = 14_000
_LEAST_NOTE_BITS = -8_000
_MOST_LEARNED = 5_000
_FAR = 2**40
_REFERENCE_EQUAL, _REFERENCE_OTHER = 14_000, -12_000
_OTHER_ACCOUNT, _SWAPPED = -8_000, -8_400
_NEAR_QUANTITY, _OTHER_QUANTITY = -3_600, -7_050
_OTHER_KIND = -4_000
_DAYS_APART = {0: 800, 1: 70, 2: 12, 3: 8, 4: 6, 5: 5, 6: 4, 7: 3}
_FURTHER_APART = 1
"""Out of a thousand movements, how many the vendor dates so many days off, in either direction."""

_FEWEST_DAYS = 14
_BELIEF = 100
"""How many observed pairs the table of days counts as, when the days of a file's own clear pairs are added to it."""


@lru_cache(maxsize=100_000)
def milli_log(number: int) -> int:
    """Give the floor of a thousand times the binary logarithm of a whole number above 0, exactly."""
    return (number**1000).bit_length() - 1


def millibits(over: int, under: int) -> int:
    """Give the milli-bits of a ratio of two whole numbers above 0."""
    return milli_log(over) - milli_log(under)


_PRIOR = millibits(9_700, 4)
"""P(on both sides) / (P(missing here) P(missing there)), with 97 % and 2 % each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """Milli-bits of candidate pairs, part by part, and what their notes and quantities are to each other."""

    accounts: Ints
    quantity: Ints
    day: Ints
    note: Ints
    reference: Ints
    kind: Ints
    prior: int
    note_level: Ints
    total: Ints

    def at(self, places: Ints) -> "Weights":
        """Give the weights of some of the pairs."""
        columns = {name: getattr(self, name)[places] for name in _COLUMNS}
        return Weights(prior=self.prior, **columns)

    def and_then(self, others: "Weights") -> "Weights":
        """Give the weights of these pairs and then of others, weighed alike."""
        columns = {name: np.concatenate((getattr(self, name), getattr(others, name))) for name in _COLUMNS}
        return Weights(prior=self.prior, **columns)

    def bits(self) -> list[dict[str, int]]:
        """Give the parts of each pair by name; they add up to its total."""
        columns = [getattr(self, name).tolist() for name in _SAID]
        return [dict(zip(_PARTS, (*bits, self.prior), strict=True)) for bits in zip(*columns, strict=True)]


_SAID = ("day", "accounts", "quantity", "note", "reference", "kind")
_PARTS = (*_SAID, "prior")
_COLUMNS = (*_SAID, "note_level", "total")


class Weigher:
    """Weighs candidate pairs of two sides; what is rare is learned from the right side, the vendor's."""

    def __init__(self, left: Side, right: Side, notes: Words, references: Words) -> None:
        self._left, self._right, self.notes = left, right, Notes(notes.texts)
        self._count = max(len(right), 1)
        self._givers = self._rarity(right.giver, 99)
        self._receivers = self._rarity(right.receiver, 99)
        self._quantities = self._rarity(right.quantity, 98)
        self._note_frequency = self._frequency(right.note)
        self._level_bits, self._equal_per_mille = self._of_levels(np.zeros((2, len(LEVELS)), dtype=np.int64))
        known = np.zeros((2, len(references.texts)), dtype=bool)
        known[0, left.reference] = known[1, right.reference] = True
        self._shared_reference = known[0] & known[1]
        cited, shared = int(known[0, 1:].sum()), int(self._shared_reference[1:].sum())
        self._unheard_of = millibits(cited - shared + 1, cited + 1)
        both = np.concatenate((left.day, right.day))
        self._span = max(_FEWEST_DAYS, int(both.max() - both.min()) + 1) if len(both) else _FEWEST_DAYS
        self._day_counts: dict[int, int] = {}

    def learn(self, i: Ints, j: Ints) -> None:
        """Take pairs that have no rival as observations of how the vendor dates, and how notes are typed there."""
        days, counts = np.unique(self._right.day[j] - self._left.day[i], return_counts=True)
        self._day_counts = dict(zip(days.tolist(), counts.tolist(), strict=True))
        some = np.linspace(0, len(i) - 1, num=min(len(i), _MOST_LEARNED), dtype=np.int64)
        ours, theirs = self._left.note[i[some]], self._right.note[j[some]]
        others = np.roll(theirs, len(some) // 2)
        levels = [self.notes.levels(ours, notes) for notes in (theirs, others)]
        seen = np.stack([np.bincount(each, minlength=len(LEVELS)) for each in levels])
        self._level_bits, self._equal_per_mille = self._of_levels(seen)

    def weigh(self, i: Ints, j: Ints, quantity: Ints | None = None) -> Weights:
        """Weigh the pairs (i, j) of left and right rows; quantity takes the place of the left rows' own."""
        left, right = self._left, self._right
        accounts = self._account_bits(i, j)
        quantities = self._quantity_bits(left.quantity[i] if quantity is None else quantity, j)
        day = looked_up(right.day[j] - left.day[i], self._day_bits)
        level = self.notes.levels(left.note[i], right.note[j])
        note = self._note_bits(level, j)
        reference = self._reference_bits(left.reference[i], right.reference[j])
        kind = np.where(left.kind[i] == right.kind[j], 0, _OTHER_KIND)
        prior = _PRIOR - milli_log(self._count)
        total = accounts + quantities + day + note + reference + kind + prior
        return Weights(
            accounts=accounts,
            quantity=quantities,
            day=day,
            note=note,
            reference=reference,
            kind=kind,
            prior=prior,
            note_level=level,
            total=total,
        )

    def _rarity(self, values: Ints, percent: int) -> Ints:
        """Give each right row the milli-bits for agreeing with it in a column: the rarer its value, the more."""
        return looked_up(self._frequency(values), lambda count: millibits(percent * self._count, 100 * count))

    @cached_property
    def _number_frequency(self) -> Ints:
        return self._frequency(self.notes.number[self._right.note])

    @staticmethod
    def _frequency(values: Ints) -> Ints:
        """Give for each row how many have its value."""
        code = codes_of(values)
        counts: Ints = np.bincount(code)[code]
        return counts

    def _of_levels(self, seen: Ints) -> tuple[list[int], dict[int, int]]:
        """Give the milli-bits of each level of notes; of those that hang on how rare a value is, how many in a thousand
        rows of one movement share it where ours says something.

        Takes:   seen — how many observed pairs had each level, of one movement and of two."""
        expected = np.array([_NOTES_OF_ONE, _NOTES_OF_TWO], dtype=np.int64) * _BELIEF + 1000 * seen
        total = (1000 * (_BELIEF + seen.sum(axis=1))).tolist()
        one, two = expected.tolist()
        bits = [
            max(millibits(here * total[1], there * total[0]), _LEAST_NOTE_BITS)
            for here, there in zip(one, two, strict=True)
        ]
        said = total[0] - one[THEIRS_ONLY] - one[NEITHER]
        return bits, {level: max(1000 * one[level] // said, 1) for level in (EQUAL, NAMED)}

    def _note_bits(self, level: Ints, j: Ints) -> Ints:
        bits: Ints = np.array(self._level_bits, dtype=np.int64)[level]
        for kind in (EQUAL, NAMED):
            at, share = np.flatnonzero(level == kind), self._equal_per_mille[kind]
            frequency = self._note_frequency if kind == EQUAL else self._number_frequency
            rare = millibits(share * self._count, 1000) - looked_up(frequency[j[at]], milli_log)
            bits[at] = rare.clip(0, _MOST_NOTE_BITS)
        return bits

    def _account_bits(self, i: Ints, j: Ints) -> Ints:
        left, right = self._left, self._right
        giver, receiver = left.giver[i] == right.giver[j], left.receiver[i] == right.receiver[j]
        straight = np.where(giver, self._givers[j], _OTHER_ACCOUNT) + np.where(
            receiver, self._receivers[j], _OTHER_ACCOUNT
        )
        swapped = swaps(left, right, i, j)
        return np.where(swapped, self._givers[j] + self._receivers[j] + _SWAPPED, straight)

    def _quantity_bits(self, quantity: Ints, j: Ints) -> Ints:
        bits: Ints = self._quantities[j].copy()
        apart = np.flatnonzero(quantity != self._right.quantity[j])
        ours, theirs = quantity[apart], self._right.quantity[j[apart]]
        _, first, place = np.unique(codes_of(ours, theirs), return_index=True, return_inverse=True)
        pairs = zip(ours[first].tolist(), theirs[first].tolist(), strict=True)
        bits[apart] = column([_NEAR_QUANTITY if near(*pair) else _OTHER_QUANTITY for pair in pairs])[place]
        return bits

    def _day_bits(self, apart: int) -> int:
        seen = sum(self._day_counts.values())
        expected = _DAYS_APART.get(abs(apart), _FURTHER_APART)
        over = expected * _BELIEF + 1000 * self._day_counts.get(apart, 0)
        return millibits(over * self._span, 1000 * (_BELIEF + seen))

    def _reference_bits(self, left: Ints, right: Ints) -> Ints:
        """Weigh references: different ones speak against a pair as far as references of ours are found over there, and
        entirely if either of the two is known on the other side."""
        differ = (left > 0) & (right > 0) & (left != right)
        elsewhere = differ & (self._shared_reference[left] | self._shared_reference[right])
        bits = np.where(differ, max(self._unheard_of, _REFERENCE_OTHER), 0)
        return np.where(elsewhere, _REFERENCE_OTHER, np.where((left > 0) & (left == right), _REFERENCE_EQUAL, bits))


def swaps(left: Side, right: Side, i: Ints, j: Ints) -> Bools:
    """Tell which pairs are transfers with their two accounts exchanged."""
    exchanged: Bools = (
        (left.giver[i] == right.receiver[j])
        & (left.receiver[i] == right.giver[j])
        & (left.giver[i] != left.receiver[i])
        & (left.giver[i] != NOBODY)
        & (left.receiver[i] != NOBODY)
    )
    return exchanged


def near(one: int, other: int) -> bool:
    """Tell whether two quantities are a slip of the keyboard apart: one off, a digit too many, wrong or exchanged."""
    return abs(one - other) == 1 or OSA.distance(str(one), str(other), score_cutoff=1) <= 1
