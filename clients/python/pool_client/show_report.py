"""What people are shown of the keeper's report, and of files that were written. Pure, as show.py is."""

from collections.abc import Iterable

from pool_client.cells import tabulated
from pool_client.commands.files import Written
from pool_client.models.report import Report
from pool_client.table import Table


def report(found: Report) -> list[Table]:
    """Show what the plots of a report show, as tables: costs, the days on which the stock changed, and lending."""
    members = sorted({each.member for month in found.costs for each in month.members})
    costs = {(each.member, month.month): each.blended_unit_cost for month in found.costs for each in month.members}
    rows = [(member, *(costs.get((member, month.month)) for month in found.costs)) for member in members]
    rows.append(("pool price", *(month.pool_price for month in found.costs)))
    columns = "|".join(["member", *(f">{month.month}" for month in found.costs)])
    title = f"Report of {found.month} ({found.state}): what credits cost, {found.currency}"
    levels = (found.stock_before, *(level.credits for level in found.stock))
    changes = [
        (level.on, level.credits - before, level.credits)
        for before, level in zip(levels, found.stock, strict=False)
        if level.credits != before
    ]
    pairs = [(e.lender, e.borrower, e.lent, e.returned, e.settled, e.amount, e.open) for e in found.lending]
    rests = f"Rests on entry {found.rests_on.number}, hash {found.rests_on.hash}."
    lending = "lender|borrower|>lent|>returned|>settled|>amount|>open"
    return [
        tabulated(title, columns, rows, found.words.costs),
        tabulated("Stock, by day", "day|>change|>in stock", changes, found.words.stock),
        tabulated("Who lends and who borrows", lending, pairs, found.words.lending, rests, *found.cautions),
    ]


def files(found: Iterable[Written]) -> list[Table]:
    """Show which files were written."""
    return [tabulated("Written", "file|>bytes", ((each.file, each.size) for each in found))]
