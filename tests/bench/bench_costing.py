"""How long a month sheet takes, beside a data frame that only adds up credits by member and kind in the same run.

    python -m tests.bench.bench_costing [entries]

The data frame finds no cost: it is what reading a month can't be quicker than. Medians of three."""

import sys
from collections.abc import Callable
from datetime import timedelta
from random import Random

import numpy as np
import pandas as pd  # type: ignore[import-untyped]

from pool_api.domain.entries import Body, Draw, Entry, Loan
from pool_api.domain.pool import LoanPrice, Policy, StockCosting
from pool_api.domain.reciprocal import solve
from pool_api.domain.stock import replay
from tests.bench.timing import timed
from tests.domain.circles import circle, equations
from tests.domain.journals import MONTHS, bought, by, numbered, sheet_of, shops, use

SHOPS = [f"SHOP-{number}" for number in range(50)]

Move = Callable[[str, str], Body]


def made(count: int) -> list[Entry]:
    """Give a month of purchases, draws, loans and uses among fifty shops, in order of day."""
    chance = Random(20261125)  # noqa: S311 - a repeatable month, no secrets
    kinds: tuple[Move, ...] = (
        lambda one, _two: Draw(member=one, quantity=chance.randint(10, 40)),
        lambda one, two: Loan(lender=one, borrower=two, quantity=chance.randint(1, 5)),
        lambda one, _two: use(one, chance.randint(1, 12)),
        lambda one, _two: use(one, chance.randint(1, 12)),
    )
    entries = []
    for number in range(1, count + 1):
        one, two = chance.sample(SHOPS, 2)
        body = (
            bought(2_000, chance.randint(1_200_000, 1_500_000), one)
            if number % 50 == 1
            else chance.choice(kinds)(one, two)
        )
        entries.append(numbered(number, body, MONTHS[0].first + timedelta(days=30 * number // (count + 1))))
    return entries


def added_up(entries: list[Entry]) -> object:
    """Give the credits by member and kind."""
    rows = [(each.kind, getattr(each.body, "member", ""), getattr(each.body, "quantity", 0)) for each in entries]
    return pd.DataFrame(rows, columns=["kind", "member", "quantity"]).groupby(["member", "kind"])["quantity"].sum()


def main() -> None:
    """Print a line for each costing, and one for loans at the lender's own price."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    entries, members = made(count), shops(*SHOPS)
    floor, _ = timed(lambda: added_up(entries))
    sys.stdout.write(f"{count} entries; data frame that adds up credits: {floor:.3f} s\n")
    for costing in StockCosting:

        def cost(costing: StockCosting = costing) -> object:
            return sheet_of(entries, Policy(stock_costing=costing), members)

        def guard(costing: StockCosting = costing) -> object:
            return replay(entries, by(costing))

        (sheet, _), (stock, _) = timed(cost), timed(guard)
        sys.stdout.write(f"{costing:<15} sheet {sheet:.3f} s ({sheet / floor:.1f} x), stock alone {stock:.3f} s\n")
    by_lender, _ = timed(lambda: sheet_of(entries, Policy(loan_price=LoanPrice.LENDER), members))
    sys.stdout.write(f"{'lender':<15} sheet {by_lender:.3f} s ({by_lender / floor:.1f} x), all shops in one circle\n")
    own, lent = circle(300, 2_265)
    exactly, _ = timed(lambda: solve(own, lent))
    roughly, _ = timed(lambda: np.linalg.solve(*equations(own, lent)))
    sys.stdout.write(
        f"300 shops, {len(lent)} lendings in one circle: solved exactly in {exactly:.3f} s, {exactly / roughly:.0f} x"
        " the equations set up and solved in binary fractions\n"
    )


if __name__ == "__main__":
    main()
