"""How reading, making and replacing are answered, the same for every resource: status, entity tag, address, replay."""

from typing import Any

from msgspec.json import encode
from starlette.responses import JSONResponse, Response

from pool_api.rest.conditions import is_current, version_tag
from pool_api.rest.media import CSV, JSON, PDF, XLSX

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


_SUFFIXES = {CSV: "csv", PDF: "pdf", XLSX: "xlsx"}


def told(shown: dict[str, Any]) -> Response:
    """Answer with JSON where other media types are offered too: documents, which can be long."""
    return Response(encode(shown), media_type=JSON, headers={"Vary": "Accept"})


def file(content: str | bytes, media_type: str, name: str) -> Response:
    """Answer with a file, to be kept under a name without its suffix, of ASCII letters, digits and hyphens."""
    headers = {
        "Vary": "Accept",
        "Content-Disposition": f'attachment; filename="{name}.{_SUFFIXES[media_type]}"',
    }
    charset = "; charset=utf-8" if media_type == CSV else ""
    return Response(content, media_type=media_type + charset, headers=headers)
