"""The Shapley value and the worst off subgroup of one joint order, beside going through all subgroups with numpy in the
same run.

    python -m tests.bench.bench_sharing

The baseline knows the cost of every subgroup and sums what each member adds to them by size, in floating point; it has
no entry where subgroups are too many for it. Times are medians of three."""

import sys
from math import comb
from random import Random

import numpy as np
import numpy.typing as npt

from pool_api.domain.pool import SavingRule
from pool_api.domain.sharing import JointOrder
from tests.bench.timing import timed
from tests.domain.plans import ladder

TIERS = ladder([(1, 980), (50, 910), (100, 790), (500, 690)])
SIZES = ((10, 100), (15, 40), (15, 100_000), (20, 200), (25, 200), (40, 200), (100, 20), (300, 200))
MOST_SUBGROUPS = 20

Array = npt.NDArray[np.float64]


def joint(members: int, most: int) -> JointOrder:
    """Give an order for members that took from one credit up to a number."""
    random = Random(members)  # noqa: S311 - a repeatable question, no secrets
    return JointOrder(taken=tuple((f"M{at:03}", random.randint(1, most)) for at in range(members)), ladder=TIERS)


def enumerated(order: JointOrder) -> tuple[Array, float]:
    """Give the Shapley value, and the largest excess of one unit price, over all subgroups; a subgroup is the bits of
    its place."""
    credits = np.array([each for _, each in order.taken])
    members, places = len(credits), np.arange(1 << len(credits))
    totals, sizes = np.zeros(len(places), np.int64), np.zeros(len(places), np.int64)
    for at, each in enumerate(credits):
        inside = places >> at & 1
        totals += inside * each
        sizes += inside
    steps = [(start, float(price)) for start, price in TIERS.steps()]
    starts, prices = (np.array(each) for each in zip(*steps, strict=True))
    costs = totals * prices[np.maximum(np.searchsorted(starts, totals, side="right") - 1, 0)]
    for start, price in steps:
        costs = np.where(totals < start, np.minimum(costs, start * price), costs)
    costs[0] = 0.0
    weights = np.array([1 / (members * comb(members - 1, size)) for size in range(members)])
    value = np.empty(members)
    for at in range(members):
        without = places[places >> at & 1 == 0]
        value[at] = np.sum(weights[sizes[without]] * (costs[without | 1 << at] - costs[without]))
    return value, float(np.max(totals[1:-1] * (costs[-1] / totals[-1]) - costs[1:-1]))


def main() -> None:
    """Print a line for each size."""
    out = sys.stdout
    head = f"{'members':>7} {'credits':>9} {'value, ms':>10} {'core, ms':>9} {'times for all subgroups':>24}  how\n"
    out.write(head)
    for members, most in SIZES:
        order = joint(members, most)
        value_s, found = timed(lambda: joint(members, most).shares(SavingRule.SHAPLEY))  # noqa: B023 - called at once
        equal = order.shares(SavingRule.UNIT_PRICE).exact
        core_s, worst = timed(lambda: joint(members, most).worst_off(equal))  # noqa: B023 - called at once
        ratio = ""
        if members <= MOST_SUBGROUPS:
            all_s, (value, excess) = timed(lambda: enumerated(order))  # noqa: B023 - called at once
            if not np.allclose(value, [float(each) for each in found.exact.values()]):
                raise AssertionError("the two ways differ")
            if worst is None or abs(excess - float(worst.excess)) > 1e-6 * float(order.cost):
                raise AssertionError("the two ways differ")
            ratio = f"{all_s / (value_s + core_s):.2f}"
        how = f"drawn, to {found.error / float(order.cost):.3%} of the cost" if found.sampled else "exact"
        core = f"{core_s * 1000:.1f}" if worst else "-"
        out.write(f"{members:>7} {order.credits:>9,} {value_s * 1000:>10.1f} {core:>9} {ratio:>24}  {how}\n")


if __name__ == "__main__":
    main()
