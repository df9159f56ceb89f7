"""The service's description of itself (OpenAPI 3.1): the framework's, made complete and true.

Which problems an operation can answer with follows from what it is: whether it is open, has parameters, takes a body,
records under an idempotency key, replaces a version. What follows from nothing, a route adds by `also`. All problems
are one media type and one schema; each status lists its codes. Tags, security and licence stand here.
"""

from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from pool_api.rest.auth import SECURITY
from pool_api.rest.problem_types import BY_CODE, PROBLEMS_PATH, ProblemType
from pool_api.rest.problems import MEDIA_TYPE, MOST_FINDINGS

Json = dict[str, Any]

TITLE = "Credit pool"
SUMMARY = "The shared book of shops that buy prepaid vendor credits together."
DESCRIPTION = """\
Credits are whole numbers. Money is decimal text in the pool's currency. Days are dates in the pool's time zone,
instants are UTC.

Whatever records something takes the header `Idempotency-Key` and can be repeated with the same key at any time: it
records once and answers the same. Lists come in pages; the last page has no `next`. Errors are problem documents
(RFC 9457) whose `type` is an address of this service. The header `Accept` counts only where an operation offers several
media types.

Statements, settlements and postings are working papers between members, not tax invoices. A settlement list is not a
payment order, and a payment file is none before its payer hands it to its bank: check names and accounts before money
moves.
"""

TAGS = {
    "pools": "Pools and their terms.",
    "members": "The shops of a pool and their vendor accounts.",
    "keys": "API keys, for programs.",
    "sessions": "Signing in and out; sessions, passwords and second factors of people.",
    "access": "What happened with access: sign-ins, refusals, invitations, roles and keys.",
    "people": "The people of a pool, and invitations by which they come in.",
    "recording": "Recording what happened, one by one or many at once.",
    "journal": "The journal, its entries and their verification.",
    "positions": "What everybody has and owes, on a day.",
    "months": "Month sheets, settlements, closing and reopening.",
    "bookkeeping": "What members give to their banks and bookkeepers: accounts, payment files, double entry.",
    "buying": "The vendor's price ladder, what orders cost, the plan of the next ones, and joint orders.",
    "credit-requests": "Credits that members need by an instant, and who lends them.",
    "catalogue": "What the vendor's items cost in credits, from a day on.",
    "jobs": "What jobs cost and earned, and quotes before them.",
    "vendor-records": "The vendor's own record, and the journal against it.",
    "service": "The service itself.",
}

LOCATION: Json = {
    "Location": {"required": True, "description": "Where it can be read.", "schema": {"type": "string", "minLength": 1}}
}
ETAG: Json = {
    "ETag": {
        "required": True,
        "description": "Names this version of it; send it back in If-Match to change it.",
        "schema": {"type": "string", "pattern": '^"[!#-~]*"$'},
    }
}
"""For a route's `responses={201: {"headers": {**LOCATION, **ETAG}}}`."""


def replaceable(model: type) -> dict[int | str, Json]:
    """Give the `responses` of a route that makes or replaces what is shown by a model."""
    return {
        200: {"headers": ETAG},
        201: {"model": model, "headers": {**LOCATION, **ETAG}, "description": "It was made."},
    }


_PROBLEM_HEADERS: dict[int, Json] = {
    401: {"WWW-Authenticate": {"required": True, "schema": {"type": "string"}}},
    405: {"Allow": {"required": True, "schema": {"type": "string"}}},
    429: {"Retry-After": {"required": True, "schema": {"type": "integer", "minimum": 1}}},
    503: {"Retry-After": {"required": True, "schema": {"type": "integer", "minimum": 1}}},
}

_SCHEMAS = "#/components/schemas"


def also(*statuses: int) -> dict[int | str, Json]:
    """Give the `responses` of a route that can answer with problems of more statuses than follow from what it is."""
    return {status: {"description": ""} for status in statuses}


def files(*media_types: str) -> dict[int | str, Json]:
    """Give the `responses` of a route that answers with JSON, or with a file of one of these types."""
    text = {"schema": {"type": "string"}}
    return {200: {"content": {each: text if each.startswith("text/") else {} for each in media_types}}, **also(406)}


def describe(app: FastAPI, *, version: str) -> Json:
    """Give the OpenAPI document of an application. Refuses: ValueError for a tag that isn't described here."""
    document = get_openapi(
        title=TITLE,
        version=version,
        summary=SUMMARY,
        description=DESCRIPTION,
        routes=app.routes,
        servers=[{"url": "/", "description": "This service."}],
        license_info={"name": "Apache License 2.0", "identifier": "Apache-2.0"},
    )
    used: set[str] = set()
    for path, methods in document["paths"].items():
        for operation in methods.values():
            operation["responses"] = _responses(path, operation)
            used.update(operation["tags"])
    if undescribed := used - TAGS.keys():
        raise ValueError(f"tags without a description: {sorted(undescribed)}")
    document["tags"] = [{"name": tag, "description": said} for tag, said in TAGS.items() if tag in used]
    document["security"] = [{SECURITY: []}]
    components = document.setdefault("components", {})
    components["securitySchemes"] = {
        SECURITY: {
            "type": "http",
            "scheme": "bearer",
            "description": "An API key of the form cp_…_…, or the token of a session of the form cps_…_…",
        }
    }
    schemas = components.setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    schemas.update(_PROBLEM_SCHEMAS)
    components["responses"] = {f"Problem{status}": _response(status) for status in _statuses()}
    return document


def _responses(path: str, operation: Json) -> Json:
    given = operation["responses"]
    found = {int(status) for status in given if int(status) >= 400} | _applicable(path, operation)
    fine = {status: answer for status, answer in given.items() if int(status) < 400}
    if "If-None-Match" in _header_names(operation):
        fine["200"] = {**fine["200"], "headers": ETAG}
        fine["304"] = {"description": "The copy at hand is current.", "headers": ETAG}
    return {**fine, **{str(status): {"$ref": f"#/components/responses/Problem{status}"} for status in sorted(found)}}


def _applicable(path: str, operation: Json) -> set[int]:
    headers = _header_names(operation)
    parts = {
        (): True,
        (401, 403, 503): operation.get("security") != [],
        (404,): "{" in path,
        (422,): "parameters" in operation or "requestBody" in operation,
        (413, 415): "requestBody" in operation,
        (409,): "Idempotency-Key" in headers,
        (412, 428): "If-Match" in headers,
    }
    return {400, 405, 414, 429, 500}.union(*(statuses for statuses, applies in parts.items() if applies))


def _header_names(operation: Json) -> set[str]:
    return {parameter["name"] for parameter in operation.get("parameters", ()) if parameter["in"] == "header"}


def _statuses() -> list[int]:
    return sorted({found.status for found in BY_CODE.values()})


def _response(status: int) -> Json:
    types = [found for found in BY_CODE.values() if found.status == status]
    narrowed = {"properties": {"status": {"const": status}, "code": {"enum": [found.code for found in types]}}}
    described = "; ".join(f"`{found.code}` ({found.title.lower()})" for found in types)
    answer: Json = {
        "description": f"{described}.",
        "content": {
            MEDIA_TYPE: {
                "schema": {"allOf": [{"$ref": f"{_SCHEMAS}/Problem"}, narrowed]},
                "example": _example(types[0]),
            }
        },
    }
    return {**answer, "headers": _PROBLEM_HEADERS[status]} if status in _PROBLEM_HEADERS else answer


def _example(found: ProblemType) -> Mapping[str, str | int]:
    return {
        "type": found.uri,
        "title": found.title,
        "status": found.status,
        "detail": found.advice,
        "code": found.code,
    }


_PROBLEM_SCHEMAS: Json = {
    "Problem": {
        "type": "object",
        "description": "A problem document (RFC 9457). Beside these members it has the figures of its code.",
        "required": ["type", "title", "status", "detail", "code"],
        "properties": {
            "type": {
                "type": "string",
                "format": "uri-reference",
                "pattern": f"^{PROBLEMS_PATH}/[a-z-]+$",
                "description": "The address of a page about this kind of problem.",
            },
            "title": {"type": "string", "description": "Always the same for a type."},
            "status": {"type": "integer", "minimum": 400, "maximum": 599},
            "detail": {"type": "string", "description": "What is wrong this time."},
            "code": {"type": "string", "pattern": "^[a-z-]+$", "description": "The last part of the type."},
            "errors": {
                "type": "array",
                "maxItems": MOST_FINDINGS,
                "items": {"$ref": f"{_SCHEMAS}/Finding"},
                "description": "Of an invalid request: each value that is wrong.",
            },
        },
        "additionalProperties": True,
    },
    "Finding": {
        "type": "object",
        "required": ["detail"],
        "properties": {
            "detail": {"type": "string"},
            "pointer": {"type": "string", "pattern": "^#", "description": "A JSON Pointer into the body."},
            "parameter": {"type": "string", "description": "The name of a parameter."},
            "location": {"type": "string", "enum": ["query", "path", "header", "cookie"]},
        },
        "additionalProperties": False,
    },
}
