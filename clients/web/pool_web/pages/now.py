"""Now: who holds what, what is on loan, what waits, and the month so far; from here everything is recorded."""

from dataclasses import dataclass

from pool_client.models.months import MonthListed
from starlette.responses import Response

from pool_web.visit import Visit, listed, page, together

_LOOKED_AT = 2
"""So many open months are compared with the vendor's record, the latest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """What of a month's comparison with the vendor's record waits for a word."""

    month: str
    undecided: int
    suggested: int


async def show(visit: Visit) -> Response:
    """Show how the book stands."""
    positions, members, months, unpaid = await together(
        visit.book.positions(),
        listed(visit.book.members()),
        visit.allowed(visit.book.months()),
        visit.allowed(listed(visit.book.settlement_payments(unpaid=True))),
    )
    open_months = [each for each in months or () if each.state == "open"]
    sheet = await visit.allowed(visit.book.sheet(month=positions.month))
    waiting = [await _waiting(visit, each) for each in open_months[-_LOOKED_AT:]]
    return visit.show(
        "now.html",
        positions=positions,
        names={each.code: each.name for each in members},
        sheet=sheet,
        unpaid=unpaid,
        waiting=[each for each in waiting if each],
    )


async def _waiting(visit: Visit, month: MonthListed) -> Waiting | None:
    found = await visit.allowed(visit.book.reconciliation(month=month.month))
    if found is None or not (found.undecided or found.suggested):
        return None
    return Waiting(month=month.month, undecided=found.undecided, suggested=found.suggested)


async def more(visit: Visit) -> Response:
    """List every place, for screens that have no room for all of them."""
    return visit.show("more.html")


ROUTES = (page("", show), page("/more", more))
