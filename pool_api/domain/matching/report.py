"""What a comparison of journal and vendor record takes and what it finds: plain values, nothing computed.

Scores are milli-bits: thousandths of the binary logarithm of a likelihood ratio, whole numbers. Accounts are the
handles at the vendor; which member has one is not known here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from pool_api.domain.record import MovementKind

Coverage = Mapping[str, Sequence[tuple[date, date]]]
"""Of every account of the pool, the spans of days, both ends included, that its record on file shows completely;
none for an account without a record. Any other handle is outside the pool."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What the journal says that the vendor should show for one entry.

    The giver is None for purchases and refunds, the receiver for uses; where credits crossed the pool's border, the
    other side is any text that is no account of the pool. Quantity is the entry's own, reversals apart: a reversal is
    a movement of its own, the other way, that names the entry it reverses."""

    entry: int
    day: date
    kind: MovementKind
    giver: str | None
    receiver: str | None
    quantity: int
    note: str = ""
    reference: str | None = None
    amount: str | None = None
    reverses: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """An earlier decision: these entries and rows are one movement, or, if not together, are never to be matched."""

    entries: tuple[int, ...]
    rows: tuple[str, ...]
    together: bool = True


class Status(StrEnum):
    """Whether a match stands by itself or waits for a person's word."""

    MATCHED = "matched"
    SUGGESTED = "suggested"


class DifferenceKind(StrEnum):
    """In which way journal and record disagree."""

    MISSING_IN_JOURNAL = "missing_in_journal"
    MISSING_AT_VENDOR = "missing_at_vendor"
    QUANTITY = "quantity"
    COUNTERPARTY = "counterparty"
    DIRECTION = "direction"
    DUPLICATE = "duplicate"
    OTHER_MONTH = "date_in_another_month"
    ONE_RECORD_ONLY = "one_record_only"
    AMOUNT = "amount"
    CHANGED_AT_VENDOR = "changed_at_vendor"
    VANISHED_AT_VENDOR = "vanished_at_vendor"


SAID_OF_MATCHES = frozenset(
    {
        DifferenceKind.OTHER_MONTH,
        DifferenceKind.ONE_RECORD_ONLY,
        DifferenceKind.AMOUNT,
        DifferenceKind.CHANGED_AT_VENDOR,
        DifferenceKind.VANISHED_AT_VENDOR,
    }
)
"""Differences in what a match's rows say besides; one record only, changed and vanished can be said of a movement the
journal lacks, too."""


class MendKind(StrEnum):
    """What to record so that a difference is gone. `correct` reverses an entry wholly and records it anew with the
    fields given in place of its own; `withdraw` takes the vendor's later word on a row, without an entry."""

    RECORD_LOAN = "record_loan"
    RECORD_OUTSIDE = "record_outside"
    RECORD_PURCHASE = "record_purchase"
    RECORD_USE = "record_use"
    REVERSE = "reverse"
    CORRECT = "correct"
    WITHDRAW = "withdraw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """A command as plain data. Fields hold handles, entry numbers, quantities, ISO days and texts; asks names what only
    a person can add before it is recorded."""

    kind: MendKind
    fields: dict[str, str | int]
    asks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One reason for or against a match."""

    name: str
    millibits: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """Entries and rows that are one movement. days_apart is the vendor's day minus the journal's, of the first of each;
    rows are identities, a sender's before its receiver's."""

    key: str
    status: Status
    entries: tuple[int, ...]
    rows: tuple[str, ...]
    day: date
    giver: str | None
    receiver: str | None
    quantity: int
    days_apart: int
    score: int
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Something that journal and record don't agree on. The key names what it is about, and stays the same as long as
    that does. Day, giver, receiver and quantity are the record's where it shows the movement, else the journal's.
    withdraws are the rows that accepting takes out of the record, each with the import whose word is taken."""

    key: str
    kind: DifferenceKind
    entries: tuple[int, ...]
    rows: tuple[str, ...]
    day: date
    giver: str | None
    receiver: str | None
    quantity: int
    sentence: str
    mend: Mend | None = None
    parts: tuple[Part, ...] = ()
    withdraws: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """One account over a span of days: opening + bought + came_in - went_out - used + refunded = closing. Without an
    opening, where no running balance says it, there is no closing."""

    opening: int | None
    bought: int = 0
    came_in: int = 0
    went_out: int = 0
    used: int = 0
    refunded: int = 0

    @property
    def change(self) -> int:
        """What the span's movements add to the account."""
        return self.bought + self.came_in - self.went_out - self.used + self.refunded

    @property
    def closing(self) -> int | None:
        """Opening plus change, None without an opening."""
        return None if self.opening is None else self.opening + self.change


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Credits by which one finding makes the record's balance differ from the journal's, from a day on. The key is that
    of the match or difference; None for entries that cancel each other across the span's end."""

    key: str | None
    day: date
    credits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A day on which an account's own running balances don't follow from one another: rows are missing from its record.
    missing is what they moved, None where that can't be told."""

    day: date
    missing: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """Where journal and record part for the first time: both balances at the end of that day, the findings of that day.
    Matched movements count on the vendor's day. The day is the span's first when the openings differ. row is the first
    row of the day, as its running balances order them, that the journal doesn't have alike; None where no row is
    different, because the journal has what the record doesn't show."""

    day: date
    journal_balance: int
    record_balance: int
    keys: tuple[str, ...]
    row: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProof:
    """Journal and record of one account side by side on one day, the day's matched movements counted on the vendor's
    day."""

    day: date
    journal: Sums
    record: Sums

    @property
    def apart(self) -> int | None:
        """What the record has at the day's end beyond the journal, None where the record tells no balance."""
        if self.record.closing is None or self.journal.closing is None:
            return None
        return self.record.closing - self.journal.closing


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountProof:
    """Journal and record of one account side by side over a span that the record covers.

    journal.closing + (record.opening - journal.opening) + all steps = record.closing, where the record has an opening.
    days are those on which something moved. stated is the last running balance of the record, None where its last day
    tells none. Breaks are the record's own; balanced says that there is no step, no break, no residual, and that the
    openings are the same."""

    account: str
    first: date
    last: date
    journal: Sums
    record: Sums
    steps: tuple[Step, ...]
    breaks: tuple[Break, ...]
    parting: Parting | None
    days: tuple[DayProof, ...] = ()
    stated: int | None = None

    @property
    def residual(self) -> int | None:
        """What is left of the record's last running balance when all that is known is taken off: what its rows on file
        don't show. None where the running balances don't reach from one end of the span to the other."""
        if self.stated is None or self.record.closing is None:
            return None
        return self.stated - self.record.closing

    @property
    def balanced(self) -> bool:
        """Whether journal and record agree to the credit, without anything to explain."""
        opened_alike = self.record.opening in {None, self.journal.opening}
        return opened_alike and not self.steps and not self.breaks and not self.residual


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All that came out. Every movement is in exactly one of: a match, a difference that isn't said of a match,
    cancelled, uncovered; every row in a match or in such a difference. Said of matches are the kinds SAID_OF_MATCHES.

    Matches and differences are in order of day, then entry, then key. Cancelled are entries that never reached the
    vendor and were reversed again; uncovered are entries that no record on file could show. Limits says in sentences
    where the search was cut short; broken_pins are decisions whose entries or rows aren't there any more."""

    matches: Sequence[Match] = ()
    differences: tuple[Difference, ...] = ()
    proof: tuple[AccountProof, ...] = ()
    cancelled: tuple[int, ...] = ()
    uncovered: tuple[int, ...] = ()
    broken_pins: tuple[Pin, ...] = ()
    limits: tuple[str, ...] = field(default=())
