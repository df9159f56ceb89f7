"""Mends that were undone: entries that mended a difference and were wholly reversed on their own day.

Such an entry is as if it had never been recorded. A comparison leaves it and its reversals out, unless the vendor shows
those as well: what it mended is a difference again, and nothing else is. That has a key of its own, because a decision
stands for good, and the entries that it recorded keep their references.
"""

from collections.abc import Iterable, Mapping, Sequence

from pool_api.domain.entries import Entry, Reversal, quantity_of
from pool_api.domain.matching import Report
from pool_api.store.vendor import Decision

Undone = Mapping[int, frozenset[int]]
"""Entries that mended a difference and were undone, each with its reversals."""


def undone_mends(decisions: Iterable[Decision], entries: Sequence[Entry]) -> Undone:
    """Give the mends among entries, ordered by number, that were undone on their own day."""
    recorded = {number for each in decisions for number in each.entries}
    mends = {each.number: each for each in entries if each.number in recorded}
    undoing: dict[int, list[tuple[Entry, int]]] = {}
    for each in entries:
        if isinstance(each.body, Reversal) and each.body.entry in mends:
            undoing.setdefault(each.body.entry, []).append((each, each.body.quantity or 0))
    return {
        number: frozenset(reversal.number for reversal, _ in found)
        for number, found in undoing.items()
        if {reversal.effective_on for reversal, _ in found} == {mends[number].effective_on}
        and sum(quantity for _, quantity in found) == quantity_of(mends[number].body)
    }


def left_alone(undone: Undone, report: Report) -> Undone:
    """Give those of which the vendor shows no reversal; none where all of these came to nothing by themselves."""
    alone = {number for each in report.differences if not each.rows for number in each.entries}
    if not any(reversals <= alone for reversals in undone.values()):
        return {}
    alone.update(report.cancelled)
    return {number: reversals for number, reversals in undone.items() if reversals <= alone}


def reopened(undone: Undone, decisions: Iterable[Decision]) -> frozenset[str]:
    """Give the differences, by key, of whose mends nothing is left."""
    return frozenset(each.difference for each in decisions if each.entries and {*each.entries} <= undone.keys())
