"""How well and how fast matching finds planted truth, beside plain merges of two tables in the same run.

    python -m tests.bench.bench_matching [rows ...]

Sparse is forty shops over ninety days, dense twenty over thirty. Scores are strict (the very row, not an equal one),
times medians of three. The merges join on giver, receiver, quantity and day, numbering equal rows; the cascade repeats
that over one day's shift after another on what is left. They know neither splits nor deviations.
"""

import sys

import pandas as pd  # type: ignore[import-untyped]

from pool_api.domain.matching import match
from tests.bench.planted import Planted, planted
from tests.bench.scoring import scored
from tests.bench.timing import timed

SETTINGS = {"sparse": (40, 90), "dense": (20, 30)}
SHIFTS = (0, -1, 1, 2, 3, 4, 5, 6, -2)
FIELDS = ["giver", "receiver", "quantity", "day"]

Pairs = set[tuple[int, int]]


def tables(world: Planted) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Give the journal and the senders' rows as tables; days are numbers."""
    journal = pd.DataFrame(
        [(m.entry, m.giver, m.receiver, m.quantity, m.day.toordinal()) for m in world.movements],
        columns=["entry", *FIELDS],
    )
    sent = pd.DataFrame(
        [
            (world.shown_of[row.identity], row.giver, row.receiver, row.quantity, row.day.toordinal())
            for row in world.rows
            if row.account == row.giver
        ],
        columns=["shown", *FIELDS],
    )
    return journal, sent


def merged(journal: pd.DataFrame, sent: pd.DataFrame) -> pd.DataFrame:
    """Join on all fields and on the occurrence among equal rows."""
    ours = journal.assign(occurrence=journal.groupby(FIELDS).cumcount())
    theirs = sent.assign(occurrence=sent.groupby(FIELDS).cumcount())
    return ours.merge(theirs, on=[*FIELDS, "occurrence"])


def by_merge(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Merge once."""
    found = merged(journal, sent)
    return set(zip(found["entry"].tolist(), found["shown"].tolist(), strict=True))


def by_cascade(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Merge what is left, one shift of days after another."""
    pairs: Pairs = set()
    for shift in SHIFTS:
        found = merged(journal, sent.assign(day=sent["day"] - shift))
        pairs |= set(zip(found["entry"].tolist(), found["shown"].tolist(), strict=True))
        journal = journal[~journal["entry"].isin(found["entry"])]
        sent = sent[~sent["shown"].isin(found["shown"])]
    return pairs


def told(pairs: Pairs, world: Planted) -> str:
    """Give precision, recall and their harmonic mean."""
    right = len(pairs & world.pairs)
    precision, recall = right / max(len(pairs), 1), right / len(world.pairs)
    return f"{precision:9.5f} {recall:9.5f} {2 * right / (len(pairs) + len(world.pairs)):9.5f}"


def compare(count: int, setting: str, seed: int) -> None:
    """Print one world's lines."""
    shops, days = SETTINGS[setting]
    world = planted(seed, count, shops=shops, days=days)
    out = sys.stdout
    journal, sent = tables(world)
    for name, work in (("merge", by_merge), ("cascade of merges", by_cascade)):
        seconds, pairs = timed(lambda work=work: work(journal, sent))  # type: ignore[misc]
        out.write(f"{count:>7} {setting:<7} {seed:>4} {name:<20} {told(pairs, world)} {seconds:8.2f}\n")
    seconds, report = timed(lambda: match(world.movements, world.rows, world.coverage))
    score = scored(world, report)
    out.write(
        f"{count:>7} {setting:<7} {seed:>4} {'matching':<20} {score.precision:9.5f} {score.recall:9.5f} "
        f"{score.f1:9.5f} {seconds:8.2f}   without asking: precision {score.sure_precision:.5f}, "
        f"share {score.sure_share:.4f}; faults told: {score.faults_told:.4f}\n"
    )


def main() -> None:
    """Print a line for each number of transfers, setting and method."""
    counts = [int(each) for each in sys.argv[1:]] or [1_000, 10_000]
    sys.stdout.write(f"{'rows':>7} {'setting':<7} {'seed':>4} {'method':<20} {'precision':>9} {'recall':>9} {'F1':>9} ")
    sys.stdout.write(f"{'seconds':>8}\n")
    for count in counts:
        for seed, setting in enumerate(SETTINGS, start=101):
            compare(count, setting, seed)


if __name__ == "__main__":
    main()
