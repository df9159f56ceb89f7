"""The site's own files, such as its stylesheet: the same for everybody, and so the only answers that browsers keep.

A file's address names its content by a digest, and an answer to that address is good for ever; a file that changes gets
another address. Under any other digest, or none, a file is given to be used once: while a site is renewed, old and new
processes stand behind one address. Also how bytes go out compressed. Pages don't: how well they compress would tell
about the proof in their forms to whoever can put text on a page and watch its size.
"""

import gzip
import mimetypes
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

_FOR_EVER = "public, max-age=31536000, immutable"
_ONCE = "no-cache"
_DIGEST = "is"
"""The query parameter that names the content."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    content: bytes
    media_type: str
    digest: str


class OwnFiles:
    """The files of a directory, read once."""

    def __init__(self, directory: Path) -> None:
        self._files = {path.name: _file(path) for path in sorted(directory.iterdir())}

    def address(self, name: str) -> str:
        """Give the address of a file as it is. Refuses: KeyError for a file that isn't there."""
        return f"/assets/{name}?{_DIGEST}={self._files[name].digest}"

    def answer(self, request: Request, name: str) -> Response | None:
        """Answer with a file, None where there is no such file."""
        found = self._files.get(name)
        if found is None:
            return None
        is_it = request.query_params.get(_DIGEST) == found.digest
        headers = {"Cache-Control": _FOR_EVER if is_it else _ONCE}
        return compressed(request, found.content, found.media_type, headers)


def _file(path: Path) -> _File:
    content = path.read_bytes()
    media_type, _ = mimetypes.guess_type(path.name)
    return _File(
        content=content,
        media_type=media_type or "application/octet-stream",
        digest=sha256(content).hexdigest()[:16],
    )


def compressed(request: Request, content: bytes, media_type: str, headers: Mapping[str, str]) -> Response:
    """Answer with bytes that hold no secret, compressed where the browser takes that."""
    told = {**headers, "Vary": "Accept-Encoding"}
    if _takes_gzip(request):
        content, told["Content-Encoding"] = gzip.compress(content, mtime=0), "gzip"
    return Response(content, media_type=media_type, headers=told)


def _takes_gzip(request: Request) -> bool:
    """Tell whether a browser says that it takes gzip (RFC 9110, section 12.5.3)."""
    for each in request.headers.get("accept-encoding", "").lower().split(","):
        coding, _, weight = each.replace(" ", "").partition(";q=")
        if coding == "gzip":
            return not weight or weight.strip("0.") != ""
    return False
