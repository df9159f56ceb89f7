"""Now: who holds what, what is on loan, what waits, and the month so far; from here everything is recorded."""

from dataclasses import dataclass

from pool_client.models.months import MonthListed
from starlette.responses import Response

from pool_web.pages.acting import may_act_for
from pool_web.pages.needs import cover_of
from pool_web.pages.requests import open_requests, to_serve
from pool_web.pages.rounds import open_rounds
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
    positions, members, months, unpaid, buying = await together(
        visit.book.positions(),
        listed(visit.book.members()),
        visit.allowed(visit.book.months()),
        visit.allowed(listed(visit.book.settlement_payments(unpaid=True))),
        together(cover_of(visit), open_requests(visit), open_rounds(visit)),
    )
    open_months = [each for each in months or () if each.state == "open"]
    sheet, waiting, in_hand = await together(
        visit.allowed(visit.book.sheet(month=positions.month)),
        together(*(_waiting(visit, each) for each in open_months[-_LOOKED_AT:])),
        _in_hand(visit),
    )
    cover, asked, rounds = buying
    codes = [each.code for each in may_act_for(visit, members)]
    return visit.show(
        "now.html",
        positions=positions,
        names={each.code: each.name for each in members},
        sheet=sheet,
        unpaid=unpaid,
        waiting=[each for each in waiting if each],
        requests=to_serve(visit, asked, positions, codes),
        rounds=rounds,
        acts_for=codes,
        cover={each.member: each.cover for each in cover.members if each.cover} if cover else {},
        stock_cover=cover.stock if cover else None,
        in_hand=in_hand,
    )


async def _in_hand(visit: Visit) -> int:
    """Give how many questions a clerk's member is asked."""
    return len(await visit.allowed(listed(visit.book.handed())) or ()) if visit.is_clerk else 0


async def _waiting(visit: Visit, month: MonthListed) -> Waiting | None:
    found = await visit.allowed(visit.book.reconciliation(month=month.month))
    if found is None or not (found.undecided or found.suggested):
        return None
    return Waiting(month=month.month, undecided=found.undecided, suggested=found.suggested)


async def more(visit: Visit) -> Response:
    """List every place, for screens that have no room for all of them."""
    return visit.show("more.html")


ROUTES = (page("", show), page("/more", more))
