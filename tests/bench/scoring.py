"""How well a report tells the planted truth."""

from dataclasses import dataclass

from pool_api.domain.matching import Difference, DifferenceKind, Match, Report, Status
from tests.bench.planted import Planted

DEVIATIONS = (DifferenceKind.QUANTITY, DifferenceKind.COUNTERPARTY, DifferenceKind.DIRECTION)


@dataclass(frozen=True, slots=True)
class Score:
    """Shares of one: of the pairs found those that are true, of the true ones those that are found, of the pairs
    matched without asking those that are true, of the true ones those matched so; of the faults those told."""

    precision: float
    recall: float
    sure_precision: float
    sure_share: float
    faults_told: float

    @property
    def f1(self) -> float:
        """The harmonic mean of precision and recall."""
        return 2 * self.precision * self.recall / (self.precision + self.recall)


def scored(world: Planted, report: Report) -> Score:
    """Score a report strictly: the very row counts, not an equal one."""
    sure = {pair for each in report.matches if each.status is Status.MATCHED for pair in _pairs(world, each)}
    claimed = {pair for each in report.matches for pair in _pairs(world, each)}
    claimed |= {pair for each in report.differences if each.kind in DEVIATIONS for pair in _pairs(world, each)}
    found = claimed & world.pairs
    told = _told(world, report)
    return Score(
        precision=len(found) / max(len(claimed), 1),
        recall=len(found) / len(world.pairs),
        sure_precision=len(sure & world.pairs) / max(len(sure), 1),
        sure_share=len(sure & world.pairs) / len(world.pairs),
        faults_told=sum(fault in told for fault in world.faults) / max(len(world.faults), 1),
    )


def _pairs(world: Planted, found: Match | Difference) -> set[tuple[int, int]]:
    return {(entry, world.shown_of[row]) for entry in found.entries for row in found.rows}


def _told(world: Planted, report: Report) -> set[tuple[str, int]]:
    """Give every entry and vendor movement that a difference or an open suggestion is about, and equal copies of it."""
    told: set[tuple[str, int]] = set()
    pending = [each for each in report.matches if each.status is Status.SUGGESTED]
    findings: list[Match | Difference] = [*report.differences, *pending]
    for each in findings:
        told |= {("entry", entry) for entry in each.entries}
        told |= {("row", world.shown_of[row]) for row in each.rows}
    return told | _copies(world, told)


def _copies(world: Planted, told: set[tuple[str, int]]) -> set[tuple[str, int]]:
    """Of two copies it doesn't matter which one is reported."""
    alike: dict[object, list[tuple[str, int]]] = {}
    for movement in world.movements:
        what = ("entry", movement.giver, movement.receiver, movement.quantity, movement.day)
        alike.setdefault(what, []).append(("entry", movement.entry))
    for row in world.rows:
        alike.setdefault(("row", row.giver, row.receiver, row.quantity), []).append(
            ("row", world.shown_of[row.identity])
        )
    return {copy for copies in alike.values() if any(each in told for each in copies) for copy in copies}
