"""Problem documents (RFC 9457): what an error looks like to the one who asked.

Members: type, title, status, detail, code, and the error's fields. The same error always gives the same bytes, so that
a replayed refusal equals the first. Nothing of the inside gets out: the sentences of store errors and of programming
mistakes stay in the log. Which class has which status and title stands in problem_types.py.
"""

import json
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

from starlette.responses import Response

from pool_api.domain.errors import CodesPaused, DomainError
from pool_api.rest.errors import (
    IdempotencyKeyMalformed,
    IdempotencyKeyMissing,
    InvalidRequest,
    PreconditionFailed,
    PreconditionRequired,
    RequestError,
)
from pool_api.rest.problem_types import TYPES
from pool_api.store.errors import StoreError

MEDIA_TYPE = "application/problem+json"

MOST_FINDINGS = 100
"""Findings listed in one answer; count says how many there are."""

_MOST_SHOWN = 60

_SECRETS = frozenset({"password", "current", "new", "token", "ticket", "code"})
"""Members of bodies whose values are never said back."""


def problem(error: DomainError | RequestError | StoreError) -> Response:
    """Give the answer that tells a caller of an error. KeyError for a class without a row."""
    found = TYPES[type(error)]
    figures = {} if isinstance(error, StoreError) else error.fields()
    if isinstance(error, DomainError) and error.command is not None:
        figures = {"command": error.command, **figures}
    document = {
        "type": found.uri,
        "title": found.title,
        "status": found.status,
        "detail": found.advice if isinstance(error, StoreError) else str(error),
        "code": found.code,
        **figures,
    }
    headers = {**found.headers, **(error.headers() if isinstance(error, RequestError) else {})}
    if isinstance(error, CodesPaused):
        headers["Retry-After"] = str(error.seconds)
    return Response(
        json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace"),
        found.status,
        headers,
        MEDIA_TYPE,
    )


def from_validation(findings: Sequence[dict[str, Any]], body: Any) -> RequestError:
    """Give the refusal for what the validation of a request's values found.

    Takes:   findings — as Pydantic lists them, with where each is as the framework says: body, query, path, header;
             body — the body as it was sent, so that what points into it points at something.
    Gives:   the refusal for a missing or malformed idempotency key before anything else; that for If-Match only when
             nothing else is wrong, as preconditions come last (RFC 9110, 13.2.1)."""
    others = []
    condition: RequestError | None = None
    for found in findings:
        place = tuple(found["loc"])
        header = str(place[-1]).lower() if place[0] == "header" else ""
        missing = found["type"] == "missing"
        if header == "idempotency-key":
            return IdempotencyKeyMissing() if missing else IdempotencyKeyMalformed()
        if header == "if-match":
            condition = PreconditionRequired() if missing else PreconditionFailed()
        else:
            others.append(_finding(found, place, body))
    if condition is not None and not others:
        return condition
    return InvalidRequest(count=len(others), errors=others[:MOST_FINDINGS])


def _finding(found: dict[str, Any], place: tuple[Any, ...], body: Any) -> dict[str, str]:
    if place[0] == "body":
        where = {"pointer": pointer(place[1:], body, missing=found["type"] == "missing")}
    else:
        where = {"parameter": str(place[-1]), "location": str(place[0])}
    secret = place[-1] in _SECRETS
    return {"detail": _sentence({**found, "input": None} if secret else found), **where}


def pointer(place: Sequence[Any], body: Any, *, missing: bool) -> str:
    """Give the JSON Pointer (RFC 6901, as a fragment) of a place in a body.

    Steps that the body doesn't have, such as the name of the variant that was tried, are left out; the last one stays
    when it names a missing member."""
    steps = []
    here = body
    for at, step in enumerate(place):
        in_object = isinstance(here, dict) and isinstance(step, str) and step in here
        if in_object or (isinstance(here, list) and isinstance(step, int) and step < len(here)):
            here = here[step]
        elif not (missing and at == len(place) - 1):
            continue
        steps.append(quote(str(step).replace("~", "~0").replace("/", "~1"), safe="~!$&'()*+,;=:@"))
    return "/".join(["#", *steps])


def _sentence(found: dict[str, Any]) -> str:
    match found["type"]:
        case "missing":
            return "It is required."
        case "extra_forbidden":
            return "It is not known here."
        case _:
            return f"{found['msg'].removeprefix('Value error, ')}{_shown(found.get('input'))}."


def _shown(value: Any) -> str:
    if value is not None and not isinstance(value, bool | int | str):
        return ""
    text = json.dumps(value, ensure_ascii=False)
    return f"; it is {text}" if len(text) <= _MOST_SHOWN else ""
