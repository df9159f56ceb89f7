"""Plots as resources of their own, in the scheme that the address asks for."""

import asyncio
from collections.abc import Callable

from starlette.responses import Response

from pool_web.plots import SCHEMES
from pool_web.visit import Visit

_ITS_OWN_STYLE = "default-src 'none'; style-src 'unsafe-inline'"
"""A drawing carries its style with it, and nothing else comes in."""


async def drawn(visit: Visit, draw: Callable[[str], bytes]) -> Response:
    """Answer with a drawing; draw makes it for a scheme, while other visits go on."""
    scheme = visit.query.get("scheme", "")
    made = await asyncio.to_thread(draw, scheme if scheme in SCHEMES else SCHEMES[0])
    return Response(made, media_type="image/svg+xml", headers={"Content-Security-Policy": _ITS_OWN_STYLE})
