"""How needs of coming months are stated and shown on the wire. What is expected is decimal text of credits, with three
decimals; a need is whole credits."""

from decimal import Decimal
from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.needs import Accuracy, Cover, Doubt, MemberComing, MonthNeed
from pool_api.domain.planning import MOST_MONTHS
from pool_api.domain.values import MOST_CREDITS, thousandths_text
from pool_api.rest.wire import (
    CreditCount,
    Day,
    Instant,
    MemberCode,
    MonthText,
    Note,
    WireModel,
    stated,
)
from pool_api.services.needs import Needs
from pool_api.store.needs import NeedVersion

Json = dict[str, Any]

ThousandthsText = Annotated[
    str,
    Field(
        pattern=r"^(0|[1-9][0-9]{0,17})\.[0-9]{3}$",
        max_length=22,
        examples=["12.500"],
        description="Decimal text with three decimals: of credits, or a ratio.",
    ),
]

LEVEL_PATTERN = r"^0\.[5-9][0-9]{0,2}$"


class NeedForm(WireModel):
    """What a member will need in a whole month, and how you know."""

    quantity: Annotated[
        int,
        Field(strict=True, ge=0, le=MOST_CREDITS, examples=[60], description="Whole credits of the whole month."),
    ]
    reason: Annotated[Note, Field(min_length=1, max_length=500, examples=["fleet contract from December"])]


class NeedVersionShown(WireModel):
    """What was said of a need; without a quantity it was withdrawn."""

    member: MemberCode
    month: MonthText
    quantity: CreditCount | None = None
    reason: str
    version: int = Field(ge=1)
    written_at: Instant
    written_by: str


class NeedShown(NeedVersionShown):
    """A need that was stated by hand and counts in place of the forecast."""

    quantity: CreditCount


class StatedShown(WireModel):
    """What was stated by hand of a month's need."""

    quantity: CreditCount
    reason: str
    version: int = Field(ge=1)
    written_at: Instant
    written_by: str


class MonthNeedShown(WireModel):
    """forecast is of the whole month, absent without history; stated counts in its place. need is what is still to come
    of it, in whole credits; in the present month from today on."""

    month: MonthText
    forecast: ThousandthsText | None = None
    stated: StatedShown | None = None
    need: CreditCount


class AccuracyShown(WireModel):
    """How far off forecasts of one month ahead were, over so many months held back: the mean absolute error in credits,
    beside that of the month before and of the mean of up to twelve months before. scaled is the error over that of the
    month before in all months earlier than those (mean absolute scaled error): below 1.000 is better."""

    months: int = Field(ge=1)
    used: ThousandthsText
    error: ThousandthsText
    error_of_last_month: ThousandthsText
    error_of_mean: ThousandthsText
    scaled: ThousandthsText | None = None


class CoverShown(WireModel):
    """So many days, today included, for which what is at hand is enough at the level of certainty; runs_dry_on is the
    day after them, absent where they go as far as was looked. short: they are fewer than lead and review time."""

    at_hand: CreditCount
    days: int = Field(ge=0)
    runs_dry_on: Day | None = None
    short: bool


class MemberNeedsShown(WireModel):
    """A member's coming months. history_months are the full months that the forecast rests on; accuracy is absent where
    they are too few to hold any back, cover where nothing says what it will need."""

    member: MemberCode
    history_months: int = Field(ge=0)
    used_this_month: CreditCount
    months: list[MonthNeedShown]
    cover: CoverShown | None = None
    accuracy: AccuracyShown | None = None
    doubts: list[Doubt]


class NeededShown(WireModel):
    """What all members need in a month, from today on."""

    month: MonthText
    need: CreditCount


class IndexShown(WireModel):
    """What a month of the year (1 is January) takes in this pool, of a usual month."""

    month_of_year: int = Field(ge=1, le=12)
    index: ThousandthsText


class NeedsShown(WireModel):
    """What coming months need, and how long what is at hand lasts. number is the last entry that counts; spread the
    variance of a month's need over its mean; season is empty while the pool has fewer than 24 full months. stock is the
    cover if all were drawn from it, pool that of the stock and all that members hold."""

    today: Day
    number: int = Field(ge=0)
    level: ThousandthsText
    lead_days: int = Field(ge=0)
    review_days: int = Field(ge=0)
    spread: ThousandthsText | None = None
    season: list[IndexShown]
    months: list[NeededShown]
    stock: CoverShown
    pool: CoverShown
    accuracy: AccuracyShown | None = None
    members: list[MemberNeedsShown]
    cautions: list[str]


CAUTIONS = (
    "A forecast continues what was, and knows of no contract or closure to come: state what you know better.",
    "Covers take the days of a month to be alike, and shops to need credits independently of each other.",
)
SPREAD_ASSUMED = "How much needs vary isn't known yet: their variance is taken to be three times their mean."


def level_of(text: str) -> int:
    """Give a level of certainty in thousandths."""
    return int(Decimal(text) * 1000)


def show_need(version: NeedVersion) -> Json:
    """Give a need as it was stated."""
    return stated(
        {
            "member": version.member,
            "month": str(version.month),
            "quantity": version.quantity,
            "reason": version.reason,
            "version": version.version,
            "written_at": version.written_at,
            "written_by": version.written_by,
        }
    )


def show_needs(told: Needs, only: str | None, lead_days: int, review_days: int) -> Json:
    """Give needs, of one member only where that is asked for."""
    found, known, pool = told.found, told.basis.known, told.off.pool
    season = told.season.indices if told.season else ()
    return stated(
        {
            "today": told.basis.today.isoformat(),
            "number": told.basis.book.number,
            "level": thousandths_text(told.notice.level),
            "lead_days": lead_days,
            "review_days": review_days,
            "spread": None if known.spread is None else thousandths_text(known.spread),
            "season": [{"month_of_year": at, "index": thousandths_text(each)} for at, each in enumerate(season, 1)],
            "months": [
                {"month": str(month), "need": need} for month, need in zip(found.months, found.needs, strict=True)
            ],
            "stock": _cover(found.stock),
            "pool": _cover(found.pool),
            "accuracy": None if pool is None else _accuracy(pool),
            "members": [_member(told, each) for each in found.members if only in {None, each.member}],
            "cautions": [*CAUTIONS, *(() if known.spread else (SPREAD_ASSUMED,))],
        }
    )


def _member(told: Needs, each: MemberComing) -> Json:
    return stated(
        {
            "member": each.member,
            "history_months": each.history,
            "used_this_month": each.used,
            "months": [_month(need, told.basis.stated.get((each.member, need.month))) for need in each.months],
            "cover": None if each.cover is None else _cover(each.cover),
            "accuracy": None if each.accuracy is None else _accuracy(each.accuracy),
            "doubts": [*each.doubts],
        }
    )


def _month(need: MonthNeed, by_hand: NeedVersion | None) -> Json:
    shown = None if by_hand is None else show_need(by_hand)
    return stated(
        {
            "month": str(need.month),
            "forecast": None if need.forecast is None else thousandths_text(need.forecast),
            "stated": shown and {name: shown[name] for name in StatedShown.model_fields},
            "need": need.need,
        }
    )


def _cover(cover: Cover) -> Json:
    return stated(
        {
            "at_hand": cover.at_hand,
            "days": cover.days,
            "runs_dry_on": cover.runs_dry_on and cover.runs_dry_on.isoformat(),
            "short": cover.short,
        }
    )


def _accuracy(accuracy: Accuracy) -> Json:
    return stated(
        {
            "months": accuracy.months,
            "used": thousandths_text(accuracy.used),
            "error": thousandths_text(accuracy.error),
            "error_of_last_month": thousandths_text(accuracy.error_of_last),
            "error_of_mean": thousandths_text(accuracy.error_of_mean),
            "scaled": None if accuracy.scaled is None else thousandths_text(accuracy.scaled),
        }
    )


MONTHS_AHEAD = MOST_MONTHS
"""The most months that are shown."""
