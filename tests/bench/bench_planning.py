"""How long the cheapest order plan takes, beside a general solver on the same setting in the same run.

    python -m tests.bench.bench_planning

Random needs around a level, seeds printed; the solver is HiGHS through SciPy, on the program that the tests hold plans
against, and stops after a minute: then its best plan so far is told, with how far it is from proven. The last lines are
of a pool of 300 members and 36 months, with the plans for needs that are a fifth off, as a request asks for."""

import random
import sys
from dataclasses import replace
from time import perf_counter

from pool_api.domain.planning import Setting, best_plan, outlook
from pool_api.domain.planning.orders import cost_curves
from pool_api.domain.planning.setting import terms_of
from tests.bench.timing import timed
from tests.domain.plans import by_solver, setting

TIERS = [(1, 980), (50, 910), (100, 840), (250, 760), (500, 690), (1_000, 640)]
PATIENCE_S = 60
CASES = ((6, 60), (12, 60), (12, 600), (24, 600), (24, 6_000), (36, 6_000))
MEMBERS = 300


def drawn(months: int, level: int, seed: int, *, expiry: int | None = None) -> Setting:
    """Draw a setting with needs around a level, and tiers that are as large beside them as in a small pool."""
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    tiers = [(max(1, quantity * level // 60) if quantity > 1 else 1, price) for quantity, price in TIERS]
    needs = [chance.randint(level // 2, 3 * level // 2) for _ in range(months)]
    return setting(needs, tiers, order_cost=2_500, holding=10, opening=level // 3, expiry=expiry)


def pieces(asked: Setting) -> int:
    """Give the most pieces that a curve of a plan has."""
    return max(map(len, cost_curves(terms_of(asked))[1]))


def of_members(asked: Setting) -> Setting:
    """Share a setting's needs among many members."""
    each = [
        (f"M{at:03}", tuple(need // MEMBERS + (at < need % MEMBERS) for need in asked.totals)) for at in range(MEMBERS)
    ]
    return replace(asked, needs=tuple(each))


def main() -> None:
    """Print a line for each size."""
    out = sys.stdout
    out.write(f"{'months':>6} {'credits':>8} {'good for':>8} {'pieces':>6} {'ms':>8} {'solver ms':>10} {'ratio':>7}\n")
    for months, level in CASES:
        for expiry in (None, 6):
            asked = drawn(months, level, seed=months, expiry=expiry)
            ours, plan = timed(lambda asked=asked: best_plan(asked))  # type: ignore[misc]
            began = perf_counter()
            theirs = by_solver(asked, patience_s=PATIENCE_S)
            solver = perf_counter() - began
            same = "the same" if theirs == plan.total else f"solver {theirs}, plan {plan.total}"
            out.write(
                f"{months:6} {sum(asked.totals):8} {expiry or '-':>8} {pieces(asked):6} {1000 * ours:8.1f} "
                f"{1000 * solver:10.0f} {solver / ours:7.1f}  {same}\n"
            )
    asked = of_members(drawn(36, 6_000, seed=1))
    seconds, _ = timed(lambda: outlook(asked))
    one, _ = timed(lambda: best_plan(asked))
    out.write(f"{MEMBERS} members, 36 months: three plans in {seconds / one:.1f} times one, {seconds:.2f} s\n")


if __name__ == "__main__":
    main()
