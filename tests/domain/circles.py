"""Members that lend to each other in a circle, and their equations as a general solver takes them."""

from collections.abc import Mapping
from itertools import pairwise
from random import Random

import numpy as np

from pool_api.domain.layers import Costed

Own = Mapping[str, Costed]
Lent = Mapping[tuple[str, str], int]


def circle(members: int, lendings: int) -> tuple[Own, Lent]:
    """Give so many members and lendings by chance, always the same; everybody is reached through all the others."""
    chance = Random(members)  # noqa: S311 - repeatable, no secrets
    codes = [f"S{place:03}" for place in range(members)]
    own = {code: Costed(chance.randint(0, 60), chance.randint(1, 90_000)) for code in codes}
    own[codes[0]] = Costed(1, 700)
    lent = {pair: chance.randint(1, 40) for pair in pairwise([*codes, codes[0]])}
    while len(lent) < lendings:
        one, two = chance.sample(codes, 2)
        if (two, one) not in lent:
            lent[one, two] = chance.randint(1, 40)
    return own, lent


def equations(own: Own, lent: Lent) -> tuple[np.ndarray, np.ndarray]:
    """Give the matrix and the right side, members in order of code."""
    places = {code: place for place, code in enumerate(sorted(own))}
    matrix = np.diag([float(own[code].quantity) for code in places])
    for (lender, borrower), quantity in lent.items():
        matrix[places[borrower], places[borrower]] += quantity
        matrix[places[borrower], places[lender]] -= quantity
    return matrix, np.array([float(own[code].cost) for code in places])
