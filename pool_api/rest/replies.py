"""How reading, making and replacing are answered, the same for every resource: status, entity tag, address, replay."""

from typing import Any

from starlette.responses import JSONResponse, Response

from pool_api.rest.conditions import is_current, version_tag

PREFIX = "/v1"
"""Stands before the address of everything that belongs to a pool."""


def read(shown: dict[str, Any], version: int, copies: str | None) -> Response:
    """Answer with something that can be replaced, or that the client's copy is current.

    Takes:   copies — If-None-Match as it came."""
    headers = {"ETag": version_tag(version)}
    if is_current(copies, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    return JSONResponse(shown, headers=headers)


def put(shown: dict[str, Any], version: int, address: str, *, new: bool) -> Response:
    """Answer with what was made (new) or replaced, and its version now. address begins below PREFIX."""
    headers = {"ETag": version_tag(version)}
    if new:
        headers["Location"] = PREFIX + address
    return JSONResponse(shown, 201 if new else 200, headers)


def made(shown: dict[str, Any], address: str, *, replayed: bool = False) -> Response:
    """Answer with what a request made, or an earlier one with the same idempotency key. address begins below PREFIX."""
    headers = {"Location": PREFIX + address}
    if replayed:
        headers["Idempotency-Replayed"] = "true"
    return JSONResponse(shown, 201, headers)
