"""Why a figure is what it is, and what a month would be under another policy. Both only read: nothing is recorded, and
what is kept of costed months stays as it is. Of each pool the figures of one month are kept, that last asked about."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.comparing import Comparison, Version
from pool_api.domain.errors import NoPaymentPlan
from pool_api.domain.explaining import Explanation, Figures, Listed, MonthFacts, Operand, figures_of
from pool_api.domain.paying import check_pairs
from pool_api.domain.values import Month
from pool_api.services.costs import CostedMonth, costed, costed_otherwise
from pool_api.services.office import Office
from pool_api.store import facts
from pool_api.store.engine import reading

MOST_KEPT = 20_000
"""Entries of a month whose figures are kept; those of larger months are made anew each time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A figure of a month with figures that it comes from, the nearest first; more tells whether others come after
    them."""

    month: CostedMonth
    explanations: list[Explanation]
    more: bool


def explain(
    office: Office, caller: Caller, pool: str, month: Month, figure: str, *, depth: int, after: int, limit: int
) -> Explained:
    """Explain a figure and, so many steps deep, what it comes from; to a clerk what its own statement is made of.

    Takes:   after — how many of them to pass over; limit.
    Refuses: FigureNotFound; NotFound, NotPermitted."""
    own = _side(caller, pool)
    there, figures = _figures(office, pool, month)
    found = [*islice(figures.chain(figure, depth, member=own), after, after + limit + 1)]
    return Explained(month=there, explanations=found[:limit], more=len(found) > limit)


def operands_of(
    office: Office, caller: Caller, pool: str, month: Month, figure: str, *, after: int, limit: int
) -> list[tuple[int, Operand]]:
    """Give the operands of a figure's formula with their places from 1, those after a place.

    Refuses: FigureNotFound; NotFound, NotPermitted."""
    own = _side(caller, pool)
    _, figures = _figures(office, pool, month)
    operands = figures.explain(figure, member=own).operands
    return [*islice(enumerate(operands, start=1), after, after + limit)]


def list_figures(
    office: Office, caller: Caller, pool: str, month: Month, *, under: str | None, after: str | None, limit: int
) -> list[Listed]:
    """Give a month's figures in order of name; a clerk's own only.

    Takes:   under — only the figure of that name, and those whose names go on from it; after — a name; limit.
    Refuses: NotFound, NotPermitted."""
    own = _side(caller, pool)
    _, figures = _figures(office, pool, month)
    names = (
        name
        for name in figures.names(own)
        if (after is None or name > after) and (under is None or f"{name}.".startswith(f"{under}."))
    )
    return [figures.listed(name) for name in islice(names, limit)]


def compare(
    office: Office, caller: Caller, pool: str, month: Month, changed: Mapping[str, Any]
) -> tuple[CostedMonth, Comparison]:
    """Give a month under its policy and under one that differs in some rules; a closed one under the policy that its
    close froze, and open payments left out of it.

    Takes:   changed — rules of a Policy by name.
    Refuses: NoHub, NoPrice, NoSupply and NoPaymentPlan for a policy under which the month couldn't be closed;
             SameMember, UnknownMember; NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_SHEET)
    there, alternative = costed_otherwise(office, pool, month, changed)
    check_pairs(changed.get("no_payments_between", ()), {each.code for each in there.members})
    if alternative.sheet.obstacle is not None:
        raise alternative.sheet.obstacle
    if stuck := alternative.settlement["unpayable"]:
        raise NoPaymentPlan(month=str(month), members=", ".join(stuck))
    present, instead = (Version(sheet=each.sheet, settlement=each.settlement) for each in (there, alternative))
    return there, Comparison(present=present, alternative=instead)


def _side(caller: Caller, pool: str) -> str | None:
    """Give the member whose figures alone the caller may see, None for all. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    return access.own_side(caller, Right.READ_STATEMENT)


def _figures(office: Office, pool: str, month: Month) -> tuple[CostedMonth, Figures]:
    """Give a month and its figures: those that are kept, where the month is still the same but for how far the journal
    was read."""
    there = costed(office, pool).month(month)
    if pool in office.explained:
        kept, figures = office.explained[pool]
        if replace(there, computed_at=kept.computed_at) == kept:
            return there, figures
    with reading(office.engine, pool) as connection:
        entries = facts.read_month(connection, pool, month, there.numbers)
    figures = figures_of(
        MonthFacts(
            sheet=there.sheet,
            settlement=there.settlement,
            close=there.close.number if there.close else None,
            entries=entries,
            originals=there.originals,
            members=there.members,
        )
    )
    if len(entries) <= MOST_KEPT:
        office.explained[pool] = there, figures
    return there, figures
