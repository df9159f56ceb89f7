"""What a row of the vendor's record says, and when two rows are the same row; nobody else knows the latter.

Rows carry no identifier of the vendor's. A row is known by its content (the account whose record it is and all that was
read) and by its occurrence among rows of equal content, counted in file order. A record on file is the set of these
pairs, so files join by the largest multiplicity: in any order, any number of times, with the same result (a join
semilattice; Shapiro, Preguiça, Baquero and Zawirski, "Conflict-free Replicated Data Types", 2011, from memory). The
promise holds when a file shows all rows of each day that it covers, its first and last day apart.

Files, columns and styles are read in pool_api.intake; what becomes of rows that a later file shows otherwise is said
in revisions, what the rows mean for the book in matching.
"""

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from pool_api.domain.entries import digest

_DAY = timedelta(days=1)


class MovementKind(StrEnum):
    """What moved: a transfer between two accounts, or credits that appear (purchase, refund) or are gone (use)."""

    TRANSFER = "transfer"
    PURCHASE = "purchase"
    USE = "use"
    REFUND = "refund"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFacts:
    """What one row of an account's record says.

    The giver is None for purchases and refunds, the receiver for uses. Quantity is whole credits above 0. The balance
    is the account's after the row; the amount is exact decimal text of major units; both only where the vendor shows
    them."""

    account: str
    day: date
    kind: MovementKind
    giver: str | None
    receiver: str | None
    quantity: int
    note: str = ""
    reference: str | None = None
    balance: int | None = None
    amount: str | None = None

    @property
    def signed(self) -> int:
        """The credits that the row adds to its own account, below 0 when it takes them away."""
        return self.quantity if self.receiver == self.account else -self.quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class VendorRow(RowFacts):
    """A row with its identity, the digest of its content and its occurrence from 1, and the line it stood on."""

    content: str
    occurrence: int
    line: int

    @property
    def identity(self) -> str:
        """The row's name, stable over files: content and occurrence."""
        return f"{self.content}:{self.occurrence}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """A row of a file that isn't taken into the record; column is the header's word, None for the row as a whole."""

    line: int
    column: str | None
    reason: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """All that one file says of one account: rows in file order, rows that couldn't be read, and rows left out on
    purpose (totals, words above the header, ignored kinds). The days are those of the rows, None without rows."""

    account: str
    rows: tuple[VendorRow, ...]
    set_aside: tuple[SetAside, ...]
    skipped: tuple[SetAside, ...]
    first_day: date | None
    last_day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """What a reading means for the record on file: rows to add, rows already there, and rows on file that the file
    doesn't show although it shows their day as a whole."""

    new: tuple[VendorRow, ...]
    known: tuple[VendorRow, ...]
    vanished: tuple[VendorRow, ...]


def content_of(facts: RowFacts) -> str:
    """Give the digest of all that a row says, its place in the file apart."""
    return digest(
        [
            facts.account,
            facts.day.isoformat(),
            facts.kind,
            facts.giver,
            facts.receiver,
            facts.quantity,
            facts.note,
            facts.reference,
            facts.balance,
            facts.amount,
        ]
    )


def numbered(found: Iterable[tuple[int, RowFacts]]) -> tuple[VendorRow, ...]:
    """Name the rows of one file, given with their lines in file order: equal rows get occurrences 1, 2, ..."""
    seen: Counter[str] = Counter()
    rows = []
    for line, facts in found:
        content = content_of(facts)
        seen[content] += 1
        rows.append(
            VendorRow(
                account=facts.account,
                day=facts.day,
                kind=facts.kind,
                giver=facts.giver,
                receiver=facts.receiver,
                quantity=facts.quantity,
                note=facts.note,
                reference=facts.reference,
                balance=facts.balance,
                amount=facts.amount,
                content=content,
                occurrence=seen[content],
                line=line,
            )
        )
    return tuple(rows)


def whole_days(reading: Reading, first: date | None, last: date | None) -> tuple[date, date] | None:
    """Give the first and the last day of which a file shows all rows, None for a file that shows no day as a whole.

    Takes:   first, last — the days that the export is said to cover, None where nothing is said: the file may then
             begin and end in the middle of the day of its first and its last row.
    Source:  own rule."""
    begins = first or (reading.first_day and reading.first_day + _DAY)
    ends = last or (reading.last_day and reading.last_day - _DAY)
    if begins is None or ends is None or begins > ends:
        return None
    return begins, ends


def compare(on_file: Collection[VendorRow], reading: Reading, whole: tuple[date, date] | None) -> Arrival:
    """Tell what a reading adds to the rows on file of the same account.

    Takes:   on_file — those of the days of the reading and of whole at least; whole — see whole_days.
    Gives:   new and known in file order; vanished by day, then content.
    Source:  own rule."""
    there = {row.identity for row in on_file}
    read = {row.identity for row in reading.rows}
    vanished = [row for row in on_file if whole and whole[0] <= row.day <= whole[1] and row.identity not in read]
    return Arrival(
        new=tuple(row for row in reading.rows if row.identity not in there),
        known=tuple(row for row in reading.rows if row.identity in there),
        vanished=tuple(sorted(vanished, key=lambda row: (row.day, row.content, row.occurrence))),
    )
