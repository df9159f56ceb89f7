"""The description: which problems follow from what an operation is; what is the service's own is tried in
test_description.py."""

from typing import Annotated, Any

import pytest
from fastapi import APIRouter, Response
from openapi_spec_validator import validate

from pool_api.rest.conditions import IfMatch, IfMatchOrNew, IfNoneMatch
from pool_api.rest.gate import OPEN, gated_router, takes_upload
from pool_api.rest.openapi import ETAG, LOCATION, TAGS, also
from pool_api.rest.pages import Cursor, Limit, Page
from pool_api.rest.problem_types import BY_CODE
from pool_api.rest.wire import Credits, IdempotencyKey, PoolId, WireModel
from tests.rest.asgi import make_app


class Form(WireModel):
    quantity: Credits


def things() -> APIRouter:
    router = gated_router("recording", "/things")

    @router.get("")
    async def list_all(limit: Limit = 50, cursor: Cursor = None) -> Page[int]:  # noqa: ARG001
        return Page(items=[])

    @router.get("/plain")
    async def read_plain() -> Form:
        return Form(quantity=1)

    @router.get("/open", openapi_extra=OPEN)
    async def read_open() -> Form:
        return Form(quantity=1)

    @router.get("/more", responses=also(406, 409))
    async def read_more() -> Form:
        return Form(quantity=1)

    @router.get("/tagged")
    async def read_tagged(copies: IfNoneMatch = None) -> Form:  # noqa: ARG001
        return Form(quantity=1)

    @router.post("/{pool}", status_code=201, responses={201: {"headers": {**LOCATION, **ETAG}}})
    async def record(pool: PoolId, asked: Form, key: IdempotencyKey) -> Form:  # noqa: ARG001
        return asked

    @router.put("/{pool}")
    async def put(pool: PoolId, asked: Form, tag: IfMatchOrNew = None) -> Form:  # noqa: ARG001
        return asked

    @router.delete("/{pool}", status_code=204)
    async def delete(pool: PoolId, tag: IfMatch) -> Response:  # noqa: ARG001
        return Response(status_code=204)

    @router.post("/{pool}/upload", openapi_extra=takes_upload("text/csv", description="A file."))
    async def upload(pool: PoolId) -> Form:  # noqa: ARG001
        return Form(quantity=1)

    return router


DOCUMENT: dict[str, Any] = make_app(things()).openapi()
ALWAYS = {400, 405, 414, 429, 500}
CLOSED = ALWAYS | {401, 403, 503}


@pytest.mark.parametrize(
    ("method", "path", "success", "problems"),
    [
        ("get", "", 200, CLOSED | {422}),
        ("get", "/plain", 200, CLOSED),
        ("get", "/open", 200, ALWAYS),
        ("get", "/more", 200, CLOSED | {406, 409}),
        ("post", "/{pool}", 201, CLOSED | {404, 409, 413, 415, 422}),
        ("put", "/{pool}", 200, CLOSED | {404, 412, 413, 415, 422, 428}),
        ("delete", "/{pool}", 204, CLOSED | {404, 412, 422, 428}),
        ("post", "/{pool}/upload", 200, CLOSED | {404, 413, 415, 422}),
    ],
)
def test_the_problems_of_an_operation_follow_from_what_it_is(
    method: str, path: str, success: int, problems: set[int]
) -> None:
    responses = DOCUMENT["paths"][f"/v1/things{path}"][method]["responses"]

    assert {str(status) for status in problems | {success}} == set(responses)
    for status in problems:
        assert responses[str(status)] == {"$ref": f"#/components/responses/Problem{status}"}


def test_every_problem_is_one_media_type_and_lists_the_codes_of_its_status() -> None:
    responses = DOCUMENT["components"]["responses"]

    assert {f"Problem{kind.status}" for kind in BY_CODE.values()} == set(responses)
    for name, response in responses.items():
        [(media_type, content)] = response["content"].items()
        codes = {kind.code for kind in BY_CODE.values() if f"Problem{kind.status}" == name}
        assert media_type == "application/problem+json"
        assert codes == set(content["schema"]["allOf"][1]["properties"]["code"]["enum"])
        assert content["example"]["code"] in codes


@pytest.mark.parametrize(
    ("status", "header"), [(401, "WWW-Authenticate"), (405, "Allow"), (429, "Retry-After"), (503, "Retry-After")]
)
def test_a_header_that_a_problem_always_has_is_described(status: int, header: str) -> None:
    assert DOCUMENT["components"]["responses"][f"Problem{status}"]["headers"][header]["required"] is True


def test_the_frameworks_own_error_form_is_nowhere() -> None:
    assert not {"HTTPValidationError", "ValidationError"} & set(DOCUMENT["components"]["schemas"])
    assert "HTTPValidationError" not in str(DOCUMENT)


def test_everything_needs_a_key_but_what_says_it_is_open() -> None:
    is_open = {
        path
        for path, methods in DOCUMENT["paths"].items()
        for operation in methods.values()
        if operation.get("security") == []
    }

    assert DOCUMENT["security"] == [{"apiKey": []}]
    assert DOCUMENT["components"]["securitySchemes"]["apiKey"]["scheme"] == "bearer"
    assert is_open == {"/v1/things/open", "/healthz", "/readyz", "/problems", "/problems/{code}"}


def test_the_headers_of_a_creation_are_described() -> None:
    headers = DOCUMENT["paths"]["/v1/things/{pool}"]["post"]["responses"]["201"]["headers"]

    assert set(headers) == {"Location", "ETag"}


def test_a_read_that_asks_about_copies_is_described_with_its_tag_and_304() -> None:
    responses = DOCUMENT["paths"]["/v1/things/tagged"]["get"]["responses"]

    assert set(responses["200"]["headers"]) == {"ETag"} == set(responses["304"]["headers"])
    assert "content" not in responses["304"]


def test_an_idempotency_key_is_described_as_needed_and_an_optional_tag_is_not() -> None:
    post, put = (DOCUMENT["paths"]["/v1/things/{pool}"][method]["parameters"] for method in ("post", "put"))
    needed = {parameter["name"]: parameter["required"] for parameter in (*post, *put)}

    assert needed == {"pool": True, "Idempotency-Key": True, "If-Match": False}


def test_an_upload_is_described_by_what_the_gate_enforces() -> None:
    body = DOCUMENT["paths"]["/v1/things/{pool}/upload"]["post"]["requestBody"]

    assert body["required"] is True
    assert set(body["content"]) == {"text/csv"}


def test_the_document_is_valid_and_only_used_tags_are_described() -> None:
    validate(DOCUMENT)

    assert [tag["name"] for tag in DOCUMENT["tags"]] == ["recording", "service"]
    assert {tag["name"]: tag["description"] for tag in DOCUMENT["tags"]}.items() <= TAGS.items()


def test_a_tag_that_is_not_described_is_a_mistake() -> None:
    router = gated_router("colours", "/colours")

    @router.get("")
    async def list_all(limit: Annotated[int, Limit] = 50) -> Page[int]:  # noqa: ARG001
        return Page(items=[])

    with pytest.raises(ValueError, match="colours"):
        make_app(router).openapi()


def test_an_operation_is_called_by_its_function_and_its_tag() -> None:
    assert DOCUMENT["paths"]["/v1/things"]["get"]["operationId"] == "list_all_recording"
