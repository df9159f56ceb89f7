"""What a credit cost each member when members lend to each other at the lender's own blended unit cost: a month's
simultaneous equations, solved exactly.

For each member m, with b the unit costs to be found: b[m] · (own credits + Σ lent to m) = own cost + Σ lent to m · b of
its lender. This is the reciprocal method of cost allocation (Horngren, Cost Accounting, the chapter on the allocation
of support departments' costs). No policy, entry or sheet is known here; nothing is rounded.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from flint import fmpz_mat

from pool_api.domain.layers import NOTHING, Costed

Lent = Mapping[tuple[str, str], int]
"""Credits above 0 by (lender, borrower); of two members only one lends to the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """The blended unit cost of each lender that credits reach from a supply, in minor units per credit.

    without_supply is empty, or names lenders that none reaches: in a circle, each lending to the next and the last to
    the first, or one alone that lent what it never had. The equations have no one solution then."""

    unit_costs: Mapping[str, Fraction]
    without_supply: tuple[str, ...]


def solve(own: Mapping[str, Costed], lent: Lent) -> Solution:
    """Find the blended unit cost of each lender.

    Takes:   own, what each member has apart from these loans (nothing where it isn't named), in credits >= 0; lent.
    Gives:   the solution; credits from a lender without supply count as if they had cost nothing.
    Refuses: nothing.
    Source:  the equations have one solution exactly when a supply reaches every lender (P. Azimzadeh, A fast and stable
             test to check if a weakly diagonally dominant matrix is a nonsingular M-matrix, 2019)."""
    lenders = {lender for lender, _ in lent}
    reached = _reached([member for member, there in own.items() if there.quantity > 0], lent)
    received: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for (lender, borrower), quantity in lent.items():
        received[borrower].append((lender, quantity))
    found: dict[str, Fraction] = {}
    for group in _in_order(sorted(lenders & reached), lent):
        found.update(_solved(group, own, received, found))
    return Solution(unit_costs=found, without_supply=_circle(lenders - reached, lent))


def _reached(supplied: Iterable[str], lent: Lent) -> set[str]:
    """Give the members that credits of those supplied come to."""
    onward = _onward(lent)
    reached, todo = set(supplied), list(supplied)
    while todo:
        for borrower in onward[todo.pop()]:
            if borrower not in reached:
                reached.add(borrower)
                todo.append(borrower)
    return reached


def _onward(lent: Lent) -> Mapping[str, list[str]]:
    onward: dict[str, list[str]] = defaultdict(list)
    for lender, borrower in sorted(lent):
        onward[lender].append(borrower)
    return onward


def _circle(lenders: set[str], lent: Lent) -> tuple[str, ...]:
    """Name lenders without supply: who lent to the first of them, who to that one, until one comes up again or had
    nothing from anybody."""
    if not lenders:
        return ()
    path = [min(lenders)]
    while True:
        before = min((lender for lender, borrower in lent if borrower == path[-1]), default=None)
        if before is None:
            return (path[-1],)
        if before in path:
            return tuple(reversed(path[path.index(before) :]))
        path.append(before)


def _in_order(members: Sequence[str], lent: Lent) -> list[list[str]]:
    """Group members that lend to each other, directly or through others, each group after all that lend to it.

    Source: strongly connected components by two searches in depth, the second against the direction (Kosaraju)."""
    there = set(members)
    onward, back = _onward(lent), _onward({(borrower, lender): q for (lender, borrower), q in lent.items()})
    finished = [each for tree in _trees(members, onward, there) for each in tree]
    return [sorted(tree) for tree in _trees(finished[::-1], back, there)]


def _trees(starts: Iterable[str], onward: Mapping[str, list[str]], there: set[str]) -> list[list[str]]:
    """Search in depth from each start: give, by start, the members newly found, each after all found from it."""
    seen: set[str] = set()
    trees = []
    for start in starts:
        tree: list[str] = []
        todo = [(start, False)]
        while todo:
            member, done = todo.pop()
            if done:
                tree.append(member)
            elif member not in seen:
                seen.add(member)
                todo.append((member, True))
                todo += [(each, False) for each in onward.get(member, ()) if each in there]
        trees += [tree] if tree else []
    return trees


def _solved(
    group: Sequence[str],
    own: Mapping[str, Costed],
    received: Mapping[str, Sequence[tuple[str, int]]],
    known: Mapping[str, Fraction],
) -> dict[str, Fraction]:
    """Solve the equations of one group; those that lend to it from outside are known, or have no supply. Each equation
    is in whole numbers, times the denominator of what is known in it.

    Takes:   received, who lent how much to each member."""
    places = {member: place for place, member in enumerate(group)}
    factors, totals = [], []
    for member in group:
        there, row = own.get(member, NOTHING), [0] * len(group)
        row[places[member]] = there.quantity
        cost = Fraction(there.cost)
        for lender, quantity in received[member]:
            row[places[member]] += quantity
            if lender in places:
                row[places[lender]] -= quantity
            else:
                cost += known.get(lender, 0) * quantity
        factors.append([factor * cost.denominator for factor in row])
        totals.append([cost.numerator])
    found = fmpz_mat(factors).solve(fmpz_mat(totals))
    return {member: Fraction(int(found[at, 0].p), int(found[at, 0].q)) for member, at in places.items()}
