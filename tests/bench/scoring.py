"""How well a report tells the planted truth: strictly, the very row and not an equal one, and class by class."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from pool_api.domain.matching import Difference, DifferenceKind, Match, Movement, Report, Status
from pool_api.domain.record import VendorRow
from tests.bench.planted import Plant, Planted

DEVIATIONS = (DifferenceKind.QUANTITY, DifferenceKind.COUNTERPARTY, DifferenceKind.DIRECTION)
OF_PLANTED = {
    "duplicate_in_journal": "duplicate",
    "duplicate_at_vendor": "duplicate",
    "split_at_vendor": "split",
    "split_in_journal": "split",
}
"""The finding that each planted fault should get, where it isn't called the same."""

Pairs = set[tuple[int, int]]
Item = tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class PerClass:
    """Of what was planted and of what was claimed: how many, and how many of each are right; confusion counts what the
    planted ones were called."""

    planted: int
    found: int
    claimed: int
    right: int
    called: Counter[str]

    @property
    def precision(self) -> float:
        """Of the claims, the share that was planted so."""
        return self.right / max(self.claimed, 1)

    @property
    def recall(self) -> float:
        """Of the planted ones, the share that is claimed so."""
        return self.found / max(self.planted, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """Shares of one: of the pairs found those that are true, of the true ones those that are found, of the pairs
    matched without asking those that are true, and those that are true up to an exchange of rows that nothing they say
    tells apart; of the true ones those matched so; of the faults those told.

    Asked counts what needs a person among a thousand entries and vendor movements; residual is what the proofs leave
    unexplained, in credits."""

    precision: float
    recall: float
    sure_precision: float
    sure_up_to_twins: float
    f1_up_to_twins: float
    sure_share: float
    faults_told: float
    asked: float
    residual: int
    classes: dict[str, PerClass]

    @property
    def f1(self) -> float:
        """The harmonic mean of precision and recall."""
        return 2 * self.precision * self.recall / (self.precision + self.recall)


def scored(world: Planted, report: Report) -> Score:
    """Score a report."""
    matches = list(report.matches)
    sure = _claims(world, (each for each in matches if each.status is Status.MATCHED))
    claimed = _claims(world, matches)
    claimed |= _claims(world, (each for each in report.differences if each.kind in DEVIATIONS))
    found = claimed & world.pairs
    told = _told(world, report, matches)
    copies = _Copies(world)
    known = copies.every(told)
    asking = sum(each.status is Status.SUGGESTED for each in matches) + len(report.differences)
    return Score(
        precision=len(found) / max(len(claimed), 1),
        recall=len(found) / len(world.pairs),
        sure_precision=len(sure & world.pairs) / max(len(sure), 1),
        sure_up_to_twins=copies.right(sure) / max(len(sure), 1),
        f1_up_to_twins=2 * copies.right(claimed) / (len(claimed) + len(world.pairs)),
        sure_share=len(sure & world.pairs) / len(world.pairs),
        faults_told=sum(not known.isdisjoint(_items(each)) for each in world.plants) / max(len(world.plants), 1),
        asked=1000 * asking / max(len(world.movements), 1),
        residual=sum(
            abs(each.record.change - each.journal.change - sum(step.credits for step in each.steps))
            for each in report.proof
        ),
        classes=_classes(world, report, matches, copies),
    )


def _claims(world: Planted, found: Iterable[Match | Difference]) -> Pairs:
    return {(entry, world.shown_of[row]) for each in found for entry in each.entries for row in each.rows}


def _items(plant: Plant) -> set[Item]:
    return {("entry", entry) for entry in plant.entries} | {("row", shown) for shown in plant.shown}


def _of(world: Planted, found: Match | Difference) -> set[Item]:
    return {("entry", entry) for entry in found.entries} | {("row", world.shown_of[row]) for row in found.rows}


def _told(world: Planted, report: Report, matches: Iterable[Match]) -> set[Item]:
    """Give every entry and vendor movement that a difference or an open suggestion is about."""
    findings: list[Match | Difference] = [*report.differences]
    findings += [each for each in matches if each.status is Status.SUGGESTED]
    return {item for each in findings for item in _of(world, each)}


class _Copies:
    """Which entries, and which vendor movements, say the same: of two of these it doesn't matter which is told of."""

    def __init__(self, world: Planted) -> None:
        self._world = world
        self._says: dict[Item, object] = {}
        self._alike: dict[object, set[Item]] = {}
        shared = {each.reference for each in world.movements} & {row.reference for row in world.rows}
        for each in world.movements:
            self._add(("entry", each.entry), each, shared)
        for row in world.rows:
            self._add(("row", world.shown_of[row.identity]), row, shared)

    def _add(self, item: Item, told: Movement | VendorRow, shared: set[str | None]) -> None:
        reference = told.reference if told.reference in shared else None
        note = " ".join(told.note.casefold().split())
        self._says[item] = (item[0], told.giver, told.receiver, told.quantity, told.day, note, reference)
        self._alike.setdefault(self._says[item], set()).add(item)

    def of(self, item: Item) -> set[Item]:
        """Give an item's copies and itself."""
        return self._alike[self._says[item]]

    def every(self, items: Iterable[Item]) -> set[Item]:
        """Give items with all copies of theirs."""
        return {copy for item in items for copy in self.of(item)}

    def right(self, pairs: Pairs) -> int:
        """Count pairs that are true up to copies."""
        says = self._says
        true = Counter((says["entry", entry], says["row", shown]) for entry, shown in self._world.pairs)
        claimed = Counter((says["entry", entry], says["row", shown]) for entry, shown in pairs)
        return (true & claimed).total()


def _classes(world: Planted, report: Report, matches: list[Match], copies: _Copies) -> dict[str, PerClass]:
    claims: dict[str, list[set[Item]]] = {}
    for each in report.differences:
        claims.setdefault(str(each.kind), []).append(_of(world, each))
    for match in matches:
        if len(match.entries) > 1 or len({world.shown_of[row] for row in match.rows}) > 1:
            claims.setdefault("split", []).append(_of(world, match))
    plants: dict[str, list[set[Item]]] = {}
    for plant in world.plants:
        plants.setdefault(OF_PLANTED.get(plant.fault, plant.fault), []).append(_items(plant))
    calls = _calls(world, report, matches)
    return {
        name: _per_class(name, plants.get(name, []), claims.get(name, []), copies, calls)
        for name in sorted({*plants, *claims})
    }


def _per_class(
    name: str, planted: list[set[Item]], claimed: list[set[Item]], copies: _Copies, calls: dict[Item, set[str]]
) -> PerClass:
    """Count a claim as right when it shares its items, or copies of them, with what was planted so."""
    there = copies.every(item for items in planted for item in items)
    said = copies.every(item for items in claimed for item in items)
    called: Counter[str] = Counter()
    found = 0
    for items in planted:
        hit = not said.isdisjoint(items)
        found += hit
        named = set().union(*(calls[item] for item in items)) - {"matched"} if not hit else {name}
        called["+".join(sorted(named)) or "matched"] += 1
    return PerClass(
        planted=len(planted),
        found=found,
        claimed=len(claimed),
        right=sum(not there.isdisjoint(items) for items in claimed),
        called=called,
    )


def _calls(world: Planted, report: Report, matches: list[Match]) -> dict[Item, set[str]]:
    """Give what each entry and vendor movement is called."""
    calls: dict[Item, set[str]] = {("entry", movement.entry): set() for movement in world.movements}
    calls.update({("row", shown): set() for shown in world.shown_of.values()})
    for match in matches:
        for item in _of(world, match):
            calls[item].add(str(match.status))
    for each in report.differences:
        for item in _of(world, each):
            calls[item].add(str(each.kind))
    return calls
