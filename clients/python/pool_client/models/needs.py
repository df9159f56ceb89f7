"""What coming months need: forecast, stated by hand, and how long what is at hand lasts."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedNeed:
    """What was stated by hand of the need of a whole month."""

    quantity: int
    reason: str
    version: int
    written_at: datetime
    written_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Need(StatedNeed):
    """A member's need of a month, as it was stated."""

    member: str
    month: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedVersion:
    """What was said of a need; quantity None where it was withdrawn."""

    member: str
    month: str
    reason: str
    version: int
    written_at: datetime
    written_by: str
    quantity: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthNeed:
    """forecast is of the whole month, None without history; stated counts in its place; need is what is to come."""

    month: str
    need: int
    forecast: Decimal | None = None
    stated: StatedNeed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """How far off forecasts of one month ahead were, over so many months held back, in credits: the mean absolute
    error, beside that of the month before and of the mean of up to twelve. scaled below 1 is better than the month
    before was in all months earlier than those."""

    months: int
    used: Decimal
    error: Decimal
    error_of_last_month: Decimal
    error_of_mean: Decimal
    scaled: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """For so many days, today included, what is at hand is enough; runs_dry_on None where that is as far as was looked.
    short: they are fewer than lead and review time."""

    at_hand: int
    days: int
    short: bool
    runs_dry_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberNeeds:
    """A member's coming months. doubts are no_history, little_history and mean_did_better."""

    member: str
    history_months: int
    used_this_month: int
    months: tuple[MonthNeed, ...]
    doubts: tuple[str, ...]
    cover: Cover | None = None
    accuracy: Accuracy | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """What all members need in a month, from today on."""

    month: str
    need: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonIndex:
    """What a month of the year, 1 for January, takes of a usual month."""

    month_of_year: int
    index: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingNeeds:
    """What coming months need. stock is the cover if all were drawn from it, pool that of the stock and all that
    members hold; season is empty while there are too few months; spread is the variance of a month's need over its
    mean."""

    today: date
    number: int
    level: Decimal
    lead_days: int
    review_days: int
    season: tuple[SeasonIndex, ...]
    months: tuple[Needed, ...]
    stock: Cover
    pool: Cover
    members: tuple[MemberNeeds, ...]
    cautions: tuple[str, ...]
    spread: Decimal | None = None
    accuracy: Accuracy | None = None
