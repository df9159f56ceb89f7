"""What coming months need, member by member, and how long what is at hand lasts: forecasts, and people's own word.

The present month counts with its days from today on. A need that is stated by hand is that of the whole month, and what
was used of it by now is taken off. Needs are whole credits; what is expected is in thousandths of a credit.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

from pool_api.domain.needs.cover import lasts
from pool_api.domain.needs.forecast import WHOLE, Forecast
from pool_api.domain.needs.measuring import Accuracy, Measured
from pool_api.domain.pool import Member
from pool_api.domain.values import Month, apportion, half_up

COVER_MONTHS = 14
"""How far ahead covers look at the least: more than a year of whole days, so that every notice lies within."""

ASSUMED_SPREAD = 3 * WHOLE
"""The variance of a month's need over its mean until two months tell it: a guess, on the side of warning too early."""


class Doubt(StrEnum):
    """What speaks against a member's forecast."""

    NO_HISTORY = "no_history"
    LITTLE_HISTORY = "little_history"
    MEAN_DID_BETTER = "mean_did_better"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """A member as it stands: what it holds, what it used of the present month so far, and how many full months of it
    are known."""

    member: Member
    held: int
    used: int
    history: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """When to warn: credits are to last for `days` with a certainty of `level` thousandths."""

    level: int
    days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """The pool as it stands on a day: shops in order of code; stated are needs by hand, by member and month."""

    today: date
    stock: int
    shops: tuple[Shop, ...]
    stated: Mapping[tuple[str, Month], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthNeed:
    """A month of a member: what the whole of it was expected to take, None without history; what was stated by hand;
    what is expected to come, in thousandths, and the same in whole credits."""

    month: Month
    forecast: int | None
    stated: int | None
    expected: int
    need: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What is at hand is enough for so many days from today on, today included, and runs dry on a day; runs_dry_on None
    where it lasts as far as was looked. short: it doesn't last for the notice."""

    at_hand: int
    days: int
    runs_dry_on: date | None
    short: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberComing:
    """A member's coming months. history is how many full months its forecast rests on; cover None where nothing says
    what it will need."""

    member: str
    history: int
    used: int
    accuracy: Accuracy | None
    doubts: tuple[Doubt, ...]
    months: tuple[MonthNeed, ...]
    cover: Cover | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Coming:
    """All members in order of code; needs are those of all by month; stock is the cover if everything were drawn from
    it, pool that of the stock and all that members hold together."""

    months: tuple[Month, ...]
    members: tuple[MemberComing, ...]
    needs: tuple[int, ...]
    stock: Cover
    pool: Cover


def coming(known: Forecast, off: Measured, now: Now, months: int, notice: Notice) -> Coming:
    """Give what the present month and those after it need, `months` of them, and the covers.

    Gives:   needs of a month that nobody stated add up to what all of them together are expected to take, half up.
    Refuses: nothing."""
    ahead = _ahead(Month.of(now.today), max(months, COVER_MONTHS))
    by_month = [_needs(known, now, month) for month in ahead]
    covers = _Covers(now, ahead, known.spread or ASSUMED_SPREAD, notice)
    members = tuple(
        MemberComing(
            member=shop.member.code,
            history=shop.history,
            used=shop.used,
            accuracy=off.members.get(shop.member.code),
            doubts=tuple(_doubts(shop.history, off.members.get(shop.member.code))),
            months=tuple(needs[at] for needs in by_month[:months]),
            cover=covers.of(shop.held, [needs[at].expected for needs in by_month])
            if any(needs[at].forecast is not None or needs[at].stated is not None for needs in by_month)
            else None,
        )
        for at, shop in enumerate(now.shops)
    )
    totals = [sum(each.expected for each in needs) for needs in by_month]
    return Coming(
        months=ahead[:months],
        members=members,
        needs=tuple(sum(each.need for each in needs) for needs in by_month[:months]),
        stock=covers.of(now.stock, totals),
        pool=covers.of(now.stock + sum(shop.held for shop in now.shops), totals),
    )


def _ahead(first: Month, count: int) -> tuple[Month, ...]:
    found = [first]
    while len(found) < count:
        found.append(found[-1].next())
    return tuple(found)


def _needs(known: Forecast, now: Now, month: Month) -> list[MonthNeed]:
    """Give what each shop needs in a month. Whole credits are apportioned among those whose need is a forecast: rounded
    one by one, the many that need a credit now and then would need none at all."""
    found: list[tuple[int | None, int | None, int]] = []
    first, last = max(month.first, now.today), month.last
    length, is_present = last.day, month == Month.of(now.today)
    for shop in now.shops:
        stated = now.stated.get((shop.member.code, month))
        there = _days_in(shop.member, first, last)
        whole = known.expected(shop.member.code, month) if there else None
        used = shop.used if is_present else 0
        to_come = half_up(Fraction((whole or 0) * there, length)) if stated is None else WHOLE * max(stated - used, 0)
        found.append((whole, stated, to_come))
    weights = [0 if stated is not None else to_come for _, stated, to_come in found]
    shared = apportion(half_up(Fraction(sum(weights), WHOLE)), weights)
    return [
        MonthNeed(
            month=month,
            forecast=whole,
            stated=stated,
            expected=to_come,
            need=share if stated is None else to_come // WHOLE,
        )
        for (whole, stated, to_come), share in zip(found, shared, strict=True)
    ]


def _days_in(member: Member, first: date, last: date) -> int:
    """Give on how many of some days a member is in the pool."""
    begins = max(first, member.joined_on)
    ends = last if member.left_on is None else min(last, member.left_on)
    return max((ends - begins).days + 1, 0)


def _doubts(months: int, accuracy: Accuracy | None) -> Iterator[Doubt]:
    if not months:
        yield Doubt.NO_HISTORY
    elif accuracy is None:
        yield Doubt.LITTLE_HISTORY
    elif accuracy.error > accuracy.error_of_mean:
        yield Doubt.MEAN_DID_BETTER


class _Covers:
    """Covers over the days from today to the end of some months, each month's need spread evenly over its days."""

    def __init__(self, now: Now, ahead: Sequence[Month], spread: int, notice: Notice) -> None:
        self._today, self._spread, self._notice = now.today, spread, notice
        firsts = [max(month.first, now.today) for month in ahead]
        self._lengths = [(month.last - first).days + 1 for month, first in zip(ahead, firsts, strict=True)]

    def of(self, at_hand: int, expected: Sequence[int]) -> Cover:
        """Give the cover of what is at hand, with what is expected by month, in thousandths."""
        horizon = sum(self._lengths)

        def taken(days: int) -> Fraction:
            whole, left = 0, days
            for length, each in zip(self._lengths, expected, strict=True):
                if left <= length:
                    return Fraction(whole * length + each * left, WHOLE * length)
                whole, left = whole + each, left - length
            raise ValueError(f"{days} days are more than were looked ahead")

        days = lasts(at_hand, taken, horizon, spread=self._spread, level=self._notice.level)
        ends = days < horizon
        return Cover(
            at_hand=at_hand,
            days=days,
            runs_dry_on=self._today + timedelta(days=days) if ends else None,
            short=ends and days < self._notice.days,
        )
