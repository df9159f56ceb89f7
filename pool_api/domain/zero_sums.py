"""How whole numbers that add up to zero are split into the most groups that each do: this file knows, nobody else does.

A group of g debts and claims is settled by g - 1 payments, so the most groups mean the fewest payments. Finding them
is NP-hard in the strong sense, hence three stages:

1. zeros and cancelling pairs become groups of their own. That is safe: where a and -a sit in two groups, the pair and
   the rest of both are two groups as well;
2. up to ALWAYS_PROVEN numbers: a dynamic programme over all subsets, held as the bits of long integers;
3. more: zero-sum sets of few members are listed, a first split is taken from them greedily, and a search ends in a
   better split, in a proof that there is none, or at its limit of work.

Groups may have to fit, as the caller says. If those of the split found so do, that split is it; else stage 3 looks
among the sets that fit, zeros and pairs no longer set apart.

The limits count steps, not seconds: the same numbers in the same order give the same split everywhere. Positions and
whole numbers only; members, money and policy are not known here.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from itertools import chain, combinations, groupby, islice, pairwise
from math import comb, lcm
from operator import or_

ALWAYS_PROVEN = 24
"""So many numbers other than zeros and cancelling pairs are always split into provably the most groups."""

_MOST_HALVES = 500_000
"""Sets are listed by joining two halves; sizes with more halves than this are not listed."""

_MOST_SETS = 8_000
"""Listing ends with the size that reaches so many sets."""

_MOST_WORK = 2_000_000
"""A search gives up when it has looked at so many sets, after about half a second."""

_MOST_SEARCHED = 500
"""With more numbers the search would go too deep, and find nothing within its work."""

_WINDOW = 100
"""What the first sets leave over is listed again among so many members at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Groups of positions, each adding up to zero, ordered by their first position; `most` bounds any split."""

    groups: tuple[tuple[int, ...], ...]
    most: int


Fits = Callable[[tuple[int, ...]], bool]


def split(numbers: Sequence[int], fits: Fits | None = None) -> Split:
    """Split numbers into many groups that each add up to zero.

    Takes:   numbers that add up to 0, zeros and repeated numbers allowed; may be empty; fits — whether positions that
             add up to zero may be a group, where not all may; all positions together must fit.
    Gives:   every position in one group; no split has more than `most` groups. For up to ALWAYS_PROVEN numbers, zeros
             and cancelling pairs not counted, there are exactly `most` groups; where some groups don't fit, there are
             as many if the search comes to its end.
    Refuses: nothing; ValueError when the sum is not 0.
    Source:  T. Verhoeff, Settling Multiple Debts Efficiently, Informatics in Education 3(1) (2004) 105-126, for the
             equivalence with fewest payments; the bit-parallel programme and the search are our own."""
    if sum(numbers) != 0:
        raise ValueError(f"the numbers add up to {sum(numbers)}, not to 0")
    found = _split_freely(numbers)
    if fits is None or all(map(fits, found.groups)):
        return found
    masks, most = _split_fitting(numbers, fits, found.most)
    return Split(groups=tuple(sorted(tuple(_positions(group)) for group in masks)), most=most)


def _split_freely(numbers: Sequence[int]) -> Split:
    groups, others = _zeros_and_pairs(numbers)
    values = [numbers[at] for at in others]
    if len(values) <= ALWAYS_PROVEN:
        found = _split_exactly(values)
        most = len(found)
    else:
        found, most = _split_by_search(values)
    most += len(groups)
    groups += [tuple(others[at] for at in _positions(group)) for group in found]
    return Split(groups=tuple(sorted(groups)), most=most)


def _zeros_and_pairs(numbers: Sequence[int]) -> tuple[list[tuple[int, ...]], list[int]]:
    groups: list[tuple[int, ...]] = []
    waiting: dict[int, list[int]] = {}
    for at, number in enumerate(numbers):
        if number == 0:
            groups.append((at,))
        elif partners := waiting.get(-number):
            groups.append((partners.pop(0), at))
        else:
            waiting.setdefault(number, []).append(at)
    return groups, sorted(at for left in waiting.values() for at in left)


def _positions(mask: int) -> Iterator[int]:
    while mask:
        lowest = mask & -mask
        yield lowest.bit_length() - 1
        mask ^= lowest


# --- up to 24: all subsets -------------------------------------------------------------------------------------------
#
# A family of subsets of n positions is one integer of 2**n bits: bit m stands for the subset with mask m, and adding
# position i to all subsets that lack it is one shift by 2**i. The last number is left out, as it completes to a group
# whatever the groups among the others leave over. Level r is the family of subsets that contain r disjoint groups.
# A subset that adds up to zero and still lies in level r without one of its positions lies in level r + 1, for what
# the r groups leave over of it is a group too; the supersets of these are all of level r + 1. The smallest subset of
# each level inside that of the next leads back to the groups: they are the differences.


def _split_exactly(values: Sequence[int]) -> list[int]:
    if not values:
        return []
    count = len(values) - 1
    lacking = _lacking(count)
    zero_sums = _zero_sum_family(values[:-1])
    levels = []
    level = _with_supersets(zero_sums, lacking)
    while level:
        levels.append(level)
        level = _with_supersets(zero_sums & _one_more(level, lacking), lacking)
    cores = []
    core = (1 << count) - 1
    for level in reversed(levels):
        core = _least_within(core, level, count)
        cores.append(core)
    groups = [outer ^ inner for outer, inner in pairwise([*cores, 0])]
    return [*groups, (1 << len(values)) - 1 - sum(groups)]


def _lacking(count: int) -> list[int]:
    """For each position, the family of all subsets that lack it."""
    families = []
    for position in range(count):
        family = (1 << (1 << position)) - 1
        for wider in range(position + 1, count):
            family |= family << (1 << wider)
        families.append(family)
    return families


def _with_supersets(family: int, lacking: Sequence[int]) -> int:
    for position, subsets in enumerate(lacking):
        family |= (family & subsets) << (1 << position)
    return family


def _one_more(family: int, lacking: Sequence[int]) -> int:
    grown = 0
    for position, subsets in enumerate(lacking):
        grown |= (family & subsets) << (1 << position)
    return grown


def _zero_sum_family(values: Sequence[int]) -> int:
    """The family of non-empty subsets that add up to zero: for each sum of high values, the low sums that cancel it."""
    half = max(len(values) // 2, 3)
    low_families: dict[int, int] = {}
    for mask, total in enumerate(_subset_sums(values[:half])):
        low_families[total] = low_families.get(total, 0) | 1 << mask
    width = (1 << half) // 8
    rows = {-total: family.to_bytes(width, "little") for total, family in low_families.items()}
    no_row = bytes(width)
    return int.from_bytes(b"".join(rows.get(total, no_row) for total in _subset_sums(values[half:])), "little") & ~1


def _subset_sums(values: Sequence[int]) -> list[int]:
    sums = [0]
    for value in values:
        sums += [total + value for total in sums]
    return sums


def _least_within(mask: int, family: int, count: int) -> int:
    """Take positions out of the mask, lowest first, as long as it stays in a family that has all its supersets."""
    bits = family.to_bytes((1 << count) // 8 + 1, "little")
    for position in range(count):
        smaller = mask & ~(1 << position)
        if bits[smaller >> 3] >> (smaller & 7) & 1:
            mask = smaller
    return mask


# --- more: small sets, greedy split, search --------------------------------------------------------------------------


def _split_by_search(values: Sequence[int]) -> tuple[list[int], int]:
    """Groups as masks, and a bound that no split passes. The values have no zeros and no cancelling pairs."""
    sets, complete_to = _small_sets(values, smallest=3)
    groups = _greedy_split(values, sets)
    positives = sum(value > 0 for value in values)
    most = min(positives, len(values) - positives, _room(sets, len(values), complete_to))
    return _improved(groups, most, sets, complete_to, lambda _: True)


def _split_fitting(values: Sequence[int], fits: Fits, most: int) -> tuple[list[int], int]:
    """Groups that fit, as masks, and a bound that no split into such groups passes; it is at most the one given."""

    @cache
    def mask_fits(mask: int) -> bool:
        return fits(tuple(_positions(mask)))

    found, complete_to = _small_sets(values, smallest=1)
    sets = [group for group in found if mask_fits(group)]
    groups, left = [], (1 << len(values)) - 1
    for group in sets:
        if group & left == group != left and mask_fits(left ^ group):
            groups.append(group)
            left ^= group
    most = min(most, _room(sets, len(values), complete_to))
    return _improved([*groups, left], most, sets, complete_to, mask_fits)


def _improved(
    groups: list[int], most: int, sets: Sequence[int], complete_to: int, fits: Callable[[int], bool]
) -> tuple[list[int], int]:
    """Look for a better split than the one at hand, and for a better bound.

    First the bound is tried, and lowered as long as it is proved out of reach; then one group more than there are."""
    whole = sum(groups)
    for climbing in (False, True):
        while len(groups) < most and whole.bit_count() <= _MOST_SEARCHED:
            search = _Search(complete_to=complete_to, work=_MOST_WORK, fits=fits)
            wanted = len(groups) + 1 if climbing else most
            better = search.groups(wanted, sets, whole)
            if better is not None:
                groups = better
            elif search.conclusive:
                most = wanted - 1
            else:
                break
    return groups, most


def _small_sets(values: Sequence[int], *, smallest: int) -> tuple[list[int], int]:
    """Zero-sum sets from the smallest size that there is, by size and then by how little they overlap with others; the
    size up to which none is missing."""
    sets: list[int] = []
    complete_to = smallest - 1
    memberships = [0] * len(values)
    for size in range(smallest, len(values) // 2 + 1):
        if len(sets) == _MOST_SETS or comb(len(values), size - size // 2) > _MOST_HALVES:
            break
        found = list(islice(_sets_of(size, values), _MOST_SETS - len(sets)))
        for position in chain.from_iterable(map(_positions, found)):
            memberships[position] += 1
        overlaps = {group: sum(memberships[position] for position in _positions(group)) for group in found}
        sets += sorted(found, key=lambda group: (overlaps[group], group))
        if len(sets) < _MOST_SETS:
            complete_to = size
    return sets, complete_to


def _sets_of(size: int, values: Sequence[int]) -> Iterator[int]:
    """Zero-sum sets of one size, each met once: as the half before some position and the half from there on."""
    bits = [1 << at for at in range(len(values))]
    if size == 1:
        yield from (bit for bit, value in zip(bits, values, strict=True) if value == 0)
        return
    before, after = size // 2, size - size // 2
    first_halves: dict[int, list[int]] = {}
    for at, value in enumerate(values):
        totals = map(sum, combinations(values[at + 1 :], after - 1))
        for total, others in zip(totals, combinations(bits[at + 1 :], after - 1), strict=True):
            for half in first_halves.get(-total - value, ()):
                yield half | bits[at] | sum(others)
        totals = map(sum, combinations(values[:at], before - 1))
        for total, others in zip(totals, combinations(bits[:at], before - 1), strict=True):
            first_halves.setdefault(total + value, []).append(bits[at] | sum(others))


def _greedy_split(values: Sequence[int], sets: Sequence[int]) -> list[int]:
    """Take disjoint small sets, list anew among what is left until none is found, and finish exactly if that can be."""
    groups: list[int] = []
    left = (1 << len(values)) - 1
    while True:
        for group in sets:
            if group & left == group:
                groups.append(group)
                left ^= group
        members = list(_positions(left))
        if len(members) <= ALWAYS_PROVEN:
            return groups + _translated(_split_exactly([values[at] for at in members]), members)
        members = members[:: -(-len(members) // _WINDOW)]
        sets = _translated(_small_sets([values[at] for at in members], smallest=3)[0], members)
        if not sets:
            return [*groups, left]


def _translated(masks: Sequence[int], members: Sequence[int]) -> list[int]:
    return [sum(1 << members[at] for at in _positions(mask)) for mask in masks]


def _room(sets: Sequence[int], left: int, complete_to: int) -> int:
    """No more groups than this can be made of `left` positions when the sets, smallest first, are those to choose from.

    A member of a group of g makes up 1/g of it; that is most in the smallest set that the member is in, and at most
    1/(complete_to + 1) for a member of none."""
    whole = lcm(*range(1, complete_to + 2))
    room = seen = 0
    for size, alike in groupby(sets, key=int.bit_count):
        before = seen
        seen = reduce(or_, alike, seen)
        room += (seen ^ before).bit_count() * (whole // size)
    return (room + (left - seen.bit_count()) * (whole // (complete_to + 1))) // whole


@dataclass(slots=True)
class _Search:
    """A search for disjoint groups that fit; `conclusive` says whether finding none has proved that there are none."""

    complete_to: int
    work: int
    fits: Callable[[int], bool]
    conclusive: bool = True

    def groups(self, wanted: int, sets: Sequence[int], left: int) -> list[int] | None:
        """`wanted` disjoint groups that make up the positions of the mask `left`, smallest first; the sets fit.

        The smallest has at most 1/wanted of them, so larger sets needn't be tried; the largest is what is left."""
        if wanted == 1:
            return [left] if self.fits(left) else None
        self.work -= len(sets) + 10
        if _room(sets, left.bit_count(), self.complete_to) < wanted:
            return None
        largest = left.bit_count() // wanted
        if largest > self.complete_to:
            self.conclusive = False
        for at, group in enumerate(sets):
            if group.bit_count() > largest:
                break
            if self.work < 0:
                self.conclusive = False
                break
            apart = [other for other in sets[at + 1 :] if not other & group]
            others = self.groups(wanted - 1, apart, left ^ group)
            if others is not None:
                return [group, *others]
        return None
