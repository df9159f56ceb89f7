"""Pages and service in one process: one address for both, and no network between them."""

from collections.abc import Callable
from datetime import datetime

import httpx
from starlette.types import ASGIApp, Receive, Scope, Send

from pool_web.peers import Inside
from pool_web.site import FIRST_SEGMENTS, create_site


class Beside:
    """A service with its pages: requests go to the one or the others by their path."""

    def __init__(self, service: ASGIApp, now: Callable[[], datetime]) -> None:
        self._service = service
        http = httpx.AsyncClient(transport=Inside(service))
        self._pages = create_site(api="http://service.internal", http=http, now=now)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand a request on. What begins and ends with the process is the service's."""
        is_page = scope["type"] == "http" and _first_segment(scope) in FIRST_SEGMENTS
        await (self._pages if is_page else self._service)(scope, receive, send)


def _first_segment(scope: Scope) -> str:
    path: str = scope["path"].removeprefix(scope.get("root_path", ""))
    return path.lstrip("/").partition("/")[0]
