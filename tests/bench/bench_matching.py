"""How well and how fast matching finds planted truth, beside plain merges and a record-linkage library in the same run.

    python -m tests.bench.bench_matching [rows ...]

Sparse is forty shops over 90 days (360 from 100,000 transfers on), dense twenty over 30 (90). Three ways: every shop
hands in its record, so that a movement stands in the journal and in two records. Two ways: each other shop only, of 56
and 28, so that about as many rows compete. Scores are strict (the very row, not an equal one); `~` is up to rows that
nothing they say tells apart. Seconds are of the processor, the median of three; times are multiples of the plain merge.
Each world runs in a process of its own, whose peak of memory holds the world, too.
Nothing was chosen by these seeds; those of development were 301 to 308.
"""

import resource
import sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from time import process_time

from pool_api.domain.matching import match
from tests.bench.linkers import METHODS, Pairs, tables
from tests.bench.planted import Habits, Planted, planted
from tests.bench.scoring import Score, scored
from tests.bench.timing import timed

SETTINGS = {"sparse": (40, 90, 360), "dense": (20, 30, 90)}
WAYS = {"two": 1.4, "three": 1.0}
"""Times as many shops where each other one hands in its record, all transfers being with one that doesn't."""

SEEDS = {("two", "sparse"): 901, ("two", "dense"): 902, ("three", "sparse"): 903, ("three", "dense"): 904}
LARGE = 100_000
MOST_LINKED = 30_000


def told(pairs: Pairs, world: Planted) -> str:
    """Give precision, recall and their harmonic mean."""
    right = len(pairs & world.pairs)
    precision, recall = right / max(len(pairs), 1), right / len(world.pairs)
    return f"{precision:9.5f} {recall:9.5f} {2 * right / (len(pairs) + len(world.pairs)):9.5f}"


def compare(count: int, ways: str, setting: str) -> str:
    """Give one world's lines."""
    shops, days, longer = SETTINGS[setting]
    seed = SEEDS[ways, setting]
    habits = Habits(half=ways == "two")
    world = planted(
        seed, count, shops=round(shops * WAYS[ways]), days=longer if count >= LARGE else days, habits=habits
    )
    lines, merge = [], 0.0
    head = f"{count:>7} {ways:<6} {setting:<7} {seed:>4}"
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    seconds, report = timed(lambda: match(world.movements, world.rows, world.coverage), clock=process_time)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    read, _ = timed(lambda: tuple(report.matches), clock=process_time)
    score = scored(world, report)
    journal, sent = tables(world)
    for name, method in METHODS.items():
        if name == "recordlinkage" and count > MOST_LINKED:
            lines.append(f"{head} {name:<20} not run: its blocks hold too many pairs")
            continue
        took, pairs = timed(lambda method=method: method(journal, sent), clock=process_time)  # type: ignore[misc]
        merge = merge or took
        lines.append(f"{head} {name:<20} {told(pairs, world)} {took:8.2f} {took / merge:7.1f}")
    lines.append(
        f"{head} {'matching':<20} {score.precision:9.5f} {score.recall:9.5f} {score.f1:9.5f} {seconds:8.2f} "
        f"{seconds / merge:7.1f}   all matches read out: {read:.2f} s more; "
        f"memory {(peak - before) / 1024:.0f} MiB more, {peak / 1024:.0f} in all"
    )
    return "\n".join([*lines, *quality(score)])


def quality(score: Score) -> list[str]:
    """Give what a score says besides, and each class of findings."""
    said = (
        f"    F1 ~{score.f1_up_to_twins:.5f}; without asking: precision {score.sure_precision:.5f} "
        f"~{score.sure_up_to_twins:.5f}, share {score.sure_share:.4f}; faults told {score.faults_told:.5f}; "
        f"asked {score.asked:.1f} of a thousand entries; residual {score.residual}"
    )
    lines = [said]
    for name, found in score.classes.items():
        called = ", ".join(f"{called} {number}" for called, number in found.called.most_common(4))
        lines.append(
            f"    {name:<22} {found.planted:>6} planted: precision {found.precision:.4f}, recall {found.recall:.4f}; "
            f"called {called}"
        )
    return lines


def main() -> None:
    """Print the lines of each number of transfers, way and setting."""
    counts = [int(each) for each in sys.argv[1:]] or [1_000, 10_000]
    sys.stdout.write(f"{'rows':>7} {'ways':<6} {'setting':<7} {'seed':>4} {'method':<20} {'precision':>9} ")
    sys.stdout.write(f"{'recall':>9} {'F1':>9} {'seconds':>8} {'times':>7}\n")
    for count in counts:
        for ways, setting in SEEDS:
            with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as apart:
                sys.stdout.write(apart.submit(compare, count, ways, setting).result() + "\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
