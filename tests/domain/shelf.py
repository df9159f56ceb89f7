"""Files of one account's record, and a record on file in memory: what imports do to it, without a database."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from pool_api.domain.record import MovementKind, Reading, RowFacts, VendorRow, compare, numbered, whole_days
from pool_api.domain.revisions import Change, Revision, Standing, Word, changes, gone, standing

FIRST = date(2026, 10, 1)
ALDER = "alder"


def used(day: int, quantity: int, note: str = "", **more: str | int) -> RowFacts:
    """Say that alder used credits on a day, counted from the first."""
    said = {"reference": None, "balance": None, "amount": None, **more}
    return RowFacts(
        account=ALDER,
        day=FIRST + timedelta(days=day),
        kind=MovementKind.USE,
        giver=ALDER,
        receiver=None,
        quantity=quantity,
        note=note,
        **said,  # type: ignore[arg-type]
    )


def sent(day: int, quantity: int, receiver: str, note: str = "", reference: str | None = None) -> RowFacts:
    """Say that alder sent credits to an account."""
    row = used(day, quantity, note)
    return replace(row, kind=MovementKind.TRANSFER, receiver=receiver, reference=reference)


def running(facts: Iterable[RowFacts], opening: int = 1_000) -> list[RowFacts]:
    """Give the rows with the balance after each."""
    rows = []
    for each in facts:
        opening += each.signed
        rows.append(replace(each, balance=opening))
    return rows


def file_of(facts: Iterable[RowFacts]) -> Reading:
    """Make the reading of a file that shows these rows in this order."""
    rows = numbered(enumerate(facts, start=2))
    days = [each.day for each in rows]
    return Reading(
        account=ALDER,
        rows=rows,
        set_aside=(),
        skipped=(),
        first_day=min(days, default=None),
        last_day=max(days, default=None),
    )


@dataclass
class Shelf:
    """A record on file. Files are said to cover days, counted from the first; a copy of one says nothing new."""

    rows: dict[str, VendorRow] = field(default_factory=dict)
    words: list[Word] = field(default_factory=list)
    withdrawn: set[tuple[str, str]] = field(default_factory=set)
    seen: set[object] = field(default_factory=set)
    imports: int = 0

    def take(self, facts: Iterable[RowFacts], first: int = 0, last: int = 30) -> tuple[Change, ...]:
        """Import a file and give what it says of rows on file."""
        reading, self.imports = file_of(facts), self.imports + 1
        whole = whole_days(reading, FIRST + timedelta(days=first), FIRST + timedelta(days=last))
        arrival = compare(list(self.rows.values()), reading, whole)
        self.rows |= {row.identity: row for row in arrival.new}
        content = reading.rows, first, last
        said = () if content in self.seen else changes(arrival, gone(self.words))
        self.seen.add(content)
        self.words += [
            Word(
                import_id=f"{self.imports:08d}",
                row=each.earlier.identity,
                says=each.says,
                became=each.later.identity if each.later else None,
            )
            for each in said
        ]
        return said

    @property
    def standing(self) -> Standing:
        """How the rows stand."""
        return standing(self.words, self.rows, self.withdrawn)

    def accept(self, *revisions: Revision) -> None:
        """Take the vendor's later word on rows, on all that have one unless some are named."""
        for each in revisions or self.standing.open:
            self.withdrawn.add((each.earlier.identity, each.import_id))

    def counting(self) -> Counter[tuple[object, ...]]:
        """Give what the rows that count say, and how often."""
        return said_by(row for name, row in self.rows.items() if name not in self.standing.left_out)


def said_by(facts: Iterable[RowFacts]) -> Counter[tuple[object, ...]]:
    """Give what rows say, and how often."""
    return Counter((e.day, e.kind, e.giver, e.receiver, e.quantity, e.note, e.reference, e.balance) for e in facts)
