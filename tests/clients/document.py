"""The OpenAPI document as these tests look at it: its operations, and values made from its schemas."""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import httpx
from jsonschema_rs import Draft202012Validator

ROOT = Path(__file__).parents[2]
DOCUMENT: dict[str, Any] = json.loads((ROOT / "pool_api" / "openapi.json").read_text())

OPERATIONS: dict[tuple[str, str], dict[str, Any]] = {
    (method.upper(), path): operation
    for path, methods in DOCUMENT["paths"].items()
    for method, operation in methods.items()
    if path.startswith("/v1/")
}
"""Each operation by method and path; what the service says about itself, outside /v1, is no part of the client."""

_BY_PATTERN = {
    "^[0-9a-f]{64}$": "0" * 64,
    "^[0-9a-f]{12}$": "4f0c8e12ab34",
    "^[0-9]{8,}$": "00000007",
    "^[A-Z2-7]{32}$": "GEZDGNBV" * 4,
    "^otpauth://totp/": "otpauth://totp/Credit%20pool:Ines?secret=" + "GEZDGNBV" * 4,
    "^[a-z2-7]{5}(-[a-z2-7]{5}){3}-[a-z2-7]{6}$": "abcde-fghij-klmno-pqrst-uvwxy2",
}

_OWN = {"quantity": 54, "cost": "402.79"}
_OPEN = {"lender": "BIRCH", "borrower": "DOGWOOD", "quantity": 14, "amount": "98.93"}
_LOAN = {**_OPEN, "unit_price": "7.0667"}
_FREE: dict[tuple[str, str], Any] = {
    ("EntryShown", "kind"): "loan",
    ("EntryShown", "body"): {"lender": "BIRCH", "borrower": "DOGWOOD", "quantity": 24, "unit_price": "7.5"},
    ("StatementLineShown", "on"): "2026-11-03",
    ("StatementShown", "rests_on"): {"number": 14, "hash": "0" * 64},
    ("StatementShown", "opening"): {"held": 20, "own": _OWN},
    ("StatementShown", "closing"): {"held": 54, "own": _OWN},
    ("StatementShown", "blended"): {"from": {"draws": _OWN}, "available": _OWN, "uses": _OWN, "unit_cost": "7.4591"},
    ("StatementShown", "loans"): [_LOAN],
    ("StatementShown", "loans_carried"): [_LOAN],
    ("StatementShown", "loans_returned"): [_LOAN],
    ("StatementShown", "carried_settled"): [_OPEN],
    ("StatementShown", "open_loans"): [_OPEN],
    ("StatementShown", "due"): [{"line": "draws", "words": "draws from stock", "amount": "-848.00"}],
    ("StatementShown", "payments"): [
        {"id": "2026-11-1", "other": "BIRCH", "direction": "to make", "amount": "961.07", "paid": "0.00"}
    ],
}
"""What schemas leave open, as the service gives it: that it does is tried by the tests with a real service."""


TEXTS = {"text/csv": "section,entry\r\n", "application/xml": "<Document/>\n"}
"""What answers in other media types than JSON are here."""


def parameters(operation: Mapping[str, Any], place: str) -> set[str]:
    """Give the names of an operation's parameters of a place."""
    return {each["name"] for each in operation.get("parameters", ()) if each["in"] == place}


def answer_schema(operation: Mapping[str, Any]) -> dict[str, Any] | None:
    """Give the schema of an operation's answer when it succeeds, None where it says nothing, or nothing in JSON."""
    status = min(each for each in operation["responses"] if each.startswith("2"))
    content = operation["responses"][status].get("content", {})
    schema: dict[str, Any] | None = content.get("application/json", {}).get("schema")
    return schema


def body_schema(operation: Mapping[str, Any]) -> dict[str, Any]:
    """Give the schema of what an operation takes."""
    (content,) = operation["requestBody"]["content"].values()
    return resolved(content["schema"])


def resolved(schema: dict[str, Any]) -> dict[str, Any]:
    """Give a schema itself where it is only pointed at."""
    if "$ref" not in schema:
        return schema
    found: dict[str, Any] = DOCUMENT["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    return found


def flaws(schema: dict[str, Any], value: Any) -> list[str]:
    """Give what a schema says against a value."""
    whole = {**schema, "components": DOCUMENT["components"]}
    return [error.message for error in Draft202012Validator(whole).iter_errors(value)]


def sample(schema: dict[str, Any], *, full: bool) -> Any:
    """Make a value that a schema describes: with every member it names, or with those that are required."""
    schema = resolved(schema)
    if "anyOf" in schema:
        return sample(next(each for each in schema["anyOf"] if each.get("type") != "null"), full=full)
    if "enum" in schema or "const" in schema:
        return schema.get("const", schema.get("enum", [None])[0])
    match schema["type"]:
        case "object":
            return _object(schema, full=full)
        case "array":
            return [sample(schema["items"], full=full)] * schema.get("minItems", 1) if "items" in schema else []
        case "integer":
            return schema.get("examples", [max(int(schema.get("minimum", 3)), 3)])[0]
        case "boolean":
            return True
        case _:
            return schema.get("examples", [_BY_PATTERN.get(schema.get("pattern", ""), "words")])[0]


def _object(schema: dict[str, Any], *, full: bool) -> dict[str, Any]:
    names = schema.get("properties", {})
    wanted = names if full else schema.get("required", ())
    made = {
        name: _FREE[schema["title"], name] if (schema.get("title"), name) in _FREE else sample(names[name], full=full)
        for name in wanted
    }
    more = schema.get("additionalProperties")
    return {"any": sample(more, full=full)} if not names and isinstance(more, dict) else made


def answered(request: httpx.Request) -> httpx.Response:
    """Answer a request as the document says, with values made from it: a service that knows nothing but its form."""
    path = request.url.raw_path.partition(b"?")[0].decode()
    fitting = (
        (template.count("{"), operation)
        for (method, template), operation in OPERATIONS.items()
        if method == request.method and re.fullmatch(re.sub(r"{\w+}", "[^/]+", template), path)
    )
    _, operation = min(fitting, key=lambda each: each[0])
    status = int(min(each for each in operation["responses"] if each.startswith("2")))
    if request.headers["Accept"] != "application/json":
        return httpx.Response(status, text=TEXTS.get(request.headers["Accept"], "a file"))
    schema = answer_schema(operation)
    if schema is None:
        return httpx.Response(status)
    told = sample(schema, full=True)
    if "next" in told:
        del told["next"]
    return httpx.Response(status, json=told, headers={"ETag": '"3"'})
