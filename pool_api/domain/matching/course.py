"""The order in which rows find each other: what is decided, in which stage, on what is left over from the stage before.

    0  the vendor's own two records of a transfer            sender's row with receiver's row, at most a day apart
    1  earlier decisions                                     pinned before anything is weighed
    2  equal accounts and quantity, days within the window   entries first, then reversals
    3  entries and reversals that the vendor never showed    cancel each other; what is left of a part goes on
    4  splits                                                one entry for several rows, one row for several entries
    5  deviations                                            one of quantity, other account or direction is different

Pairs that are equal down to the day aren't taken ahead of stage 2: where the vendor dates a day late, that would pair
yesterday's loan with today's. An entry that was reversed yields to one that wasn't, so that a mistake that was entered
twice and taken back once leaves the right one standing.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from pool_api.domain.matching.pairing import Pair, Pairing, Reading
from pool_api.domain.matching.report import DifferenceKind, Movement, Part, Pin, Status
from pool_api.domain.matching.sides import (
    KINDS,
    OUTSIDE,
    Accounts,
    Ints,
    Shown,
    Side,
    Words,
    arranged,
    codes_of,
    joined,
    ranked,
    shown_of,
)
from pool_api.domain.matching.splits import Split, splits
from pool_api.domain.matching.weighing import CONTRARY
from pool_api.domain.matching.wording import reasons
from pool_api.domain.record import MovementKind, VendorRow

SURE_MARGIN = 5_000
"""A match that isn't clear otherwise needs this many milli-bits of lead over the best other choice."""

LEAST_SURE = 9_000
"""A match of less weight is only suggested, unless it is of one day and the notes don't contradict each other: then its
weight is small only because such movements are common."""

DEVIATION_MARGIN = 1_000
"""A deviation that another choice comes closer to than this isn't claimed."""

_REVERSED_COST, _PARTLY_REVERSED_COST = 12_000, 2_000
_BETWEEN_RECORDS = 1
"""Days that the vendor's two records of one transfer may lie apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Places of entries and of shown movements that are one movement; deviation says in what they differ."""

    lefts: tuple[int, ...]
    rights: tuple[int, ...]
    status: Status
    score: int
    parts: tuple[Part, ...]
    deviation: DifferenceKind | None = None


@dataclass(slots=True, kw_only=True)
class Course:
    """The comparison as it stands: what is linked, what is cancelled, and what is left over.

    Places are those in journal and shown, both in canonical order, and in their columns, ours and theirs. left gives
    the quantity still to be found of each entry left over; reversals gives the places of an entry's reversals."""

    journal: Sequence[Movement]
    shown: Sequence[Shown]
    ours: Side
    theirs: Side
    links: list[Link] = field(default_factory=list)
    cancelled: list[int] = field(default_factory=list)
    left: dict[int, int] = field(default_factory=dict)
    right: dict[int, int] = field(default_factory=dict)
    reversals: dict[int, tuple[int, ...]] = field(default_factory=dict)
    broken_pins: list[Pin] = field(default_factory=list)
    limits: list[str] = field(default_factory=list)

    def link(self, link: Link) -> None:
        """Take the link's rows out of what is left over."""
        self.links.append(link)
        for place in link.lefts:
            self.left.pop(place, None)
        for place in link.rights:
            self.right.pop(place, None)

    def rest(self, place: int) -> int:
        """Give what an entry's reversals leave of it."""
        return self.journal[place].quantity - sum(self.journal[at].quantity for at in self.reversals.get(place, ()))

    def absorbed(self, place: int) -> tuple[int, ...]:
        """Give an entry that is left over, with the reversals that were counted into what is left of it."""
        counted = self.left[place] < self.journal[place].quantity
        return place, *(self.reversals[place] if counted else ())


def run(
    movements: Iterable[Movement], rows: Sequence[VendorRow], accounts: Accounts, pins: Sequence[Pin], window: int
) -> Course:
    """Go through all stages. Gives the same for any order of movements, rows and pins."""
    limits: list[str] = []
    words = Words(), Words()
    given = list(movements)
    entries = np.array([movement.entry for movement in given], dtype=np.int64)
    journal, left = arranged(given, [entries], accounts, *words)
    shown, right = _seen(*arranged(rows, _names(rows), accounts, *words), accounts, words, limits)
    course = Course(journal=journal, shown=shown, ours=left, theirs=right, limits=limits)
    course.left = {place: movement.quantity for place, movement in enumerate(journal)}
    course.right = {place: each.quantity for place, each in enumerate(shown)}
    course.reversals = _reversals(journal)
    forbidden = _pinned(course, pins) if pins else frozenset()
    taken_back = np.array([len(course.reversals.get(place, ())) for place in range(len(journal))], dtype=np.int64)
    pairing = Pairing(left, right, words, left_same=codes_of(left.same, taken_back), forbidden=forbidden)
    _equal(course, pairing, window)
    _settle_reversals(course)
    _split(course, pairing, words[0], window, forbidden)
    _deviate(course, pairing, window)
    course.limits.extend(pairing.limits)
    return course


def _seen(
    rows: Sequence[VendorRow], side: Side, accounts: Accounts, words: tuple[Words, Words], limits: list[str]
) -> tuple[list[Shown], Side]:
    """Join sender's and receiver's rows of transfers within the pool; every other row stands alone.

    Gives:   the movements shown, in the order of their first rows, as a list and as columns."""
    own = np.array([accounts.code(row.account) for row in rows], dtype=np.int64)
    transfer = side.kind == KINDS.index(MovementKind.TRANSFER)
    within = transfer & (side.giver > OUTSIDE) & (side.receiver > OUTSIDE)
    sent, received = np.flatnonzero(within & (own == side.giver)), np.flatnonzero(within & (own != side.giver))
    pairing = Pairing(side.at(sent), side.at(received), words)
    readings = [Reading(place, quantity) for place, quantity in enumerate(side.quantity[sent].tolist())]
    pairs = pairing.equal(readings, range(len(received)), _BETWEEN_RECORDS, learn=True)
    limits.extend(pairing.limits)
    paired = np.array([(pair.left, pair.right) for pair in pairs], dtype=np.int64).reshape(len(pairs), 2)
    other = np.full(len(rows), -1, dtype=np.int64)
    other[sent[paired[:, 0]]] = received[paired[:, 1]]
    first = np.setdiff1d(np.arange(len(rows), dtype=np.int64), received[paired[:, 1]])
    shown = [
        shown_of(accounts, rows[at], rows[also]) if also >= 0 else shown_of(accounts, rows[at])
        for at, also in zip(first.tolist(), other[first].tolist(), strict=True)
    ]
    double = np.flatnonzero(other[first] >= 0)
    return shown, joined(side.at(first), side.at(other[first[double]]), double)


def _names(rows: Sequence[VendorRow]) -> tuple[Ints, Ints]:
    occurrences = np.array([row.occurrence for row in rows], dtype=np.int64)
    return ranked([row.content for row in rows])[1], occurrences


def _reversals(journal: Sequence[Movement]) -> dict[int, tuple[int, ...]]:
    at = {movement.entry: place for place, movement in enumerate(journal)}
    found: dict[int, list[int]] = {}
    for place in sorted(range(len(journal)), key=lambda place: journal[place].entry):
        reverses = journal[place].reverses
        if reverses is not None and reverses in at:
            found.setdefault(at[reverses], []).append(place)
    return {place: tuple(places) for place, places in found.items()}


def _pinned(course: Course, pins: Sequence[Pin]) -> frozenset[tuple[int, int]]:
    """Link what was decided to be one; give the pairs that were decided to be apart."""
    entries = {movement.entry: place for place, movement in enumerate(course.journal)}
    rows = {identity: place for place, each in enumerate(course.shown) for identity in each.identities}
    forbidden: set[tuple[int, int]] = set()
    for pin in sorted(pins, key=lambda pin: (pin.entries, pin.rows)):
        lefts = sorted({entries[entry] for entry in pin.entries if entry in entries})
        rights = sorted({rows[row] for row in pin.rows if row in rows})
        complete = len(lefts) == len(set(pin.entries)) and all(row in rows for row in pin.rows)
        if not pin.together:
            forbidden.update((left, right) for left in lefts for right in rights)
        elif (
            complete
            and lefts
            and rights
            and all(p in course.left for p in lefts)
            and all(p in course.right for p in rights)
        ):
            part = Part(name="decision", millibits=0, says="decided earlier")
            link = Link(lefts=tuple(lefts), rights=tuple(rights), status=Status.MATCHED, score=0, parts=(part,))
            course.link(link)
        else:
            course.broken_pins.append(pin)
    return frozenset(forbidden)


def _equal(course: Course, pairing: Pairing, window: int) -> None:
    """Stage 2: entries by their own quantity or by what reversals left of it, then the reversals themselves."""
    entries = [place for place in course.left if course.journal[place].reverses is None]
    readings: list[Reading] = []
    for place in entries:
        quantity, rest = course.journal[place].quantity, course.rest(place)
        reversals = course.reversals.get(place, ())
        partly = 0 < rest < quantity and all(at in course.left for at in reversals)
        cost = 0 if not reversals else _PARTLY_REVERSED_COST if partly else _REVERSED_COST
        readings.append(Reading(place=place, quantity=quantity, cost=cost))
        if partly:
            readings.append(Reading(place=place, quantity=rest))
    for pair in pairing.equal(readings, list(course.right), window, learn=True):
        absorbed = course.reversals.get(pair.left, ()) if pair.quantity < course.journal[pair.left].quantity else ()
        _take(course, pair, absorbed)
    late = [place for place in course.left if course.journal[place].reverses is not None]
    again = [Reading(place=place, quantity=course.journal[place].quantity) for place in late]
    for pair in pairing.equal(again, list(course.right), window):
        _take(course, pair, ())


def _take(course: Course, pair: Pair, absorbed: tuple[int, ...], deviation: DifferenceKind | None = None) -> None:
    apart = (course.shown[pair.right].day - course.journal[pair.left].day).days
    told = pair.whole or pair.margin >= SURE_MARGIN or pair.bits["reference"] > 0
    common = apart == 0 and pair.note_level != CONTRARY
    sure = deviation is None and told and (common or pair.total >= LEAST_SURE)
    course.link(
        Link(
            lefts=(pair.left, *absorbed),
            rights=(pair.right,),
            status=Status.MATCHED if sure else Status.SUGGESTED,
            score=pair.total,
            parts=reasons(pair, apart),
            deviation=deviation,
        )
    )


def _settle_reversals(course: Course) -> None:
    """Stage 3: an entry and its reversals that are all left over count as what they leave together."""
    for place, reversals in course.reversals.items():
        if place in course.left and all(at in course.left for at in reversals):
            rest = course.rest(place)
            for at in reversals:
                del course.left[at]
            if rest > 0:
                course.left[place] = rest
            else:
                del course.left[place]
                course.cancelled += [place, *reversals]


def _split(course: Course, pairing: Pairing, notes: Words, window: int, forbidden: frozenset[tuple[int, int]]) -> None:
    """Stage 4: first one entry shown as several rows, then one row for several entries."""
    for found in splits((pairing.left, course.left), (pairing.right, course.right), notes, window, forbidden):
        _take_split(course, (found.whole,), found.parts, found)
    turned = frozenset((right, left) for left, right in forbidden)
    for found in splits((pairing.right, course.right), (pairing.left, course.left), notes, window, turned):
        _take_split(course, found.parts, (found.whole,), found)


def _take_split(course: Course, lefts: tuple[int, ...], rights: tuple[int, ...], found: Split) -> None:
    everything = tuple(at for place in lefts for at in course.absorbed(place))
    course.link(Link(lefts=everything, rights=rights, status=Status.SUGGESTED, score=found.score, parts=found.reasons))


def _deviate(course: Course, pairing: Pairing, window: int) -> None:
    """Stage 5."""
    readings = [Reading(place=place, quantity=quantity) for place, quantity in course.left.items()]
    for pair in pairing.deviating(readings, list(course.right), window):
        if pair.margin >= DEVIATION_MARGIN:
            deviation = _deviation(pairing, pair)
            _take(course, pair, course.absorbed(pair.left)[1:], deviation)


def _deviation(pairing: Pairing, pair: Pair) -> DifferenceKind:
    ours = pairing.left.giver[pair.left], pairing.left.receiver[pair.left]
    theirs = pairing.right.giver[pair.right], pairing.right.receiver[pair.right]
    if ours == theirs:
        return DifferenceKind.QUANTITY
    return DifferenceKind.DIRECTION if ours == theirs[::-1] else DifferenceKind.COUNTERPARTY
