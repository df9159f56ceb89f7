"""Why a figure is what it is, and what a month would be under another policy. Both only read: nothing is recorded, and
what is kept of costed months stays as it is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.comparing import Comparison, Version
from pool_api.domain.errors import NoPaymentPlan
from pool_api.domain.explaining import Explanation, Figures, MonthFacts, figures_of
from pool_api.domain.paying import check_pairs
from pool_api.domain.values import Month
from pool_api.services.costs import CostedMonth, costed, costed_otherwise
from pool_api.services.office import Office
from pool_api.store import facts
from pool_api.store.engine import reading


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
    there, figures = _figures(office, pool, month)
    return Explained(month=there, explanations=figures.chain(figure, depth, member=own))


def list_figures(
    office: Office, caller: Caller, pool: str, month: Month, *, under: str | None, after: str | None, limit: int
) -> list[Explanation]:
    """Give a month's figures in order of name; a clerk's own only.

    Takes:   under — only the figure of that name, and those whose names go on from it; after — a name; limit.
    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    own = access.own_side(caller, Right.READ_STATEMENT)
    _, figures = _figures(office, pool, month)
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


def _figures(office: Office, pool: str, month: Month) -> tuple[CostedMonth, Figures]:
    found = costed(office, pool)
    there = found.month(month)
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
    return there, figures
