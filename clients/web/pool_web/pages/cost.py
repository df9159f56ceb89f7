"""Cost: what a credit cost each member over time, beside the vendor's prices, and what jobs earned."""

from datetime import date

from pool_client.models.buying import PriceLadder
from pool_client.models.catalogue import By
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from pool_web.forms import Form
from pool_web.plots import costs_plot
from pool_web.visit import Visit, listed, page, together

_SCHEMES = ("light", "dark")
_DRAWING = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'"}
"""A drawing of the library's has styles of its own; it is an image, and holds nothing that people wrote but codes."""


async def show(visit: Visit) -> Response:
    """Show what credits cost and what jobs earned."""
    asked = Form(texts=visit.query, key="")
    months = [each.month for each in await visit.book.months()]
    by = asked["by"] if asked["by"] in [each.value for each in By] else By.ITEM.value
    report, ladders, earnings = await together(
        visit.book.report(month=months[-1]),
        listed(visit.book.ladders()),
        visit.book.earnings(from_month=months[0], to_month=months[-1], by=By(by)),
    )
    ladder = _present(ladders, visit.today)
    members = sorted({one.member for each in report.costs for one in each.members})
    costs = {(each.month, one.member): one for each in report.costs for one in each.members}
    return visit.show(
        "cost.html",
        report=report,
        ladder=ladder,
        members=members,
        costs=costs,
        earnings=earnings,
        form=Form(texts={"by": by}, key=""),
        bys=[each.value for each in By],
    )


async def drawing(visit: Visit) -> Response:
    """Give the drawing of what credits cost."""
    months = await visit.book.months()
    report, ladders = await together(visit.book.report(month=months[-1].month), listed(visit.book.ladders()))
    ladder = _present(ladders, visit.today)
    tiers = [each.unit_price for each in ladder.tiers] if ladder else []
    scheme = visit.place("scheme")
    drawn = await run_in_threadpool(
        costs_plot, report.costs, tiers, report.currency, scheme if scheme in _SCHEMES else "light"
    )
    return Response(drawn, media_type="image/svg+xml", headers=_DRAWING)


def _present(ladders: list[PriceLadder], today: date) -> PriceLadder | None:
    """Give the ladder that counts today."""
    return max((each for each in ladders if each.valid_from <= today), key=lambda each: each.valid_from, default=None)


ROUTES = (page("/cost", show), page("/cost/{scheme}.svg", drawing))
