"""What is on file of the vendor's record by day, what imports say of rows on file, and the proof of the balances."""

from dataclasses import dataclass
from datetime import date

from pool_client.models.vendor import Gap, Proof, Row, Sums


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """Days, both ends included."""

    first_day: date
    last_day: date


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRows:
    """A day with rows: how many count, and the imports that show the day."""

    day: date
    rows: int
    imports: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountCoverage:
    """What is on file of an account; last_day is the last day on file at all."""

    account: str
    member: str
    rows: int
    spans: tuple[Days, ...]
    gaps: tuple[Gap, ...]
    days: tuple[DayRows, ...]
    last_day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """Which days of the vendor's record are on file, by account."""

    first_day: date
    last_day: date
    accounts: tuple[AccountCoverage, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Credits by which one finding makes the record differ from the journal; kind is that of the difference, match, or
    cancelled."""

    day: date
    credits: int
    kind: str
    key: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A day on which the record's own running balances don't follow, and what the rows that it lacks have moved."""

    day: date
    missing: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProof:
    """Journal and record of an account on a day; apart is what the record has at its end beyond the journal."""

    day: date
    journal: Sums
    record: Sums
    apart: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountProof(Proof):
    """The proof of an account: journal closing + opened_apart + all steps = record closing; residual is what the
    record's last running balance has beyond that."""

    steps: tuple[Step, ...]
    breaks: tuple[Break, ...]
    days: tuple[DayProof, ...]
    opened_apart: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthProof:
    """The proof of a month; rows are those at which journal and record part."""

    month: str
    accounts: tuple[AccountProof, ...]
    rows: tuple[Row, ...]
