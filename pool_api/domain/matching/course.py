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

from pool_api.domain.matching.columns import Bools, Ints, codes_of, column
from pool_api.domain.matching.pairing import Pairing, Pairs, Readings, together
from pool_api.domain.matching.report import DifferenceKind, Movement, Part, Pin, Status
from pool_api.domain.matching.seen import Seen, seen
from pool_api.domain.matching.sides import Accounts, Side, Words, arranged
from pool_api.domain.matching.splits import Split, splits
from pool_api.domain.matching.wording import reasons
from pool_api.domain.record import VendorRow

SURE_MARGIN = 5_000
"""A match that isn't clear otherwise needs this many milli-bits of lead over the best other choice."""

LEAST_LEAD = 1_000
"""In a group whose rows all found partners, a match needs only so many: no other choice leaves a row apart."""

LEAST_SURE = 13_000
"""A match of less weight is only suggested, unless it is of one day and the notes don't speak against it: then its
weight is small only because such movements are common."""

AGAINST = -3_500
"""Notes of fewer milli-bits speak against a match."""

DEVIATION_MARGIN = 1_000
"""A deviation that another choice comes closer to than this isn't claimed."""

_REVERSED_COST, _PARTLY_REVERSED_COST = 12_000, 2_000


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

    Places are those in journal and shown, both in canonical order, and in their columns, ours and theirs. Pairs are
    entries with movements that agree, as columns, sure those that stand without asking; links are all others. left
    gives the quantity still to be found of each entry left over; reversals gives the places of an entry's reversals."""

    journal: Sequence[Movement]
    shown: Seen
    ours: Side
    theirs: Side
    pairs: Pairs
    sure: Bools
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

    def pair(self, pairs: Pairs) -> None:
        """Take pairs that agree in all but the day; where reversals are counted in, they are links."""
        whole = pairs.quantity == self.ours.quantity[pairs.left]
        for at in np.flatnonzero(~whole).tolist():
            _take(self, pairs, at, self.reversals.get(int(pairs.left[at]), ()))
        agreeing = pairs.at(np.flatnonzero(whole))
        self.pairs, self.sure = together(self.pairs, agreeing), np.append(self.sure, _sure(self, agreeing))
        for place in agreeing.left.tolist():
            del self.left[place]
        for place in agreeing.right.tolist():
            del self.right[place]

    def reversing(self) -> Bools:
        """Tell which entries are reversals."""
        found = np.zeros(len(self.journal), dtype=np.bool_)
        found[[at for at, movement in enumerate(self.journal) if movement.reverses is not None]] = True
        return found

    def days_apart(self, left: int, right: int) -> int:
        """Give how many days later than the journal's the vendor's day is."""
        return int(self.theirs.day[right] - self.ours.day[left])

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
    books = Words(), Words()
    given = list(movements)
    entries = column([movement.entry for movement in given])
    journal, left = arranged(given, entries, lambda some: [column([each.entry for each in some])], accounts, books)
    shown, right = seen(rows, accounts, books, [pin.rows for pin in pins if pin.together], limits)
    reversals = _reversals(journal)
    taken_back = np.zeros(len(journal), dtype=np.int64)
    taken_back[list(reversals)] = [len(places) for places in reversals.values()]
    pairing = Pairing(left, right, books, left_same=codes_of(left.same, taken_back))
    course = Course(
        journal=journal,
        shown=shown,
        ours=left,
        theirs=right,
        pairs=pairing.none(),
        sure=np.zeros(0, dtype=np.bool_),
        left=dict(enumerate(left.quantity.tolist())),
        right=dict(enumerate(right.quantity.tolist())),
        reversals=reversals,
        limits=limits,
    )
    entries = np.flatnonzero(~course.reversing())
    pairing.learn(Readings.plain(entries, left.quantity[entries]), column(list(course.right)), window)
    pairing.forbidden = _pinned(course, pins) if pins else frozenset()
    _equal(course, pairing, window)
    _settle_reversals(course)
    _split(course, pairing, window)
    _deviate(course, pairing, window)
    course.limits.extend(pairing.limits)
    return course


def _reversals(journal: Sequence[Movement]) -> dict[int, tuple[int, ...]]:
    reversing = [(each.entry, place, each.reverses) for place, each in enumerate(journal) if each.reverses is not None]
    at = {movement.entry: place for place, movement in enumerate(journal)} if reversing else {}
    found: dict[int, list[int]] = {}
    for _, place, reverses in sorted(reversing):
        if reverses in at:
            found.setdefault(at[reverses], []).append(place)
    return {place: tuple(places) for place, places in found.items()}


def _pinned(course: Course, pins: Sequence[Pin]) -> frozenset[tuple[int, int]]:
    """Link what was decided to be one; give the pairs that were decided to be apart."""
    entries = {movement.entry: place for place, movement in enumerate(course.journal)}
    rows = {row.identity: place for row, place in zip(course.shown.rows, course.shown.owner.tolist(), strict=True)}
    forbidden: set[tuple[int, int]] = set()
    for pin in sorted(pins, key=lambda pin: (pin.entries, pin.rows)):
        found = {entries[entry] for entry in pin.entries if entry in entries}
        lefts = sorted(found, key=lambda place: (course.journal[place].reverses is not None, place))
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
    reversing = course.reversing()
    places = column(list(course.left))
    readings = _readings(course, places[~reversing[places]])
    course.pair(pairing.equal(readings, column(list(course.right)), window))
    late = column([place for place in course.left if reversing[place]])
    if len(late):
        readings = Readings.plain(late, course.ours.quantity[late])
        course.pair(pairing.equal(readings, column(list(course.right)), window))


def _readings(course: Course, entries: Ints) -> Readings:
    """Read each entry by its own quantity, and one that was partly reversed by what is left of it, too."""
    cost = np.zeros(len(course.journal), dtype=np.int64)
    partly: list[int] = []
    for place, reversals in course.reversals.items():
        in_part = course.rest(place) > 0 and all(at in course.left for at in reversals)
        cost[place] = _PARTLY_REVERSED_COST if in_part else _REVERSED_COST
        if in_part and place in course.left and course.journal[place].reverses is None:
            partly.append(place)
    rest = column([course.rest(place) for place in partly])
    return Readings(
        place=np.append(entries, column(partly)),
        quantity=np.append(course.ours.quantity[entries], rest),
        cost=np.append(cost[entries], np.zeros_like(rest)),
    )


def _sure(course: Course, pairs: Pairs) -> Bools:
    """Tell which pairs that agree in all but the day stand without asking."""
    told = (pairs.margin >= np.where(pairs.whole, LEAST_LEAD, SURE_MARGIN)) | (pairs.weights.reference > 0)
    one_day = course.ours.day[pairs.left] == course.theirs.day[pairs.right]
    common = one_day & (pairs.weights.note >= AGAINST)
    sure: Bools = told & (common | (pairs.total >= LEAST_SURE))
    return sure


def _take(
    course: Course, pairs: Pairs, at: int, absorbed: tuple[int, ...], deviation: DifferenceKind | None = None
) -> None:
    left, right, pair = int(pairs.left[at]), int(pairs.right[at]), pairs.at(column([at]))
    sure = deviation is None and bool(_sure(course, pair)[0])
    course.link(
        Link(
            lefts=(left, *absorbed),
            rights=(right,),
            status=Status.MATCHED if sure else Status.SUGGESTED,
            score=int(pairs.total[at]),
            parts=reasons(pair.bits()[0], int(pair.weights.note_level[0]), course.days_apart(left, right)),
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


def _split(course: Course, pairing: Pairing, window: int) -> None:
    """Stage 4: first one entry shown as several rows, then one row for several entries."""
    ours, theirs, forbidden = (pairing.left, course.left), (pairing.right, course.right), pairing.forbidden
    for found in splits(ours, theirs, pairing.notes, window, forbidden):
        _take_split(course, (found.whole,), found.parts, found)
    turned = frozenset((right, left) for left, right in forbidden)
    for found in splits(theirs, ours, pairing.notes, window, turned):
        _take_split(course, found.parts, (found.whole,), found)


def _take_split(course: Course, lefts: tuple[int, ...], rights: tuple[int, ...], found: Split) -> None:
    everything = tuple(at for place in lefts for at in course.absorbed(place))
    course.link(Link(lefts=everything, rights=rights, status=Status.SUGGESTED, score=found.score, parts=found.reasons))


def _deviate(course: Course, pairing: Pairing, window: int) -> None:
    """Stage 5."""
    readings = Readings.plain(column(list(course.left)), column(list(course.left.values())))
    pairs = pairing.deviating(readings, column(list(course.right)), window)
    for at in np.flatnonzero(pairs.margin >= DEVIATION_MARGIN).tolist():
        left, right = int(pairs.left[at]), int(pairs.right[at])
        _take(course, pairs, at, course.absorbed(left)[1:], _deviation(course, left, right))


def _deviation(course: Course, left: int, right: int) -> DifferenceKind:
    ours = course.ours.giver[left], course.ours.receiver[left]
    theirs = course.theirs.giver[right], course.theirs.receiver[right]
    if ours == theirs:
        return DifferenceKind.QUANTITY
    return DifferenceKind.DIRECTION if ours == theirs[::-1] else DifferenceKind.COUNTERPARTY
