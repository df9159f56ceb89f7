"""The edge: what every answer carries, and what becomes of what nobody foresaw.

Every answer, errors included, gets an id of its request, the security headers, and `no-store`, unless the answer says
otherwise itself; HEAD gets no content. An exception that no handler knows becomes one opaque problem with that id; what
it was stands in the log under the id and nowhere else. Pure ASGI: it costs a few microseconds.
"""

import logging
from collections.abc import Callable, Iterable

from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pool_api.rest.errors import ServerFault
from pool_api.rest.problems import problem

_ALWAYS = (
    (b"cache-control", b"no-store"),
    (b"content-security-policy", b"default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"referrer-policy", b"no-referrer"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
)
_OVER_TLS = (b"strict-transport-security", b"max-age=63072000; includeSubDomains")
"""Two years. Never over plain HTTP (RFC 6797, 7.2)."""

_log = logging.getLogger(__name__)


class Edge:
    """The outermost layer of the application."""

    def __init__(self, app: ASGIApp, new_id: Callable[[], str]) -> None:
        self._app = app
        self._new_id = new_id

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on and dress its answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request_id = self._new_id()
        started = False

        async def dressed(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                message["headers"] = _dressed(message.get("headers", ()), request_id, scope)
            elif scope["method"] == "HEAD":
                message["body"] = b""
            await send(message)

        try:
            await self._app(scope, receive, dressed)
        except ClientDisconnect:
            _log.info("request %s: the client went away", request_id)
        except Exception:
            _log.exception("request %s failed: %s %r", request_id, scope["method"], scope["path"])
            if started:
                raise
            await problem(ServerFault(request_id=request_id))(scope, receive, dressed)


def _dressed(given: Iterable[tuple[bytes, bytes]], request_id: str, scope: Scope) -> list[tuple[bytes, bytes]]:
    headers = list(given)
    names = {name for name, _ in headers}
    headers += [header for header in _ALWAYS if header[0] not in names]
    if scope["scheme"] == "https":
        headers.append(_OVER_TLS)
    headers.append((b"x-request-id", request_id.encode()))
    return headers
