"""What becomes of rows on file that a later file shows otherwise, or no longer, although it shows their day as a whole.

Nothing on file is removed or changed. What a file says of such rows is added as words, which name the import: a row is
gone, has become another row of its day, or is back. Words are read in the order of the imports, so the vendor's later
word is the one that was imported last; a file that was imported before says nothing new.

Which row counts follows from the words (an own rule, decision 42): a row counts until a keeper takes the vendor's later
word, and the row that it became waits as long. Where only note or running balance are different, nothing moved
otherwise, and the later row takes the place of the earlier one at once: one row that the vendor mends moves all
balances after it.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from operator import attrgetter

from pool_api.domain.record import Arrival, VendorRow

FIELDS = ("kind", "giver", "receiver", "quantity", "note", "reference", "balance", "amount")
"""In what two rows of one account and day can be different."""

_moved = attrgetter("kind", "giver", "receiver", "quantity", "reference", "amount")
"""What has to be the same in both so that nobody has to be asked: all but note and balance."""


class Says(StrEnum):
    """What a file says of a row on file."""

    GONE = "gone"
    CHANGED = "changed"
    BACK = "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """What an import says of a row, by their names; became is the row that it has become."""

    import_id: str
    row: str
    says: Says
    became: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A row on file and what a file says of it; later is the row that it has become, None when there is none."""

    earlier: VendorRow
    says: Says
    later: VendorRow | None = None

    @property
    def fields(self) -> tuple[str, ...]:
        """The names of what is different, none without a later row."""
        return () if self.later is None else differing(self.earlier, self.later)

    @property
    def place(self) -> str:
        """Where it stands in the order of an import's changes: the row's day and name."""
        return f"{self.earlier.day.isoformat()}:{self.earlier.identity}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """A row that counts, the vendor's later word on it, and the import that brought it; nobody has taken it yet."""

    earlier: VendorRow
    later: VendorRow | None
    import_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Which rows don't count, and which of those that do have a later word, in order of day and name. instead gives, by
    its name, the row that counts in place of one that moved the same."""

    left_out: frozenset[str] = frozenset()
    open: tuple[Revision, ...] = ()
    instead: Mapping[str, str] = field(default_factory=dict)


def gone(words: Iterable[Word]) -> frozenset[str]:
    """Give the rows that the words, any order, say last are gone or have become others."""
    last = {word.row: word.says for word in sorted(words, key=lambda word: word.import_id)}
    return frozenset(row for row, says in last.items() if says is not Says.BACK)


def differing(earlier: VendorRow, later: VendorRow) -> tuple[str, ...]:
    """Name what two rows differ in."""
    return tuple(name for name in FIELDS if getattr(earlier, name) != getattr(later, name))


# --- what a file says ------------------------------------------------------------------------------------------------


def changes(arrival: Arrival, hidden: Collection[str]) -> tuple[Change, ...]:
    """Tell what a file says of rows on file.

    Takes:   hidden — the rows that are gone by the words up to now.
    Gives:   one for each row that isn't shown now and was before, and for each that is shown again, by day and name."""
    unseen = [row for row in arrival.vanished if row.identity not in hidden]
    back = [row for row in arrival.known if row.identity in hidden]
    became = dict(_paired(unseen, [*arrival.new, *back]))
    found = [
        Change(earlier=row, says=Says.CHANGED, later=became[row.identity])
        if row.identity in became
        else Change(earlier=row, says=Says.GONE)
        for row in unseen
    ]
    found += [Change(earlier=row, says=Says.BACK) for row in back]
    return tuple(sorted(found, key=lambda each: (each.earlier.day, each.earlier.identity)))


_STAGES: tuple[tuple[frozenset[str], bool], ...] = (
    (frozenset(), False),
    (frozenset({"note"}), False),
    (frozenset({"reference"}), False),
    (frozenset({"amount"}), False),
    (frozenset({"quantity", "amount"}), False),
    (frozenset({"other"}), False),
    (frozenset({"kind", "other"}), False),
    (frozenset({"inward"}), False),
    (frozenset({"note", "quantity", "amount"}), True),
    (frozenset({"note", "other"}), True),
    (frozenset({"note", "other", "quantity", "amount"}), True),
)
"""What may be different besides the running balance, from least to most, and whether both rows then have to name one
reference: a row is another's later form when they differ in one thing, and in more only where the reference ties them.
"""


def _paired(earlier: Iterable[VendorRow], later: Iterable[VendorRow]) -> Iterator[tuple[str, VendorRow]]:
    """Pair rows of one account and day that differ in little, the most alike first, equals in file order."""
    left, right = sorted(earlier, key=_in_file), sorted(later, key=_in_file)
    for free, tied in _STAGES:
        waiting: defaultdict[tuple[object, ...], list[VendorRow]] = defaultdict(list)
        for row in reversed(right):
            if row.reference or not tied:
                waiting[_sight(row, free)].append(row)
        taken: dict[str, VendorRow] = {}
        for row in left:
            alike = waiting.get(_sight(row, free)) if row.reference or not tied else None
            if alike:
                taken[row.identity] = alike.pop()
        yield from taken.items()
        used = {row.identity for row in taken.values()}
        left = [row for row in left if row.identity not in taken]
        right = [row for row in right if row.identity not in used]


def _in_file(row: VendorRow) -> tuple[object, ...]:
    return row.day, row.line, row.content, row.occurrence


def _sight(row: VendorRow, free: frozenset[str]) -> tuple[object, ...]:
    """Give what a row says apart from its balance and what may be different."""
    inward = row.receiver == row.account
    said = {
        "inward": inward,
        "other": row.giver if inward else row.receiver,
        "kind": row.kind,
        "quantity": row.quantity,
        "note": row.note,
        "reference": row.reference,
        "amount": row.amount,
    }
    return row.day, *(None if name in free else value for name, value in said.items())


# --- what counts -----------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Place:
    """One movement in the record: the row that counts for it, and the last word on it."""

    counted: str | None
    latest: str | None
    import_id: str = ""


class _Places:
    """The places of which words speak, told by the row that counts, by the last word, and by words before the last."""

    def __init__(self, rows: Mapping[str, VendorRow], withdrawn: Collection[tuple[str, str]]) -> None:
        self._rows, self._withdrawn = rows, withdrawn
        self._by_latest: dict[str, _Place] = {}
        self._by_counted: dict[str, _Place] = {}
        self._before: dict[str, _Place] = {}

    def hear(self, word: Word) -> None:
        """Take a word."""
        if word.says is Says.BACK:
            self._back(word)
        else:
            place = self._by_latest.get(word.row) or self._new(word.row)
            self._before[word.row] = place
            self._move(place, word.became, word.import_id)

    def counting(self) -> Collection[_Place]:
        """Give the places at which a row counts."""
        return self._by_counted.values()

    def instead(self) -> Iterator[tuple[str, str]]:
        """Give rows that don't count, each with the one that counts in its place and moves the same."""
        for row, place in self._before.items():
            counted = place.counted
            if counted and row not in self._by_counted and _moved(self._rows[row]) == _moved(self._rows[counted]):
                yield row, counted

    def _back(self, word: Word) -> None:
        """Let a row be shown again, unless it is the last word of a place already. What it had become, if that is
        shown too, stands beside it from now on."""
        if word.row in self._by_latest:
            return
        place = self._before.get(word.row)
        if place is not None and place.latest is None:
            self._move(place, word.row, word.import_id)
        elif place is not None and place.counted == word.row:
            beside = place.latest
            self._move(place, word.row, word.import_id)
            if beside is not None:
                self._new(beside)
        else:
            self._new(word.row)

    def _new(self, row: str) -> _Place:
        place = _Place(counted=row, latest=row)
        self._by_counted[row] = self._by_latest[row] = place
        return place

    def _move(self, place: _Place, latest: str | None, import_id: str) -> None:
        """Let another row, or none, be the last word, and let it count where nobody has to be asked."""
        self._by_latest.pop(place.latest or "", None)
        place.latest, place.import_id = latest, import_id
        if latest is not None:
            self._by_latest[latest] = place
        if self._is_taken(place):
            self._by_counted.pop(place.counted or "", None)
            place.counted = latest
            if latest is not None:
                self._by_counted[latest] = place

    def _is_taken(self, place: _Place) -> bool:
        if place.counted is None or (place.counted, place.import_id) in self._withdrawn:
            return True
        return place.latest is not None and _moved(self._rows[place.counted]) == _moved(self._rows[place.latest])


def standing(words: Iterable[Word], rows: Mapping[str, VendorRow], withdrawn: Collection[tuple[str, str]]) -> Standing:
    """Tell which rows count by all that files said of them.

    Takes:   words — any order; rows — by name, all that the words speak of; withdrawn — rows that a keeper withdrew,
             each with the import whose word was taken.
    Source:  own rule, decision 42."""
    places = _Places(rows, withdrawn)
    spoken: set[str] = set()
    for word in sorted(words, key=lambda word: (word.import_id, word.says is Says.BACK, word.row)):
        places.hear(word)
        spoken |= {word.row} | ({word.became} if word.became else set())
    counting = places.counting()
    open_ = [
        Revision(
            earlier=rows[place.counted],
            later=None if place.latest is None else rows[place.latest],
            import_id=place.import_id,
        )
        for place in counting
        if place.counted is not None and place.counted != place.latest
    ]
    return Standing(
        left_out=frozenset(spoken - {place.counted for place in counting}),
        open=tuple(sorted(open_, key=lambda each: (each.earlier.day, each.earlier.identity))),
        instead=dict(places.instead()),
    )
