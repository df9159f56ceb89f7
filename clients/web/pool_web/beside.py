"""Pages and service in one process: one address for both, and no network between them."""

from collections.abc import Callable
from contextvars import ContextVar
from datetime import datetime

import httpx
from starlette.types import ASGIApp, Receive, Scope, Send

from pool_web.site import FIRST_SEGMENTS, create_site

_PEER: ContextVar[tuple[str, int]] = ContextVar("peer", default=("127.0.0.1", 0))


class _Inside(httpx.AsyncBaseTransport):
    """Takes requests to an app in this process, in the name of whoever the page is for."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        """Have a request answered."""
        transport = httpx.ASGITransport(self._app, raise_app_exceptions=False, client=_PEER.get())
        return await transport.handle_async_request(request)


class Beside:
    """A service with its pages: requests go to the one or the others by their path."""

    def __init__(self, service: ASGIApp, now: Callable[[], datetime]) -> None:
        self._service = service
        http = httpx.AsyncClient(transport=_Inside(service))
        self._pages = create_site(api="http://service.internal", http=http, now=now)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hand a request on. What begins and ends with the process is the service's."""
        if scope["type"] != "http" or _first_segment(scope) not in FIRST_SEGMENTS:
            await self._service(scope, receive, send)
            return
        if scope.get("client"):
            _PEER.set(tuple(scope["client"]))
        await self._pages(scope, receive, send)


def _first_segment(scope: Scope) -> str:
    path: str = scope["path"].removeprefix(scope.get("root_path", ""))
    return path.lstrip("/").partition("/")[0]
