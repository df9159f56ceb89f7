"""The vendor's record: column profiles, imports, rows, and its comparison with the journal."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from pool_client.models.entries import SignedAccount
from pool_client.models.mending import Act


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnProfile:
    """Which column of the vendor's exports, by its header word, says what."""

    name: str
    day: str
    record: str = "history"
    kind: str | None = None
    giver: str | None = None
    receiver: str | None = None
    counterparty: str | None = None
    quantity: str | None = None
    incoming: str | None = None
    outgoing: str | None = None
    note: str | None = None
    reference: str | None = None
    balance: str | None = None
    amount: str | None = None
    kind_words: Mapping[str, str] = field(default_factory=dict)
    day_style: str = "iso"
    decimal: str = "."
    thousands: str = ""
    signed: bool = True
    encoding: str | None = None
    zone: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetAside:
    """A row of the file that is not taken, with its line, the column if one is to blame, and why."""

    line: int
    reason: str
    cells: tuple[str, ...]
    column: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A guess at a file's columns, the doubts about it, the file's first rows, and what stands above its header."""

    columns: Mapping[str, str]
    doubts: tuple[str, ...]
    form: str
    other_sheets: tuple[str, ...]
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    skipped: tuple[SetAside, ...]
    profile: ColumnProfile | None = None
    encoding: str | None = None
    separator: str | None = None
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of the vendor's record; account is whose record it is."""

    identity: str
    account: str
    day: date
    kind: str
    quantity: int
    note: str
    line: int
    giver: str | None = None
    receiver: str | None = None
    reference: str | None = None
    balance: int | None = None
    amount: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Import:
    """One file that was read."""

    import_id: str
    account: str
    profile: str
    file_digest: str
    imported_at: datetime
    imported_by: str
    rows_new: int
    rows_known: int
    rows_changed: int
    rows_vanished: int
    rows_back: int
    set_aside: tuple[SetAside, ...]
    first_day: date | None = None
    last_day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What a file says of a row on file: gone, changed into a later row, or back; fields names what is different."""

    says: str
    earlier: Row
    fields: tuple[str, ...]
    later: Row | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportMade(Import):
    """One file just read: what it leaves out on purpose, the first of the rows on file that it says something of, and
    the import that it is a copy of."""

    skipped: tuple[SetAside, ...]
    changes: tuple[Change, ...]
    repeats: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScorePart:
    """One reason for or against a match, in thousandths of a bit."""

    name: str
    millibits: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """Entries and rows that are one movement, and why; kept is the act by which they are so whatever else comes."""

    key: str
    status: str
    entries: tuple[int, ...]
    rows: tuple[str, ...]
    day: date
    quantity: int
    days_apart: int
    score: int
    parts: tuple[ScorePart, ...]
    giver: str | None = None
    receiver: str | None = None
    kept: Act | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mend:
    """What could be recorded so that a difference is gone; asks names what has to be added when accepting."""

    kind: str
    fields: Mapping[str, Any]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What was decided on a difference, and the entries that were recorded to mend it."""

    difference: str
    verdict: str
    reason: str
    decided_by: str
    decided_at: datetime
    entries: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Something that journal and record don't agree on; of one that is in a member's hands, handed tells all acts."""

    key: str
    kind: str
    entries: tuple[int, ...]
    rows: tuple[str, ...]
    day: date
    quantity: int
    sentence: str
    giver: str | None = None
    receiver: str | None = None
    mend: Mend | None = None
    decision: Decision | None = None
    handed: tuple[Act, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """opening + bought + came_in - went_out - used + refunded = closing; no opening, no closing."""

    bought: int
    came_in: int
    went_out: int
    used: int
    refunded: int
    opening: int | None = None
    closing: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """Where journal and record part for the first time, with both balances at the end of that day, and the first row of
    the day that the journal doesn't have alike."""

    day: date
    journal_balance: int
    record_balance: int
    keys: tuple[str, ...]
    row: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Journal and record of one vendor account side by side; stated is the record's last running balance, residual what
    it has beyond the record's rows."""

    account: str
    first_day: date
    last_day: date
    journal: Sums
    record: Sums
    balanced: bool
    member: str | None = None
    stated: int | None = None
    residual: int | None = None
    parting: Parting | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Days, both ends included, on which an account was a member's and of which no file shows anything."""

    account: str
    member: str
    first_day: date
    last_day: date
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """The entry that signed a month off, with what each vendor account held then; changed says that the month is
    another by now."""

    entry: int
    digest: str
    signed_by: str
    signed_at: datetime
    accepted_open: bool
    changed: bool
    accounts: tuple[SignedAccount, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciliation:
    """A month's journal against the vendor's record. suggested counts the matches that wait for a word; broken are
    those that were kept and whose entries or rows aren't there any more. A sign-off states the digest."""

    month: str
    digest: str
    matches: tuple[Match, ...]
    differences: tuple[Difference, ...]
    undecided: int
    suggested: int
    broken: tuple[Act, ...]
    proof: tuple[Proof, ...]
    gaps: tuple[Gap, ...]
    rows: tuple[Row, ...]
    limits: tuple[str, ...]
    sign_off: Signed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HandedDifference:
    """A difference in a member's hands, with the rows of the vendor's record that it speaks of."""

    month: str
    member: str
    difference: Difference
    rows: tuple[Row, ...]
