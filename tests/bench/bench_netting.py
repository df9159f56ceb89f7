"""How long the fewest payments take to find, beside the textbook recursion over subsets in the same run.

    python -m tests.bench.bench_netting

Three kinds of nets: in cents, in multiples of 5.00, and with groups of four put in. Times are medians of three; the
last ones are of plans under which a fifth of all pairs can't pay each other."""

import sys
from collections.abc import Callable
from itertools import combinations
from statistics import median
from time import perf_counter

from pool_api.domain.paying import Plan, plan
from pool_api.domain.pool import Policy, ordered_pairs
from pool_api.domain.zero_sums import ALWAYS_PROVEN, split
from tests.domain.test_zero_sums import most_by_subsets, planted, without_pairs

RUNS = 3
TEXTBOOK_UP_TO = 16
COUNTS = (8, 12, 16, 20, 24, 28, 40, 60, 100, 200)
KINDS: dict[str, Callable[[int, int], list[int]]] = {
    "cents up to 2000.00": lambda count, seed: without_pairs(count, seed=seed, step=1, largest=200_000),
    "multiples of 5.00": lambda count, seed: without_pairs(count, seed=seed, step=500, largest=max(400, 50 * count)),
    "groups of four": lambda count, seed: planted(count // 4, each=4, seed=100 * seed),
}


def median_seconds(work: Callable[[list[int]], object], cases: list[list[int]]) -> float:
    """Give the median time that the work takes over the cases."""
    times = []
    for numbers in cases:
        began = perf_counter()
        work(numbers)
        times.append(perf_counter() - began)
    return median(times)


def planned_apart(numbers: list[int]) -> Plan:
    """Plan payments when every fifth pair can't pay each other."""
    nets = {f"M{at:03}": number for at, number in enumerate(numbers) if number}
    pairs = ordered_pairs(list(combinations(nets, 2))[::5])
    return plan(nets, Policy(no_payments_between=pairs), None)


def main() -> None:
    """Print a line for each kind and number of nets."""
    out = sys.stdout
    out.write(f"{'nets':<20} {'n':>4} {'ms':>9} {'textbook ms':>12} {'ratio':>7}  payments, at least; apart\n")
    for kind, made in KINDS.items():
        for count in COUNTS:
            cases = [made(count, seed) for seed in range(1, RUNS + 1)]
            ours = median_seconds(split, cases)
            textbook = median_seconds(most_by_subsets, cases) if count <= TEXTBOOK_UP_TO else None
            beside = f"{1000 * textbook:12.1f} {textbook / ours:7.0f}" if textbook else f"{'':12} {'':7}"
            found = [split(numbers) for numbers in cases]
            plans = ", ".join(f"{count - len(each.groups)} >= {count - each.most}" for each in found)
            apart = median_seconds(planned_apart, cases)
            kept = ", ".join(f"{len(each.payments)} >= {each.lower_bound}" for each in map(planned_apart, cases))
            out.write(
                f"{kind:<20} {count:4} {1000 * ours:9.2f} {beside}  {plans}; apart {1000 * apart:.2f} ms: {kept}\n"
            )
    out.write(f"up to {ALWAYS_PROVEN} always proven\n")


if __name__ == "__main__":
    main()
