"""Who calls: from the header Authorization to a Caller, by API keys and tokens of sessions sent as bearer tokens (RFC
6750).

Text that has the form of neither is never looked up. Failures are counted per peer and answered 429 once there are too
many; a key that worked before is looked up even then, so that nobody can lock out others behind the same address. Keys
never reach the log; each failure does, with its peer. What a caller may do is said in domain/access.py.
"""

import logging
from collections.abc import Awaitable, Callable
from typing import Annotated

from fastapi import Depends, Request

from pool_api.domain.access import Caller
from pool_api.domain.keys import Kind, key_digest, kind_of
from pool_api.rest.errors import RateLimited, Unauthenticated
from pool_api.rest.rates import Buckets

SECURITY = "apiKey"
"""What the API's description calls the scheme by which callers say who they are."""

CALLER = "credit_pool.caller"
"""Where the request's scope holds its Caller."""

_MOST_KNOWN = 10_000

FindKey = Callable[[str], Awaitable[Caller | None]]
"""Gives who a key or session belongs to by its digest (domain/keys.py), None for one that is unknown or has ended."""

_log = logging.getLogger(__name__)


class Doorkeeper:
    """Tells callers apart."""

    def __init__(self, find_key: FindKey, failures: Buckets) -> None:
        self._find_key = find_key
        self._failures = failures
        self._known: dict[str, None] = {}

    async def caller(self, authorization: str | None, peer: str) -> Caller:
        """Give who calls. Refuses: Unauthenticated, RateLimited after too many failures of the peer."""
        if authorization is None:
            raise self._failed(peer, "none came with the request")
        scheme, _, token = authorization.partition(" ")
        token = token.strip(" ")
        if scheme.lower() != "bearer" or kind_of(token) not in {Kind.KEY, Kind.SESSION}:
            raise self._failed(peer, "the header Authorization holds none")
        digest = key_digest(token)
        if digest not in self._known and (wait := self._failures.wait(peer)):
            raise RateLimited(retry_after=wait)
        caller = await self._find_key(digest)
        if caller is None:
            self._known.pop(digest, None)
            raise self._failed(peer, "this one is unknown or has ended")
        if digest not in self._known:
            self._remember(digest)
        return caller

    def _failed(self, peer: str, reason: str) -> Unauthenticated | RateLimited:
        _log.warning("authentication failed: peer %s, %s", peer, reason)
        wait = self._failures.take(peer)
        return RateLimited(retry_after=wait) if wait else Unauthenticated(reason=reason)

    def _remember(self, digest: str) -> None:
        if len(self._known) >= _MOST_KNOWN:
            del self._known[next(iter(self._known))]
        self._known[digest] = None


async def caller_of(request: Request) -> Caller:
    """Give who makes a request, as the gate found out."""
    caller: Caller = request.scope[CALLER]
    return caller


CallerOf = Annotated[Caller, Depends(caller_of)]
"""For a route's argument."""


async def caller_if_any(request: Request) -> Caller | None:
    """Give who makes a request of an operation that anybody may call, None for one who doesn't say."""
    caller: Caller | None = request.scope.get(CALLER)
    return caller


CallerIfAny = Annotated[Caller | None, Depends(caller_if_any)]
"""For an argument of a route that says ANYBODY (gate.py)."""
