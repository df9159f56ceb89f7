"""Where a request comes from: its peer's address, or what a proxy that the operator trusts says of it.

Failures are counted and sign-ins slowed down by this address, so what anybody can write into a header must not be it:
X-Forwarded-For is read from its end, and only as far as the addresses are those of trusted proxies.
"""

import ipaddress
from collections.abc import Container
from typing import Annotated

from fastapi import Depends, Request
from starlette.types import Scope

PEER = "credit_pool.peer"
"""Where the request's scope holds the address it comes from."""

_HEADER = b"x-forwarded-for"


def peer_of(scope: Scope, proxies: Container[str]) -> str:
    """Give the address that a request comes from.

    Takes:   proxies — the addresses whose word is taken for where a request came from before."""
    peer = scope["client"][0] if scope.get("client") else "unknown"
    if peer not in proxies:
        return str(peer)
    said = b",".join(value for name, value in scope["headers"] if name == _HEADER)
    for told in reversed(said.decode("latin-1").split(",")):
        try:
            address = str(ipaddress.ip_address(told.strip()))
        except ValueError:
            return str(peer)
        peer = address
        if peer not in proxies:
            break
    return str(peer)


async def found_peer(request: Request) -> str:
    """Give the address that a request comes from, as the gate found out."""
    peer: str = request.scope[PEER]
    return peer


PeerOf = Annotated[str, Depends(found_peer)]
"""For a route's argument."""
