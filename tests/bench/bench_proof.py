"""How long the proof of the balances takes, beside adding the same rows up in a data frame, in the same run.

    python -m tests.bench.bench_proof [rows]

One account shows the rows, and the journal has the same movements but for one in a thousand, which it lacks. Matching
them is done before and not counted. The data frame sums each side by day and kind and runs the balances, which is the
arithmetic alone: no findings, no first row, no running balances followed.
"""

import sys
from datetime import date, timedelta
from time import process_time

import pandas as pd  # type: ignore[import-untyped]

from pool_api.domain.matching import Movement
from pool_api.domain.matching.course import run
from pool_api.domain.matching.coverage import Covered
from pool_api.domain.matching.differences import findings
from pool_api.domain.matching.proof import proofs
from pool_api.domain.matching.sides import Accounts
from pool_api.domain.matching.trail import trail_of
from pool_api.domain.record import MovementKind, RowFacts, VendorRow, numbered
from tests.bench.timing import timed

ACCOUNT, DAYS, LACKING = "alder-tuning", 31, 1_000
FIRST = date(2026, 10, 1)


def world(count: int) -> tuple[list[Movement], list[VendorRow]]:
    """Make so many uses and refunds of one account in a month, in order of days, with running balances."""
    facts, balance = [], 10 * count
    for at in range(count):
        day, use, size = FIRST + timedelta(days=at * DAYS // count), at % 3 > 0, 1 + at % 7
        balance += -size if use else size
        giver, receiver = (ACCOUNT, None) if use else (None, ACCOUNT)
        kind = MovementKind.USE if use else MovementKind.PURCHASE
        facts.append(
            RowFacts(account=ACCOUNT, day=day, kind=kind, giver=giver, receiver=receiver, quantity=size,
                     note=f"job {at}", balance=balance)
        )  # fmt: skip
    rows = numbered(enumerate(facts, start=2))
    movements = [
        Movement(entry=at, day=row.day, kind=row.kind, giver=row.giver, receiver=row.receiver, quantity=row.quantity,
                 note=row.note)
        for at, row in enumerate(rows, start=1)
        if at % LACKING
    ]  # fmt: skip
    return movements, list(rows)


def by_frame(ours: pd.DataFrame, theirs: pd.DataFrame) -> pd.DataFrame:
    """Sum both sides by day and kind, run the balances, and take one from the other."""
    sides = [each.groupby(["day", "kind"])["credits"].sum() for each in (ours, theirs)]
    return sides[1].groupby("day").sum().cumsum() - sides[0].groupby("day").sum().cumsum()


def frame(told: list[Movement] | list[VendorRow]) -> pd.DataFrame:
    """Give one side as a table, days as numbers."""
    return pd.DataFrame(
        [(each.day.toordinal(), each.kind.value, each.quantity if each.receiver else -each.quantity) for each in told],
        columns=["day", "kind", "credits"],
    )


def main() -> None:
    """Print the ratios for a number of rows, 200,000 unless said otherwise."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    movements, rows = world(count)
    accounts, covered = Accounts([ACCOUNT]), Covered({ACCOUNT: [(FIRST, FIRST + timedelta(days=DAYS - 1))]})
    course = run(movements, rows, accounts, (), 7)
    found = findings(course, accounts, covered)
    ours, theirs = frame(movements), frame(rows)
    base, apart = timed(lambda: by_frame(ours, theirs), process_time)
    seconds, (proof,) = timed(lambda: proofs(course, found, accounts, covered, {ACCOUNT: 10 * count}), process_time)
    trail, _ = timed(lambda: trail_of(rows), process_time)
    agree = [each.apart for each in proof.days] == apart.tolist()
    sys.stdout.write(f"{count} rows, {len(proof.days)} days, {len(proof.steps)} steps; as the data frame: {agree}\n")
    sys.stdout.write(f"data frame {base:.3f} s of the processor; proof {seconds / base:.1f} times as long, ")
    sys.stdout.write(f"of which following the running balances {trail / base:.1f}\n")


if __name__ == "__main__":
    main()
