"""Whose browser it is: the cookie that holds the service's token, and the proof that a form was made for it.

The token is a secret of the service's; here it stands in one cookie that scripts can't read and that never leaves this
host. What goes into a form is derived from it by a keyed hash, so that no process has to remember anything, and a form
made for one session is worth nothing in another.
"""

import hmac
from hashlib import sha256

from starlette.requests import Request
from starlette.responses import Response

COOKIE = "__Host-credit-pool"
"""Browsers take it over TLS only, or from the machine itself, and give it to no other host."""


def token_of(request: Request) -> str | None:
    """Give the token that a browser holds."""
    return request.cookies.get(COOKIE) or None


def hold(response: Response, token: str) -> None:
    """Have a browser hold a token until it is closed."""
    response.set_cookie(COOKIE, token, secure=True, httponly=True, samesite="lax", path="/")


def let_go(response: Response) -> None:
    """Have a browser forget its token."""
    response.delete_cookie(COOKIE, secure=True, httponly=True, samesite="lax", path="/")


def proof(token: str) -> str:
    """Give what the forms of a session carry."""
    return hmac.new(token.encode(), b"a form of the pages", sha256).hexdigest()


def is_proof(token: str, given: str) -> bool:
    """Tell whether a form was made for a session."""
    return hmac.compare_digest(proof(token).encode(), given.encode())
