"""The service about itself: whether it is up and ready, what its problems mean, and the description of its API.

All of it is open: load balancers and readers of a problem document have no key. Nothing here tells a version of
anything but the API.
"""

import json
from collections.abc import Awaitable, Callable
from functools import cache
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Response
from pydantic import Field

from pool_api.domain.errors import NotFound
from pool_api.rest import html
from pool_api.rest.conditions import IfNoneMatch, content_tag, is_current
from pool_api.rest.errors import NotReady
from pool_api.rest.gate import OPEN, gated_router
from pool_api.rest.media import JSON, Accept, choose
from pool_api.rest.openapi import also
from pool_api.rest.problem_types import BY_CODE, PROBLEMS_PATH, ProblemType
from pool_api.rest.reference import reference_page
from pool_api.rest.wire import WireModel

Ready = Callable[[], Awaitable[list[str]]]
"""Gives the names of what the service needs and hasn't got now; none when it is ready."""


class Health(WireModel):
    """That the process answers."""

    status: Literal["up", "ready"]


class ProblemKind(WireModel):
    """A kind of problem: what is the same in every document of it, and what can be done about it."""

    code: str
    type: str
    status: Annotated[int, Field(ge=400, le=599)]
    title: str
    advice: str


class ProblemKinds(WireModel):
    """Every kind of problem that this service knows, by code."""

    items: list[ProblemKind]


ProblemCode = Annotated[str, Path(json_schema_extra={"enum": list(BY_CODE)}, max_length=64)]

_TWO_FORMS: dict[int | str, dict[str, Any]] = {200: {"content": {html.MEDIA_TYPE: {"schema": {"type": "string"}}}}}


def service_router(ready: Ready, describe: Callable[[], dict[str, Any]], *, docs: bool) -> APIRouter:
    """Give the routes. describe gives the OpenAPI document once all routes are in place."""
    router = gated_router("service")
    _add_health(router, ready)
    _add_problems(router)
    _add_description(router, describe, docs=docs)
    return router


def _add_health(router: APIRouter, ready: Ready) -> None:
    @router.get("/healthz", summary="Ask whether the process answers", openapi_extra=OPEN)
    async def read_health() -> Health:
        return Health(status="up")

    @router.get("/readyz", summary="Ask whether requests can be served", openapi_extra=OPEN, responses=also(503))
    async def read_readiness() -> Health:
        if failing := await ready():
            raise NotReady(failing=failing)
        return Health(status="ready")


def _add_problems(router: APIRouter) -> None:
    @router.get(
        PROBLEMS_PATH,
        summary="List the kinds of problems",
        openapi_extra=OPEN,
        response_model=ProblemKinds,
        responses=_TWO_FORMS | also(406),
    )
    async def list_problems(accept: Accept = None) -> Response:
        if _wants_html(accept):
            rows = [[html.link(kind.code, kind.uri), str(kind.status), kind.title] for kind in BY_CODE.values()]
            return html.page("Problems", html.table(["Code", "Status", "Title"], rows))
        return _json(ProblemKinds(items=[_kind(kind) for kind in BY_CODE.values()]))

    @router.get(
        PROBLEMS_PATH + "/{code}",
        summary="Read about a kind of problem",
        openapi_extra=OPEN,
        response_model=ProblemKind,
        responses=_TWO_FORMS | also(406),
    )
    async def read_problem(code: ProblemCode, accept: Accept = None) -> Response:
        kind = BY_CODE.get(code)
        if kind is None:
            raise NotFound(what="kind of problem", name=code)
        if _wants_html(accept):
            status = html.paragraph("Status ", html.code(str(kind.status)), ", code ", html.code(kind.code), ".")
            return html.page(kind.title, status, html.paragraph(kind.advice))
        return _json(_kind(kind))


def _add_description(router: APIRouter, describe: Callable[[], dict[str, Any]], *, docs: bool) -> None:
    @cache
    def written() -> bytes:
        return json.dumps(describe(), ensure_ascii=False, separators=(",", ":")).encode()

    @cache
    def tag() -> str:
        return content_tag(written())

    @cache
    def reference() -> bytes:
        return reference_page(describe())

    @router.get("/openapi.json", include_in_schema=False, openapi_extra=OPEN)
    async def read_description(if_none_match: IfNoneMatch = None) -> Response:
        headers = {"ETag": tag(), "Cache-Control": "no-cache"}
        if is_current(if_none_match, tag()):
            return Response(status_code=304, headers=headers)
        return Response(written(), media_type=JSON, headers=headers)

    if docs:

        @router.get("/docs", include_in_schema=False, openapi_extra=OPEN)
        async def read_docs() -> Response:
            return html.answer(reference())


def _wants_html(accept: str | None) -> bool:
    return choose(accept, (JSON, html.MEDIA_TYPE)) == html.MEDIA_TYPE


def _kind(found: ProblemType) -> ProblemKind:
    return ProblemKind(code=found.code, type=found.uri, status=found.status, title=found.title, advice=found.advice)


def _json(model: WireModel) -> Response:
    return Response(model.model_dump_json(), media_type=JSON, headers={"Vary": "Accept"})
