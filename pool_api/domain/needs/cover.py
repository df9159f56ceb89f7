"""How many days credits last with a stated certainty, where what is used varies more than by chance alone.

What some days take is taken to be negative binomial, with the variance in a fixed ratio to the mean: then what several
days, months or members take together is negative binomial too, with the means added, and no simulation is needed. Its
distribution function is the regularised incomplete beta function, or, where the ratio is 1, that of Poisson. Both are
irrational: they are scipy's, and only the comparison with the level leaves this file.
"""

from bisect import bisect_left
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from scipy.special import betainc, pdtr

WHOLE = 1_000

_FINE = 10**9
"""A chance that misses the level by less than one part of this meets it: the functions round."""


def lasts(at_hand: int, expected: Callable[[int], Fraction], days: int, *, spread: int, level: int) -> int:
    """Give the most days, up to `days`, of which what is at hand is enough with a certainty of at least `level`.

    Takes:   expected — by number of days, what they take on average, in credits, never falling; spread — the variance
             over the mean, level — the certainty, both in thousandths. at_hand >= 0.
    Gives:   0 where one day is too long. Refuses: nothing.
    Source:  own; negative binomial by moments, NB.cdf(k; r, p) = I_p(r, k + 1) (Johnson, Kemp & Kotz, Univariate
             Discrete Distributions, from memory; the tests compare with sums of its terms)."""
    return bisect_left(
        range(1, days + 1),
        x=True,
        key=lambda day: bool(_FINE * _enough(at_hand, expected(day), spread) < _FINE // WHOLE * level - 1),
    )


def _enough(at_hand: int, mean: Fraction, spread: int) -> Any:
    """Give the chance that at_hand is enough for what takes `mean` on average."""
    if mean <= 0:
        return 1
    if spread <= WHOLE:
        return pdtr(at_hand, mean.numerator / mean.denominator)
    size = mean * WHOLE / (spread - WHOLE)
    return betainc(size.numerator / size.denominator, at_hand + 1, WHOLE / spread)
