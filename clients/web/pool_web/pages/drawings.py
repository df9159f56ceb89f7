"""Plots as resources of their own, in the scheme that the address asks for."""

import asyncio
from collections.abc import Callable

from starlette.responses import Response

from pool_web.own_files import compressed
from pool_web.plots import SCHEMES, WIDTHS, Look
from pool_web.visit import Visit

_ITS_OWN_STYLE = "default-src 'none'; style-src 'unsafe-inline'"
"""A drawing carries its style with it, and nothing else comes in."""


async def drawn(visit: Visit, draw: Callable[[Look], bytes]) -> Response:
    """Answer with a drawing; draw makes it in the look that is asked for, while other visits go on."""
    scheme, width = visit.query.get("scheme", ""), visit.query.get("width", "")
    look = Look(
        scheme=scheme if scheme in SCHEMES else SCHEMES[0], width=width if width in WIDTHS else next(iter(WIDTHS))
    )
    made = await asyncio.to_thread(draw, look)
    return compressed(visit.request, made, "image/svg+xml", {"Content-Security-Policy": _ITS_OWN_STYLE})
