"""What people are shown of a preview: what would be recorded, and the credits that would change."""

from collections.abc import Iterator

from pool_client.cells import tabulated
from pool_client.models.entries import Change, Preview
from pool_client.show import body_words
from pool_client.table import Table


def previewed(found: Preview) -> list[Table]:
    """Show what would become of commands."""
    rows = [(each.effective_on, each.kind, body_words(each.body), each.note) for each in found.entries]
    would = tabulated("What would be recorded", "day|kind|says|note", rows, *_known(found))
    changes = list(_changes(found))
    return [would, tabulated("What would change", "credits|>now|>then", changes)] if changes else [would]


def _known(found: Preview) -> list[str]:
    numbers = [str(each.number) for each in found.entries if each.number is not None]
    return [f"Recorded already, under their references: {', '.join(numbers)}."] if numbers else []


def _changes(found: Preview) -> Iterator[tuple[str, int, int]]:
    if found.stock != Change(before=found.stock.after, after=found.stock.after):
        yield "in stock", found.stock.before, found.stock.after
    for held in found.held:
        yield f"held by {held.member}", held.before, held.after
    for lent in found.open_loans:
        yield f"open from {lent.lender} to {lent.borrower}", lent.before, lent.after
