"""Why is this number what it is: every figure of a month's sheet and settlement, with the formula and the operands that
give it, down to the entries.

Promises: the values are the sheet's and the settlement's, never computed a second time; each explanation, computed as
its formula says, gives its figure exactly. What an explanation is stands in figures.py, what entries contribute in
contributions.py, and the figures of each subject in a file of their own.
"""

from pool_api.domain.explaining.contributions import MonthFacts, contributions
from pool_api.domain.explaining.figures import (
    MOST_TERMS,
    Explanation,
    Figures,
    Formula,
    Listed,
    Operand,
    Origin,
    Role,
    Unit,
    Value,
)
from pool_api.domain.explaining.of_dues import add_dues
from pool_api.domain.explaining.of_entries import add_entries
from pool_api.domain.explaining.of_loans import add_loans
from pool_api.domain.explaining.of_members import add_members
from pool_api.domain.explaining.of_prices import add_prices
from pool_api.domain.explaining.of_saving import add_saving
from pool_api.domain.explaining.of_settlement import add_settlement
from pool_api.domain.explaining.of_stock import add_stock, steps_of
from pool_api.domain.explaining.of_warnings import add_warnings

__all__ = [
    "MOST_TERMS",
    "Explanation",
    "Figures",
    "Formula",
    "Listed",
    "MonthFacts",
    "Operand",
    "Origin",
    "Role",
    "Unit",
    "Value",
    "figures_of",
]


def figures_of(facts: MonthFacts) -> Figures:
    """Give every figure of a month, to be explained when it is asked for.

    Takes:   facts, consistent: what the month was costed from."""
    figures, sheet, found = Figures(), facts.sheet, contributions(facts)
    steps = steps_of(sheet, found)
    add_entries(figures, facts.entries, found)
    add_stock(figures, sheet, found, steps)
    add_loans(figures, sheet, found)
    add_prices(figures, sheet, found)
    add_members(figures, sheet, found)
    add_saving(figures, sheet)
    add_dues(figures, sheet, found, facts.members)
    add_settlement(figures, facts)
    add_warnings(figures, sheet, found, steps)
    return figures
