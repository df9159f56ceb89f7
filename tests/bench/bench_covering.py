"""The cheapest cover beside a general solver (SciPy's HiGHS) on the same question in the same run.

    python -m tests.bench.bench_covering

Two kinds of bundles: of families and classes, as vendors make them, and of items picked at random, which is the hard
case. Times are medians of three; a cover that the search could not prove says how far it may be off."""

import sys
from random import Random

from pool_api.domain.catalogue import Catalogue, Covered, Item
from pool_api.domain.covering import Offer, cheapest_cover
from tests.bench.timing import timed
from tests.domain.test_catalogue import DAY
from tests.domain.test_covering import by_solver

Question = tuple[list[str], list[Offer]]


def nested(random: Random, wanted: int, bundles: int) -> Question:
    """Give a catalogue of families within classes, as many bundles of either, and some items wanted of it."""
    families = max(bundles // 2, 1)
    singles = [
        Item(code=f"I{at}", name="I", credits=random.randint(4, 40), family=f"F{at % families}",
             vehicle_class=f"C{at % families % 5}")
        for at in range(10 * families)
    ]  # fmt: skip
    covers = [Covered(families=(f"F{at}",)) for at in range(families)]
    covers += [Covered(classes=(f"C{at % 5}",), items=(f"I{at}",)) for at in range(bundles - families)]
    made = [
        Item(code=f"B{at}", name="B", credits=random.randint(30, 160), covers=each) for at, each in enumerate(covers)
    ]
    listed = Catalogue(valid_from=DAY, items=(*singles, *made))
    codes = [each.code for each in random.sample(singles, wanted)]
    offers = [Offer(name=each.code, cost=each.credits, covers=listed.had_with(each.code)) for each in listed.items]
    return codes, offers


def at_random(random: Random, wanted: int, bundles: int) -> Question:
    """Give bundles of two to eight items, each somewhat cheaper than its items one by one."""
    codes = [f"I{at}" for at in range(wanted)]
    offers = [Offer(name=each, cost=random.randint(4, 40), covers=frozenset([each])) for each in codes]
    costs = {each.name: each.cost for each in offers}
    for at in range(bundles):
        covers = frozenset(random.sample(codes, random.randint(2, min(8, wanted))))
        cost = int(sum(costs[each] for each in covers) * random.uniform(0.4, 0.95))
        offers.append(Offer(name=f"B{at}", cost=max(cost, 1), covers=covers))
    return codes, offers


SIZES = ((5, 20), (10, 40), (20, 60), (30, 60), (60, 100))


def main() -> None:
    """Print a line for each kind and size."""
    out = sys.stdout
    out.write(f"{'bundles':<10} {'wanted':>6} {'of them':>8} {'ms':>9} {'times for HiGHS':>16}  proven\n")
    for make in (nested, at_random):
        for wanted, bundles in SIZES:
            question = make(Random(wanted), wanted, bundles)  # noqa: S311 - a repeatable question, no secrets
            ours, found = timed(lambda question=question: cheapest_cover(*question))  # type: ignore[misc]
            theirs, least = timed(lambda question=question: by_solver(*question))  # type: ignore[misc]
            off = "" if found.proven else f", {found.cost} where {found.lower_bound} is proven and {least} the cheapest"
            out.write(
                f"{make.__name__:<10} {wanted:6} {bundles:8} {1000 * ours:9.2f} {theirs / ours:16.1f}  "
                f"{found.proven}{off}\n"
            )


if __name__ == "__main__":
    main()
