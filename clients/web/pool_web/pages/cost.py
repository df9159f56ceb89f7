"""Cost: what a credit cost each member month by month beside the ladder's prices, what jobs earned, and what ordering
together was worth."""

import calendar
from collections.abc import Awaitable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TypeVar

from pool_client.errors import Missing as NotThere
from pool_client.errors import Misused, Refused
from pool_client.models.buying import PriceLadder
from pool_client.models.catalogue import By
from pool_client.models.directory import Role
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.pages.drawings import drawn
from pool_web.plots import MOST_LINES, Costs, Line, costs_svg
from pool_web.visit import Visit, listed, page, together

_BACK = 11
"""Months before the present one that are looked at, unless the address asks otherwise."""
T = TypeVar("T")

_BY = (By.ITEM, By.MEMBER, By.VEHICLE_CLASS, By.MONTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Unit costs by month, the members with most credits first."""

    months: tuple[str, ...]
    members: tuple[Line, ...]
    pool: Line
    cheapest: Line
    dearest: Line


async def show(visit: Visit) -> Response:
    """Show costs, earnings and savings."""
    told, asked = await _told(visit), Form(texts=visit.query, key="")
    months = [each for each in told.months if each]
    first, last = asked["from"] or months[0], asked["to"] or months[-1]
    by = By(asked["by"]) if asked["by"] in _BY else By.ITEM
    (earned, refusal), (saved, why_not) = await together(
        _asked(visit.book.earnings(from_month=first, to_month=last, by=by)),
        _asked(visit.book.savings(from_month=first, to_month=last)),
    )
    return visit.show(
        "cost.html",
        told=told,
        plot_words=costs_words(told),
        earned=earned,
        saved=None if refusal else saved,
        form=Form(texts={"from": first, "to": last, "by": by.value}, key=""),
        choices=[each.value for each in _BY],
        refusal=refusal,
        why_not="" if refusal else why_not,
    )


async def plot(visit: Visit) -> Response:
    """Draw unit costs."""
    told = await _told(visit)
    lines = tuple(sorted(told.members[:MOST_LINES], key=lambda each: each.name))
    unit = f"{visit.pool.currency if visit.pool else ''} a credit"
    shown = Costs(
        months=told.months, unit=unit, lines=lines, pool=told.pool, cheapest=told.cheapest, dearest=told.dearest
    )
    return await drawn(visit, lambda look: costs_svg(shown, look))


async def _asked(asked: Awaitable[T]) -> tuple[T | None, str]:
    """Give an answer, or the sentence that says why there is none."""
    try:
        return await asked, ""
    except (Refused, Misused, NotThere) as error:
        return None, error.sentence


async def _told(visit: Visit) -> Told:
    """Give unit costs of up to twelve months: a clerk's of its own member, all others' of every member."""
    own = visit.own
    ladders = listed(visit.book.ladders())
    if own is not None and own.role is Role.CLERK and own.member:
        prices, found = await together(ladders, visit.book.member_cost(member=own.member))
        cost = {each.month: each.blended_unit_cost for each in found.items[-_BACK - 1 :]} or {_present(visit): None}
        line = Line(name=own.member, values=tuple(each.shown if each else None for each in cost.values()))
        return _beside(prices, tuple(cost), (line,), (None,) * len(cost))
    prices, report = await together(ladders, visit.book.report(month=_present(visit)))
    months = tuple(each.month for each in report.costs)
    by_month = [{each.member: each for each in month.members} for month in report.costs]
    credits = {
        code: sum(month[code].available for month in by_month if code in month)
        for code in sorted({code for month in by_month for code in month})
    }
    members = tuple(
        Line(name=code, values=tuple(m[code].blended_unit_cost.shown if code in m else None for m in by_month))
        for code in sorted(credits, key=lambda code: -credits[code])
    )
    return _beside(
        prices, months, members, tuple(each.pool_price.shown if each.pool_price else None for each in report.costs)
    )


def _present(visit: Visit) -> str:
    return f"{visit.today:%Y-%m}"


def _beside(
    ladders: Sequence[PriceLadder], months: tuple[str, ...], members: tuple[Line, ...], pool: tuple[Decimal | None, ...]
) -> Told:
    """Put the ladder's prices beside what credits cost: of each month, those that count on its last day."""
    prices = [_prices(ladders, month) for month in months]
    return Told(
        months=months,
        members=members,
        pool=Line(name="pool price", values=pool),
        cheapest=Line(name="cheapest of the ladder", values=tuple(min(each, default=None) for each in prices)),
        dearest=Line(name="dearest of the ladder", values=tuple(max(each, default=None) for each in prices)),
    )


def _prices(ladders: Sequence[PriceLadder], month: str) -> list[Decimal]:
    year, number = int(month[:4]), int(month[5:])
    last = date(year, number, calendar.monthrange(year, number)[1])
    valid = [each for each in ladders if each.valid_from <= last]
    return [tier.unit_price for tier in max(valid, key=lambda each: each.valid_from).tiers] if valid else []


def costs_words(told: Told) -> str:
    """Say what the plot of costs shows."""
    span = told.months[0] if len(told.months) == 1 else f"{told.months[0]} to {told.months[-1]}"
    latest = [(each.values[-1], each.name) for each in told.members]
    priced = sorted((value, name) for value, name in latest if value is not None)
    said = f"What a credit cost by month and member, {span}."
    if priced:
        (low, one), (high, other) = priced[0], priced[-1]
        said += f" In {told.months[-1]} from {low:,} ({one}) to {high:,} ({other})."
    cheapest, dearest = told.cheapest.values[-1], told.dearest.values[-1]
    if cheapest is not None:
        said += f" The ladder goes from {cheapest:,} to {dearest:,}."
    if len(told.members) > MOST_LINES:
        said += f" Of {len(told.members)} members the {MOST_LINES} with most credits are drawn."
    return said


ROUTES = (page("/cost", show), page("/cost/plot.svg", plot))
