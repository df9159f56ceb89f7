"""The gate: what every request must pass before a route sees it, in this order.

1. The address is one of the service's (404), the method one of the address's (405, with all of them in Allow); OPTIONS
   is answered here, HEAD is GET.
2. The headers that matter stand once.
3. The caller is known, unless the operation is open; nothing is open that doesn't say so.
4. The caller, or for an open operation its peer, isn't too fast.
5. The pool in the address is the caller's; any other doesn't exist.
6. The query holds known parameters, once each.
7. The body is of a type the operation takes, within its limit, counted while it comes in; JSON is read strictly, once.

What an operation says of itself in its OpenAPI description is what is enforced: `security: []` makes it open, an empty
requirement among others lets those in who don't say who they are, and those who do are looked at as everywhere; a
request body in a media type of its own makes it an upload, which the route reads as a stream.

The gate is the router's first route and answers for every path, so that no request finds a way around it; it also finds
an operation in time that doesn't grow with the number of routes.
"""

from collections.abc import Callable, Container, Coroutine, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import parse_qsl

from fastapi import APIRouter, Request, Response
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, RouteContext, iter_route_contexts
from pydantic import BaseModel
from starlette.requests import ClientDisconnect
from starlette.routing import BaseRoute, Match
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pool_api.domain.access import within
from pool_api.rest.addresses import Addresses, allowed, parameters_of
from pool_api.rest.auth import CALLER, SECURITY, Doorkeeper
from pool_api.rest.errors import (
    AddressTooLong,
    BodyTooLarge,
    DuplicateHeader,
    DuplicateQueryParameter,
    MalformedJson,
    MalformedQuery,
    MethodNotAllowed,
    RateLimited,
    UnknownPath,
    UnknownQueryParameter,
)
from pool_api.rest.media import JSON, check_media_type
from pool_api.rest.peers import PEER, peer_of
from pool_api.rest.rates import Buckets
from pool_api.rest.strict_json import read_json

MOST_ADDRESS_CHARACTERS = 8_192

OPEN: dict[str, Any] = {"security": []}
"""For a route's openapi_extra: anybody may call it."""

ANYBODY: dict[str, Any] = {"security": [{}, {SECURITY: []}]}
"""For a route's openapi_extra: anybody may call it; whoever says who it is has to be it."""

_RAW = "credit_pool.raw_body"
_VALUE = "credit_pool.body"

_ONCE = frozenset(
    {b"authorization", b"content-length", b"content-type", b"idempotency-key", b"if-match", b"if-none-match"}
)


def takes_upload(*media_types: str, description: str) -> dict[str, Any]:
    """Give the openapi_extra of a route that takes a body of its own media types and reads it as a stream."""
    content = {media_type: {"schema": {"type": "string"}} for media_type in media_types}
    return {"requestBody": {"required": True, "description": description, "content": content}}


class _ReadRequest(Request):
    """A request whose JSON body has been read already, strictly."""

    async def body(self) -> bytes:
        raw: bytes = self.scope[_RAW]
        return raw

    async def json(self) -> Any:
        return self.scope[_VALUE]


class GatedRoute(APIRoute):
    """A route behind the gate."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Give the framework's handler, fed with the body that the gate read."""
        handler = super().get_route_handler()

        async def handle(request: Request) -> Response:
            if _RAW in request.scope:
                request = _ReadRequest(request.scope, request.receive)
            return await handler(request)

        return handle


def gated_router(tag: str, prefix: str = "") -> APIRouter:
    """Give a router for the routes of one resource; unless it says so itself, an operation is called by its function's
    name and the tag."""

    def operation_id(route: APIRoute) -> str:
        return f"{route.name.strip('_')}_{tag}".replace("-", "_")

    return APIRouter(prefix=prefix, route_class=GatedRoute, tags=[tag], generate_unique_id_function=operation_id)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Operation:
    app: ASGIApp
    names: tuple[str, ...]
    is_open: bool
    is_anybodys: bool
    query: frozenset[str]
    takes: tuple[str, ...]
    is_upload: bool
    needs_body: bool
    limit: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The largest bodies, in bytes."""

    body: int
    upload: int


class Gate(BaseRoute):
    """Lets requests through to the routes of a service."""

    def __init__(
        self,
        routes: Sequence[BaseRoute],
        doorkeeper: Doorkeeper,
        rates: Buckets,
        limits: Limits,
        proxies: Container[str] = (),
    ) -> None:
        """Refuses: ValueError for a route that isn't behind the gate or describes itself in a way it can't enforce."""
        self._doorkeeper = doorkeeper
        self._rates = rates
        self._proxies = proxies
        self._addresses: Addresses[_Operation] = Addresses()
        for context in iter_route_contexts(routes):
            if not isinstance(context.original_route, GatedRoute):
                raise ValueError(f"{context.path} is not behind the gate: make its router by gated_router")  # noqa: TRY004
            for method in sorted(context.methods or ()):
                self._add(context, method, limits)

    def _add(self, context: RouteContext, method: str, limits: Limits) -> None:
        described = context.openapi_extra or {}
        uploads = tuple(described.get("requestBody", {}).get("content", ()))
        body_field = context.body_field
        path = context.path_format or ""
        operation = _Operation(
            app=context.app,
            names=parameters_of(path),
            is_open=described.get("security") == [],
            is_anybodys={} in described.get("security", ()),
            query=frozenset(_query_names(context.dependant)),
            takes=uploads or ((JSON,) if body_field else ()),
            is_upload=bool(uploads),
            needs_body=bool(uploads) or (body_field is not None and body_field.field_info.is_required()),
            limit=limits.upload if uploads else limits.body,
        )
        self._addresses.add(path, method, operation)

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Answer for every HTTP request."""
        return (Match.FULL if scope["type"] == "http" else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check a request and hand it to its operation. Refuses: RequestErrors, NotFound for another's pool."""
        methods, values = self._find(scope)
        method: str = scope["method"]
        operation = methods.get("GET" if method == "HEAD" else method)
        if operation is None:
            if method != "OPTIONS":
                raise MethodNotAllowed(method=method[:20], allowed=allowed(methods))
            await Response(status_code=204, headers={"Allow": ", ".join(allowed(methods))})(scope, receive, send)
            return
        headers = _headers(scope)
        parameters = dict(zip(operation.names, values, strict=True))
        await self._admit(scope, operation, headers.get(b"authorization"), parameters.get("pool"))
        _check_query(scope["query_string"], operation.query)
        inner: Scope = {**scope, "method": "GET" if method == "HEAD" else method, "path_params": parameters}
        if operation.takes:
            receive = await _take_body(inner, receive, operation, headers)
        await operation.app(inner, receive, send)

    def _find(self, scope: Scope) -> tuple[Mapping[str, _Operation], list[str]]:
        path: str = scope["path"].removeprefix(scope.get("root_path", ""))
        if len(path) + len(scope["query_string"]) > MOST_ADDRESS_CHARACTERS:
            raise AddressTooLong(limit=MOST_ADDRESS_CHARACTERS)
        found = None if "\0" in path else self._addresses.find(path)
        if found is None:
            raise UnknownPath
        return found

    async def _admit(self, scope: Scope, operation: _Operation, authorization: str | None, pool: str | None) -> None:
        peer = scope[PEER] = peer_of(scope, self._proxies)
        if operation.is_open or (operation.is_anybodys and authorization is None):
            self._let(f"peer {peer}")
            return
        caller = replace(await self._doorkeeper.caller(authorization, peer), peer=peer)
        scope[CALLER] = caller
        self._let(caller.key_id)
        if pool is not None:
            scope[CALLER] = within(caller, pool)

    def _let(self, name: str) -> None:
        if wait := self._rates.take(name):
            raise RateLimited(retry_after=wait)


def _query_names(dependant: Dependant) -> Iterator[str]:
    for parameter in dependant.query_params:
        annotation = parameter.field_info.annotation
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            raise ValueError(f"{dependant.path}: query parameters are declared one by one")  # noqa: TRY004
        yield parameter.alias
    for inner in dependant.dependencies:
        yield from _query_names(inner)


def _headers(scope: Scope) -> dict[bytes, str]:
    """Give the headers that may stand only once. Refuses: DuplicateHeader."""
    found: dict[bytes, str] = {}
    for name, value in scope["headers"]:
        if name in _ONCE:
            if name in found:
                raise DuplicateHeader(header=name.decode())
            found[name] = value.decode("latin-1")
    return found


def _check_query(query: bytes, known: frozenset[str]) -> None:
    if not query:
        return
    try:
        pairs = parse_qsl(query.decode("ascii"), keep_blank_values=True, errors="strict")
    except UnicodeDecodeError:
        raise MalformedQuery from None
    seen = set()
    for name, value in pairs:
        if "\0" in name or "\0" in value:
            raise MalformedQuery
        if name not in known:
            raise UnknownQueryParameter(parameter=name[:100], known=sorted(known))
        if name in seen:
            raise DuplicateQueryParameter(parameter=name)
        seen.add(name)


async def _take_body(scope: Scope, receive: Receive, operation: _Operation, headers: dict[bytes, str]) -> Receive:
    """Read a JSON body into the scope, or give the receiver of an upload that stops at the limit."""
    length = headers.get(b"content-length", "")
    if length.isdigit() and int(length) > operation.limit:
        raise BodyTooLarge(limit=operation.limit)
    content_type = headers.get(b"content-type")
    if operation.is_upload:
        check_media_type(content_type, operation.takes)
        return _limited(receive, operation.limit)
    raw = await _read(_limited(receive, operation.limit))
    if raw or operation.needs_body:
        check_media_type(content_type, operation.takes)
    if not raw and operation.needs_body:
        raise MalformedJson(reason="it is empty")
    scope[_RAW] = raw
    scope[_VALUE] = read_json(raw) if raw else None
    return receive


async def _read(receive: Receive) -> bytes:
    chunks = []
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise ClientDisconnect
        chunks.append(message.get("body", b""))
        if not message.get("more_body", False):
            return b"".join(chunks) if len(chunks) > 1 else bytes(chunks[0])


def _limited(receive: Receive, limit: int) -> Receive:
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        if message["type"] == "http.request":
            taken += len(message.get("body", b""))
            if taken > limit:
                raise BodyTooLarge(limit=limit)
        return message

    return limited
