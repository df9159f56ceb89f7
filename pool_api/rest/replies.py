"""How reading, making and replacing are answered, the same for every resource: status, entity tag, address, replay."""

from collections.abc import Iterator
from typing import Any

from msgspec.json import encode
from starlette.responses import JSONResponse, Response, StreamingResponse

from pool_api.rest.conditions import is_current, version_tag
from pool_api.rest.media import CSV, JSON, PDF, XLSX, ZIP

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


SUFFIXES = {JSON: "json", CSV: "csv", PDF: "pdf", XLSX: "xlsx", ZIP: "zip"}
"""What the names of files of a media type end in."""


class Zipped(StreamingResponse):
    """A zip that goes out while it is made."""

    media_type = ZIP


def told(shown: dict[str, Any]) -> Response:
    """Answer with JSON where other media types are offered too: documents, which can be long."""
    return Response(json_bytes(shown), media_type=JSON, headers={"Vary": "Accept"})


def json_bytes(shown: dict[str, Any]) -> bytes:
    """Give a JSON object as it goes out: the bytes are those of every other answer, which are no documents."""
    return encode(shown)


def zip_file(parts: Iterator[bytes], name: str) -> Zipped:
    """Answer with a zip, to be kept under a name without its suffix; it ends short when a part can't be made."""
    return Zipped(parts, headers=_to_keep(name, ZIP))


def file(content: str | bytes, media_type: str, name: str) -> Response:
    """Answer with a file, to be kept under a name without its suffix, of ASCII letters, digits and hyphens."""
    headers = {"Vary": "Accept", **_to_keep(name, media_type)}
    charset = "; charset=utf-8" if media_type == CSV else ""
    return Response(content, media_type=media_type + charset, headers=headers)


def _to_keep(name: str, media_type: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}.{SUFFIXES[media_type]}"'}
