"""Pages of a list: how many rows one has, and the cursor that says where the next one starts.

A cursor is opaque, safe in a URL, and worth something only to the list and the filters it was given out for: it carries
the place to go on from and a code (HMAC-SHA-256) over that place, the operation and the filters. It grants nothing: who
may read is asked on every page. The only sign of the end is that `next` is absent.
"""

import base64
import binascii
import hashlib
import hmac
import json
from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Any, Generic, TypeVar

from fastapi import Query
from pydantic import Field
from pydantic.json_schema import SkipJsonSchema
from starlette.responses import JSONResponse, Response

from pool_api.rest.errors import CursorInvalid
from pool_api.rest.wire import PLAIN_DIGITS, WireModel

MOST_ROWS = 200
USUAL_ROWS = 50
MOST_CURSOR_CHARACTERS = 512

Limit = Annotated[
    int,
    Query(ge=1, le=MOST_ROWS, description=f"Rows of a page, {USUAL_ROWS} unless said otherwise."),
    PLAIN_DIGITS,
]
Cursor = Annotated[
    str | None,
    Query(
        min_length=1,
        max_length=MOST_CURSOR_CHARACTERS,
        pattern="^[A-Za-z0-9_-]+$",
        json_schema_extra={"format": "cursor"},
        description="The `next` of the page before, with the same filters; left out for the first page.",
    ),
]

Item = TypeVar("Item")
Row = TypeVar("Row")


class Page(WireModel, Generic[Item]):
    """Some rows of a list, and the cursor of the next page, which is absent on the last."""

    items: list[Item] = Field(max_length=MOST_ROWS)
    next: str | SkipJsonSchema[None] = Field(
        default=None,
        max_length=MOST_CURSOR_CHARACTERS,
        exclude_if=lambda value: value is None,
        description="The cursor of the next page; absent on the last page.",
    )


Place = Sequence[int | str]

_CODE_BYTES = 16


class Cursors:
    """Gives out cursors and reads them back, under a secret that all processes of the service share."""

    def __init__(self, secret: bytes) -> None:
        if len(secret) < _CODE_BYTES:
            raise ValueError(f"the secret of the cursors needs at least {_CODE_BYTES} bytes")
        self._secret = secret

    def page(
        self,
        operation: str,
        filters: Mapping[str, Any],
        cursor: str | None,
        limit: int,
        *,
        read: Callable[[Any, int], Sequence[Row]],
        show: Callable[[Row], dict[str, Any]],
        place: Callable[[Row], int | str],
    ) -> Response:
        """Answer with the page of a list that a cursor asks for.

        Takes:   filters — see seal; read — gives the rows that come after a place (None: from the start), so many at
                 the most; place — the sort key of a row.
        Refuses: CursorInvalid; as read does."""
        after = self.open(operation, filters, cursor)
        found = read(after[0] if after else None, limit + 1)
        shown: dict[str, Any] = {"items": [show(row) for row in found[:limit]]}
        if len(found) > limit:
            shown["next"] = self.seal(operation, filters, [place(found[limit - 1])])
        return JSONResponse(shown)

    def seal(self, operation: str, filters: Mapping[str, Any], place: Place) -> str:
        """Give the cursor that goes on from a place in a list.

        Takes:   filters — everything that narrows or orders the list, the pool included, as JSON values;
                 place — the sort key of the last row given."""
        said = json.dumps(list(place), separators=(",", ":")).encode()
        return base64.urlsafe_b64encode(self._code(operation, filters, said) + said).rstrip(b"=").decode()

    def open(self, operation: str, filters: Mapping[str, Any], cursor: str | None) -> list[Any] | None:
        """Give the place that a cursor goes on from, None without a cursor. Refuses: CursorInvalid."""
        if cursor is None:
            return None
        try:
            sealed = base64.b64decode(cursor.encode() + b"=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        except (binascii.Error, ValueError):
            raise CursorInvalid from None
        code, said = sealed[:_CODE_BYTES], sealed[_CODE_BYTES:]
        one_spelling = base64.urlsafe_b64encode(sealed).rstrip(b"=").decode() == cursor
        if not (hmac.compare_digest(code, self._code(operation, filters, said)) and one_spelling):
            raise CursorInvalid
        place: list[Any] = json.loads(said)
        return place

    def _code(self, operation: str, filters: Mapping[str, Any], said: bytes) -> bytes:
        bound = json.dumps([operation, filters], sort_keys=True, separators=(",", ":"), default=str).encode()
        return hmac.digest(self._secret, b"cursor\0" + bound + b"\0" + said, hashlib.sha256)[:_CODE_BYTES]
