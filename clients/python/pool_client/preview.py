"""What people are shown of a file before it is imported: how it is understood, what is doubtful, and how it begins."""

from pool_client.cells import tabulated
from pool_client.models.vendor import Proposal, SetAside
from pool_client.table import Table

_MOST_VALUES = 3


def previewed(found: Proposal) -> list[Table]:
    """Show a guess at a file's columns, with its doubts and first rows, and any rows above its header."""
    places = {word: at for at, word in enumerate(found.header)}
    columns = [(role, word, _values(found, places[word])) for role, word in found.columns.items()]
    rest = [("–", word, _values(found, at)) for word, at in places.items() if word not in found.columns.values()]
    guess = tabulated(_title(found), "what|column|for instance", [*columns, *rest], *found.doubts)
    first = Table(title="First rows", columns=found.header, rows=found.rows)
    return [guess, first, *([_skipped(found.skipped)] if found.skipped else [])]


def _title(found: Proposal) -> str:
    if found.form == "text":
        separator = {"\t": "tab"}.get(found.separator or "", found.separator)
        return f"Columns as understood ({found.encoding}, separated by {separator})"
    return f"Columns as understood ({found.form}, sheet {found.sheet})"


def _values(found: Proposal, at: int) -> str:
    values = dict.fromkeys(row[at] for row in found.rows if row[at])
    return ", ".join(list(values)[:_MOST_VALUES])


def _skipped(rows: tuple[SetAside, ...]) -> Table:
    told = ((str(row.line), " ".join(cell for cell in row.cells if cell)) for row in rows)
    return tabulated("Above the header, left out", ">line|it says", told)
