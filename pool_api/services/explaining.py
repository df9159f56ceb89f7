"""Why a figure is what it is, and what a month would be under another policy. Both only read: nothing is recorded, and
what is kept of costed months stays as it is."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.comparing import Comparison, Version
from pool_api.domain.costing import month_sheet, originals
from pool_api.domain.effects import Original
from pool_api.domain.entries import Reversal
from pool_api.domain.errors import NoPaymentPlan
from pool_api.domain.explaining import Explanation, Figures, MonthFacts, figures_of
from pool_api.domain.pool import Member
from pool_api.domain.sheets import Position, closing
from pool_api.domain.values import Month
from pool_api.services.costs import CostedMonth, CostedPool, brought_forward, costed, settled
from pool_api.services.office import Office


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A figure of a month with the figures that it comes from, the nearest first."""

    month: CostedMonth
    explanations: list[Explanation]


def explain(office: Office, caller: Caller, pool: str, month: Month, figure: str, *, depth: int) -> Explained:
    """Explain a figure and, so many steps deep, what it comes from; to a clerk what its own statement is made of.

    Refuses: FigureNotFound; NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    own = access.own_side(caller, Right.READ_STATEMENT)
    found = costed(office, pool)
    chain = _figures(found, month).chain(figure, depth, member=own)
    return Explained(month=found.month(month), explanations=chain)


def list_figures(
    office: Office, caller: Caller, pool: str, month: Month, *, under: str | None, after: str | None, limit: int
) -> list[Explanation]:
    """Give a month's figures in order of name; a clerk's own only.

    Takes:   under — only the figure of that name, and those whose names go on from it; after — a name; limit.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    own = access.own_side(caller, Right.READ_STATEMENT)
    figures = _figures(costed(office, pool), month)
    names = (
        name
        for name in figures.names(own)
        if (after is None or name > after) and (under is None or f"{name}.".startswith(f"{under}."))
    )
    return [figures.explain(name) for name, _ in zip(names, range(limit), strict=False)]


def compare(
    office: Office, caller: Caller, pool: str, month: Month, changed: Mapping[str, Any]
) -> tuple[CostedMonth, Comparison]:
    """Give a month under its policy and under one that differs in some rules; a closed one under the policy that its
    close froze, and open payments left out of it.

    Takes:   changed — rules of a Policy by name.
    Refuses: NoHub, NoPrice, NoSupply and NoPaymentPlan for a policy under which the month couldn't be closed;
             NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_SHEET)
    found = costed(office, pool)
    there = found.month(month)
    sheet = month_sheet(
        month=month,
        opening=_left_before(found, month),
        entries=found.entries_in(month),
        originals=_originals_before(found, month),
        policy=replace(there.sheet.policy, **changed),
        members=_members(found),
        currency=found.directory.pool.currency,
    )
    if sheet.obstacle is not None:
        raise sheet.obstacle
    alternative = replace(there, sheet=sheet, settled=settled(sheet, found.directory), close=None)
    if stuck := alternative.settlement["unpayable"]:
        raise NoPaymentPlan(month=str(month), members=", ".join(stuck))
    present, instead = (Version(sheet=each.sheet, settlement=each.settlement) for each in (there, alternative))
    return there, Comparison(present=present, alternative=instead)


def _figures(found: CostedPool, month: Month) -> Figures:
    there = found.month(month)
    return figures_of(
        MonthFacts(
            sheet=there.sheet,
            settlement=there.settlement,
            close=there.close.number if there.close else None,
            entries=found.entries_in(month),
            originals=_originals_before(found, month),
            members=_members(found),
        )
    )


def _originals_before(found: CostedPool, month: Month) -> dict[int, Original]:
    """Give the original amounts of what reversals reverse, as a month begins."""
    known: dict[int, Original] = {}
    reversed_ever = found.targets()
    for earlier in (each for each in found.months.values() if each.month < month):
        here = found.entries_in(earlier.month)
        concerned = [each for each in here if each.number in reversed_ever or isinstance(each.body, Reversal)]
        known = originals(earlier.sheet, concerned, known)
    return known


def _left_before(found: CostedPool, month: Month) -> Position:
    """Give what the month before left."""
    before = found.months.get(month.previous())
    return Position() if before is None else closing(before.sheet, brought_forward(before.settlement))


def _members(found: CostedPool) -> list[Member]:
    return sorted(found.directory.members.values(), key=lambda member: member.code)
