"""Second copies: which rows left over repeat a matched one of their own side.

A copy has the same kind, accounts and quantity, and is of the same day with the same note, within a day with the same
note that isn't empty, or within a day with the same reference. Own rule.
"""

from collections.abc import Callable, Sequence

import numpy as np

from pool_api.domain.matching.assignment import candidates
from pool_api.domain.matching.columns import Ints, codes_of, column, packed
from pool_api.domain.matching.course import Course
from pool_api.domain.matching.report import Movement
from pool_api.domain.matching.sides import OUTSIDE, Shown, Side


class Twins:
    """The places of entries and of shown movements left over that repeat a matched one."""

    def __init__(self, course: Course) -> None:
        agreeing = [link for link in course.links if link.deviation is None]
        matched = column([place for link in agreeing for place in link.lefts])
        shown = column([place for link in agreeing for place in link.rights])
        self.entries = _copies(
            course.ours, list(course.left), np.append(course.pairs.left, matched), lambda at: course.journal[at]
        )
        self.shown = _copies(
            course.theirs, list(course.right), np.append(course.pairs.right, shown), lambda at: course.shown[at]
        )


def _copies(
    side: Side, left_over: Sequence[int], matched: Ints, told: Callable[[int], Movement | Shown]
) -> frozenset[int]:
    left = column(left_over)
    key = codes_of(side.kind, side.giver, side.receiver, side.quantity)
    matched = _distinct(side, key, matched)
    found = candidates((key[left], side.day[left]), (key[matched], side.day[matched]), 1, most=len(side) * 100)
    if found is None:
        raise AssertionError("a row has no more than a hundred different neighbours of its kind on average")
    one, other = left[found[0]], matched[found[1]]
    cited = (side.reference[one] > 0) & (side.reference[one] == side.reference[other])
    noted = (side.note[one] == side.note[other]) & ((side.note[one] > 0) | (side.day[one] == side.day[other]))
    repeats = np.flatnonzero(cited | noted)
    pairs = zip(one[repeats].tolist(), other[repeats].tolist(), strict=True)
    return frozenset(at for at, of in pairs if _accounts(told(at)) == _accounts(told(of)))


def _distinct(side: Side, key: Ints, places: Ints) -> Ints:
    """Give one place of all that are equal in what is compared; accounts outside the pool are compared later."""
    outside = (side.giver[places] == OUTSIDE) | (side.receiver[places] == OUTSIDE)
    alone = np.where(outside, places, -1)
    if not len(places):
        return places
    code = packed((key[places], side.day[places], side.note[places], side.reference[places], alone))
    return np.sort(places[np.unique(code, return_index=True)[1]])


def _accounts(told: Movement | Shown) -> tuple[str, str]:
    return (told.giver or "").casefold(), (told.receiver or "").casefold()
