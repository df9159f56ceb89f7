"""The proof of a month as CSV (RFC 4180), a line for each account and day, journal and record side by side."""

from collections.abc import Iterable, Iterator

from pool_api.domain.matching import AccountProof, Sums
from pool_api.reports.cells import csv_text

_FIGURES = ("opening", "bought", "came_in", "went_out", "used", "refunded", "closing")

HEAD = (
    "account",
    "day",
    *(f"journal_{name}" for name in _FIGURES),
    *(f"record_{name}" for name in _FIGURES),
    "apart",
)


def proof_csv(proofs: Iterable[AccountProof]) -> str:
    """Give the days of proofs in their order. A figure that isn't known is empty."""
    return csv_text([HEAD, *_lines(proofs)], free=0)


def _lines(proofs: Iterable[AccountProof]) -> Iterator[tuple[str | int, ...]]:
    for proof in proofs:
        for day in proof.days:
            apart = "" if day.apart is None else day.apart
            yield proof.account, day.day.isoformat(), *_figures(day.journal), *_figures(day.record), apart


def _figures(sums: Sums) -> Iterator[str | int]:
    for name in _FIGURES:
        value = getattr(sums, name)
        yield "" if value is None else value
