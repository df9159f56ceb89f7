"""Findings about rows that the vendor has changed or taken away since: the record is decided first, then the journal.

A row that counts and has a later word is one difference, whatever else there is to say of its movement: its match
stands beside it, and what the row differs in from the journal is told once the row is decided. A transfer that changed
in both accounts' records is one movement, so it is one difference too.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pool_api.domain.entries import digest
from pool_api.domain.matching import wording
from pool_api.domain.matching.course import Course
from pool_api.domain.matching.differences import Findings
from pool_api.domain.matching.report import Difference, DifferenceKind, Mend, MendKind
from pool_api.domain.matching.sides import Shown
from pool_api.domain.record import VendorRow
from pool_api.domain.revisions import Revision, differing


@dataclass(frozen=True, slots=True, kw_only=True)
class Revisions:
    """Rows with a later word, by name, and the keys of the differences that a keeper has dismissed: those rows stay."""

    open: Mapping[str, Revision] = field(default_factory=dict)
    dismissed: Collection[str] = frozenset()

    @classmethod
    def of(cls, open_: Iterable[Revision], dismissed: Collection[str]) -> "Revisions":
        """Take revisions by the names of their rows."""
        return cls(open={each.earlier.identity: each for each in open_}, dismissed=dismissed)


def revised(found: Findings, course: Course, revisions: Revisions) -> Findings:
    """Add a difference for every movement of which a row has a later word, in place of what else differs in it."""
    if not revisions.open:
        return found
    pairs = found.matches.pairs
    said = {each.key: each for each in found.differences}
    told: dict[str, Difference] = {}
    hidden: set[str] = set()
    others = list(found.others)
    for place in _places(course, revisions):
        shown, number = course.shown[place], int(found.of_shown[place])
        since = [revisions.open[name] for name in shown.identities if name in revisions.open]
        before = said.get(found.key(number) or "")
        difference = _difference(shown, since, _entries(found, course, number))
        told[difference.key] = difference
        if difference.key not in revisions.dismissed:
            hidden.update(shown.identities)
            if before is not None:
                others[number - pairs] = difference.key
    left = [each for each in found.differences if not hidden.intersection(each.rows)]
    return replace(
        found,
        differences=tuple(sorted([*left, *told.values()], key=lambda each: (each.day, each.entries, each.key))),
        others=tuple(others),
    )


def _places(course: Course, revisions: Revisions) -> list[int]:
    """Give the movements shown of which a row has a later word."""
    owners = course.shown.owner.tolist()
    return sorted({owners[at] for at, row in enumerate(course.shown.rows) if row.identity in revisions.open})


def _entries(found: Findings, course: Course, number: int) -> tuple[int, ...]:
    """Give the entries of a finding."""
    return tuple(sorted(course.journal[place].entry for place in np.flatnonzero(found.of_entry == number).tolist()))


def _difference(shown: Shown, since: list[Revision], entries: tuple[int, ...]) -> Difference:
    changed = any(each.later is not None for each in since)
    kind = DifferenceKind.CHANGED_AT_VENDOR if changed else DifferenceKind.VANISHED_AT_VENDOR
    later = [each.later.identity for each in since if each.later is not None]
    word = since[0]
    fields: dict[str, str | int] = {"import": word.import_id}
    if word.later is not None:
        values = {name: getattr(word.later, name) for name in differing(word.earlier, word.later)}
        fields |= {name: "" if value is None else value for name, value in values.items()}
    names = [[each.earlier.identity, each.later.identity if each.later else "", each.import_id] for each in since]
    return Difference(
        key=digest([kind, sorted(names)]),
        kind=kind,
        entries=entries,
        rows=(*shown.identities, *later),
        day=shown.day,
        giver=shown.giver,
        receiver=shown.receiver,
        quantity=shown.quantity,
        sentence=_sentence(shown, since),
        mend=Mend(kind=MendKind.WITHDRAW, fields=fields),
        withdraws=tuple((each.earlier.identity, each.import_id) for each in since),
    )


def _sentence(shown: Shown, since: Sequence[Revision]) -> str:
    """Say what the vendor's later files make of a movement that they showed before."""
    said = wording.movement(shown.kind, shown.giver, shown.receiver, shown.quantity)
    begin = f"The vendor showed {said} on {shown.day}"
    return "; ".join([begin, *(_since(each) for each in since)]) + "."


def _since(revision: Revision) -> str:
    earlier, later = revision.earlier, revision.later
    begin = f"import {revision.import_id} of {earlier.account}"
    if later is None:
        return f"{begin} doesn't show it any more"
    fields = [f"{name} was {_cell(earlier, name)} and is {_cell(later, name)}" for name in differing(earlier, later)]
    instead = wording.movement(later.kind, later.giver, later.receiver, later.quantity)
    return f"{begin} shows {instead} instead ({', '.join(fields)})"


def _cell(row: VendorRow, name: str) -> str:
    value = getattr(row, name)
    return "empty" if value in {None, ""} else str(value)
