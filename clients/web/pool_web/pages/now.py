"""Now: who holds what, what is on loan, what waits, and the month so far; from here everything is recorded."""

from dataclasses import dataclass

from pool_client.models.months import Positions, Sheet
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
    (positions, sheet), members, waiting, unpaid, (cover, asked, rounds, in_hand) = await together(
        _standing(visit),
        listed(visit.book.members()),
        _waiting(visit),
        visit.allowed(listed(visit.book.settlement_payments(unpaid=True))),
        together(cover_of(visit), open_requests(visit), open_rounds(visit), _in_hand(visit)),
    )
    codes = [each.code for each in may_act_for(visit, members)]
    return visit.show(
        "now.html",
        positions=positions,
        names={each.code: each.name for each in members},
        sheet=sheet,
        unpaid=unpaid,
        waiting=waiting,
        requests=to_serve(visit, asked, positions, codes),
        rounds=rounds,
        acts_for=codes,
        cover={each.member: each.cover for each in cover.members if each.cover} if cover else {},
        stock_cover=cover.stock if cover else None,
        in_hand=in_hand,
    )


async def _standing(visit: Visit) -> tuple[Positions, Sheet | None]:
    """Give how the book stands, with the sheet of the present month."""
    positions = await visit.book.positions()
    return positions, await visit.allowed(visit.book.sheet(month=positions.month))


async def _in_hand(visit: Visit) -> int:
    """Give how many questions a clerk's member is asked."""
    return len(await visit.allowed(listed(visit.book.handed())) or ()) if visit.is_clerk else 0


async def _waiting(visit: Visit) -> list[Waiting]:
    """Give what waits of the latest open months."""
    months = await visit.allowed(visit.book.months()) or ()
    looked_at = [each.month for each in months if each.state == "open"][-_LOOKED_AT:]
    found = await together(*(visit.allowed(visit.book.reconciliation(month=each)) for each in looked_at))
    return [
        Waiting(month=month, undecided=each.undecided, suggested=each.suggested)
        for month, each in zip(looked_at, found, strict=True)
        if each and (each.undecided or each.suggested)
    ]


async def more(visit: Visit) -> Response:
    """List every place, for screens that have no room for all of them."""
    return visit.show("more.html")


ROUTES = (page("", show), page("/more", more))
