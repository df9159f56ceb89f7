"""The edge of the pages: what every answer carries, and which writes are taken for a person's own.

A write is taken only from a page of this very site: the browser says where it comes from, in Sec-Fetch-Site or, where
it is older, in Origin. Pages carry no script and no style but the site's own files, are kept by no cache, and can be
framed by nobody. Bodies are counted while they come in. Pure ASGI.
"""

from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pool_web.peers import remember_peer

_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_ALWAYS = (
    (b"cache-control", b"no-store"),
    (b"content-security-policy", _POLICY.encode()),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=()"),
    # not no-referrer: under that a browser names no origin even to the site itself
    (b"referrer-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
)
_OVER_TLS = (b"strict-transport-security", b"max-age=63072000; includeSubDomains")
_READING = frozenset({"GET", "HEAD"})

MOST_FORM_BYTES = 256 * 1024
MOST_UPLOAD_BYTES = 33 * 1024 * 1024


class Edge:
    """The outermost layer of the pages."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse what doesn't come from the site itself, pass on the rest, and dress the answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _dressed(message.get("headers", ()), scope)
            await send(message)

        remember_peer(scope)
        headers = Headers(scope=scope)
        if scope["method"] not in _READING and not is_own(headers):
            refusal = PlainTextResponse("This was not sent by a page of this site, so nothing was done.", 403)
            await refusal(scope, receive, dressed)
            return
        limit = MOST_UPLOAD_BYTES if "multipart/" in headers.get("content-type", "") else MOST_FORM_BYTES
        try:
            await self._app(scope, _limited(receive, limit), dressed)
        except _TooLarge:
            await PlainTextResponse("That is more than this page takes.", 413)(scope, receive, dressed)


def is_own(headers: Headers) -> bool:
    """Tell whether a browser says that a request was made by a page of this site."""
    fetched = headers.get("sec-fetch-site")
    if fetched is not None:
        return fetched == "same-origin"
    return urlsplit(headers.get("origin", "")).netloc == headers.get("host", "nowhere")


class _TooLarge(Exception):
    """A body is larger than its kind may be."""


def _limited(receive: Receive, limit: int) -> Receive:
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > limit:
            raise _TooLarge
        return message

    return limited


def _dressed(given: Iterable[tuple[bytes, bytes]], scope: Scope) -> list[tuple[bytes, bytes]]:
    headers = list(given)
    names = {name.lower() for name, _ in headers}
    headers += [header for header in _ALWAYS if header[0] not in names]
    if scope["scheme"] == "https":
        headers.append(_OVER_TLS)
    return headers
