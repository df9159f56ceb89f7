"""Other ways to find whose row is whose, to hold the matcher beside: plain joins, and a general record-linkage library.

All get the senders' rows only, or whose there are: one row for each movement. The merges join on giver, receiver,
quantity and day, numbering equal rows; the cascade repeats that over one day's shift after another on what is left. The
library (recordlinkage) blocks by giver and receiver, compares quantity, day, note and reference, weighs by expectation
and maximisation, and its best links are taken first; narrowly, it blocks by quantity, too, which is faster, and leaves
it no wrong quantity to find. None of them looks for splits.
"""

import warnings

import pandas as pd  # type: ignore[import-untyped]

from tests.bench.planted import Planted

SHIFTS = (0, -1, 1, 2, 3, 4, 5, 6, -2)
FIELDS = ["giver", "receiver", "quantity", "day"]
KEY = FIELDS[:3]

Pairs = set[tuple[int, int]]


def tables(world: Planted) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Give the journal and one row of each vendor movement as tables; days are numbers."""
    journal = pd.DataFrame(
        [(m.entry, m.giver, m.receiver, m.quantity, m.day.toordinal(), m.note, m.reference) for m in world.movements],
        columns=["entry", *FIELDS, "note", "reference"],
    )
    shown = {world.shown_of[row.identity]: row for row in world.rows}
    sent = pd.DataFrame(
        [(at, r.giver, r.receiver, r.quantity, r.day.toordinal(), r.note, r.reference) for at, r in shown.items()],
        columns=["shown", *FIELDS, "note", "reference"],
    )
    return journal, sent


def merged(journal: pd.DataFrame, sent: pd.DataFrame) -> pd.DataFrame:
    """Join on all fields and on the occurrence among equal rows."""
    ours = journal.assign(occurrence=journal.groupby(FIELDS).cumcount())
    theirs = sent.assign(occurrence=sent.groupby(FIELDS).cumcount())
    return ours.merge(theirs, on=[*FIELDS, "occurrence"])


def by_merge(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Pair rows that agree in everything."""
    found = merged(journal, sent)
    return set(zip(found["entry"].tolist(), found["shown"].tolist(), strict=True))


def by_cascade(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Pair rows that agree in everything but the day, one shift of days after another."""
    pairs: Pairs = set()
    for shift in SHIFTS:
        found = merged(journal, sent.assign(day=sent["day"] - shift))
        pairs |= set(zip(found["entry"].tolist(), found["shown"].tolist(), strict=True))
        journal = journal[~journal["entry"].isin(found["entry"])]
        sent = sent[~sent["shown"].isin(found["shown"])]
    return pairs


def by_library(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Link by recordlinkage, each row in its most probable link at most."""
    return _linked(journal, sent, KEY[:2])


def by_library_narrowly(journal: pd.DataFrame, sent: pd.DataFrame) -> Pairs:
    """Link by recordlinkage among rows of equal quantity."""
    return _linked(journal, sent, KEY)


def _linked(journal: pd.DataFrame, sent: pd.DataFrame, block: list[str]) -> Pairs:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return _best_first(journal.set_index("entry"), sent.set_index("shown"), block)


def _best_first(journal: pd.DataFrame, sent: pd.DataFrame, block: list[str]) -> Pairs:
    import recordlinkage as rl  # type: ignore[import-untyped]  # noqa: PLC0415  (slow to load, and needed here only)

    candidates = rl.Index().block(block).index(journal, sent)
    compare = rl.Compare()
    if "quantity" not in block:
        compare.exact("quantity", "quantity", label="quantity")
    compare.exact("day", "day", label="day")
    compare.numeric("day", "day", method="step", offset=1, label="next day")
    compare.numeric("day", "day", method="step", offset=7, label="week")
    compare.string("note", "note", method="jarowinkler", threshold=0.85, label="note")
    compare.exact("reference", "reference", label="reference")
    features = compare.compute(candidates, journal, sent)
    classifier = rl.ECMClassifier(binarize=0.5)
    classifier.fit(features)
    probable = classifier.prob(features)
    probable = probable[(probable >= 0.5) & (features["week"] > 0)].sort_values(ascending=False, kind="stable")
    pairs: Pairs = set()
    ours: set[int] = set()
    theirs: set[int] = set()
    for entry, shown in probable.index.tolist():
        if entry not in ours and shown not in theirs:
            pairs.add((entry, shown))
            ours.add(entry)
            theirs.add(shown)
    return pairs


METHODS = {
    "merge": by_merge,
    "cascade of merges": by_cascade,
    "recordlinkage": by_library,
    "  narrowly": by_library_narrowly,
}
