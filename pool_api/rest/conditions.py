"""Entity tags (RFC 9110, 8.8.3 and 13.1): how a version of something changeable is told to a client and asked back.

The tag of a version is its number in quotes; the tag of a content is a digest. All are strong; a weak one never matches
where something is about to be changed, and is as good as a strong one where only a copy is asked about.
"""

import hashlib
import re
from typing import Annotated, overload

from fastapi import Header

IfMatch = Annotated[
    str,
    Header(
        alias="If-Match",
        pattern='^"[1-9][0-9]{0,14}"$',
        max_length=17,
        examples=['"3"'],
        description="The ETag that the thing to be changed was read with.",
    ),
]
"""Of an operation that changes what is there already. Missing it is answered 428, a tag of another form 412."""

IfMatchOrNew = Annotated[
    str | None,
    Header(
        alias="If-Match",
        pattern='^"[1-9][0-9]{0,14}"$',
        max_length=17,
        examples=['"3"'],
        description="The ETag that the thing to be replaced was read with; left out to make what isn't there yet.",
    ),
]
"""Of an operation that makes or replaces."""

IfNoneMatch = Annotated[
    str | None,
    Header(
        alias="If-None-Match",
        max_length=500,
        examples=['"3"'],
        description="ETags of the copies at hand; answered 304 without content when one of them is current.",
    ),
]

_TAG = re.compile(r'(?:W/)?("[\x21\x23-\x7e\x80-\xff]*")')


def version_tag(version: int) -> str:
    """Give the entity tag of a version."""
    return f'"{version}"'


@overload
def version_in(if_match: str) -> int: ...
@overload
def version_in(if_match: str | None) -> int | None: ...
def version_in(if_match: str | None) -> int | None:
    """Give the version that a checked If-Match names, None when there was none."""
    return None if if_match is None else int(if_match.strip('"'))


def content_tag(content: bytes) -> str:
    """Give the entity tag of a content."""
    return f'"{hashlib.sha256(content).hexdigest()[:32]}"'


def is_current(if_none_match: str | None, tag: str) -> bool:
    """Tell whether a client has the current copy already, so that 304 is the answer."""
    if if_none_match is None:
        return False
    return if_none_match.strip() == "*" or tag in _TAG.findall(if_none_match)
