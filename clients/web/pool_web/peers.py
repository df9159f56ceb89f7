"""In whose name pages ask the service: the address that a page is for goes along with every question.

So failures are counted and sign-ins slowed down by browser, and not for everybody behind the pages at once. A service
that runs elsewhere takes the word of these pages only if its operator trusts the machine that they run on.
"""

from contextvars import ContextVar

import httpx
from starlette.types import ASGIApp, Scope

_FORWARDED = "x-forwarded-for"
_PEER: ContextVar[tuple[str, int, str]] = ContextVar("peer", default=("127.0.0.1", 0, ""))


def remember_peer(scope: Scope) -> None:
    """Take note of whom the present request is for."""
    address, port = scope.get("client") or ("127.0.0.1", 0)
    said = b", ".join(value for name, value in scope["headers"] if name == _FORWARDED.encode())
    _PEER.set((address, port, said.decode("latin-1")))


class Inside(httpx.AsyncBaseTransport):
    """Takes requests to a service in this process, as if they came straight from the browser."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        """Have a request answered."""
        address, port, said = _PEER.get()
        if said:
            request.headers[_FORWARDED] = said
        transport = httpx.ASGITransport(self._app, raise_app_exceptions=False, client=(address, port))
        return await transport.handle_async_request(request)


async def forward_peer(request: httpx.Request) -> None:
    """Tell a service elsewhere where a request came from."""
    address, _, said = _PEER.get()
    request.headers[_FORWARDED] = f"{said}, {address}" if said else address
