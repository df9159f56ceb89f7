"""How the rows of a report become CSV (RFC 4180) that no spreadsheet takes for formulas."""

import csv
import io
from collections.abc import Iterable, Sequence

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")


def csv_text(rows: Iterable[Sequence[str | int]], *, free: int) -> str:
    """Give rows as CSV, texts in quotes.

    Takes:   free, the place, from 0, of the one column that holds what people wrote; the others are the service's."""
    written = io.StringIO()
    writer = csv.writer(written, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerows([*row[:free], _safe(str(row[free])), *row[free + 1 :]] for row in rows)
    return written.getvalue()


def _safe(text: str) -> str:
    """Give text that no spreadsheet takes for a formula: a quote mark goes before one that could be.

    Source: OWASP, "CSV Injection"; full-width signs and leading blanks are an own addition."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
