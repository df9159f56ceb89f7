"""The edge: what every answer carries, errors of every kind included, and that nothing of the inside gets out."""

import logging
import re
from collections.abc import AsyncIterator
from typing import Any

import pytest
from fastapi import APIRouter, FastAPI, HTTPException
from fastapi.responses import StreamingResponse
from starlette.requests import ClientDisconnect
from starlette.responses import Response

from pool_api.domain.errors import NotEnoughHeld
from pool_api.rest.gate import OPEN, Limits, gated_router
from pool_api.rest.wire import WireModel
from pool_api.store.errors import StoreBusy, StoreConflict, StoreUnavailable
from tests.rest.asgi import KEEPER, call, make_app, told

SECRET = "postgresql://book:hunter2@db/pool"


class Thing(WireModel):
    quantity: int


def raiser(error: BaseException) -> Any:
    async def raise_it() -> None:
        raise error

    return raise_it


FAILURES: dict[str, BaseException] = {
    "mistake": RuntimeError(SECRET),
    "missing": KeyError(SECRET),
    "busy": StoreBusy(SECRET),
    "conflict": StoreConflict("uq_secret"),
    "gone": StoreUnavailable(SECRET),
    "refused": NotEnoughHeld(member="ALDER", held=3, quantity=5),
    "framework": HTTPException(418, SECRET),
}


def things() -> APIRouter:
    router = gated_router("recording", "/things")
    for name, error in FAILURES.items():
        router.add_api_route(f"/{name}", raiser(error), methods=["GET"], operation_id=name)

    @router.post("")
    async def make(asked: Thing) -> Thing:
        return asked

    @router.get("/unfit", response_model=Thing)
    async def read_unfit() -> dict[str, str]:
        return {"quantity": SECRET}

    @router.get("/own", openapi_extra=OPEN)
    async def read_own() -> Response:
        return Response("x", headers={"Cache-Control": "max-age=60", "Content-Security-Policy": "default-src 'self'"})

    @router.get("/half", openapi_extra=OPEN)
    async def read_half() -> StreamingResponse:
        async def halves() -> AsyncIterator[bytes]:
            yield b"half"
            raise RuntimeError(SECRET)

        return StreamingResponse(halves())

    return router


@pytest.fixture(scope="module")
def app() -> FastAPI:
    return make_app(things(), limits=Limits(body=100, upload=100))


EVERYTHING = {
    "a good answer": ("GET", "/healthz", 200),
    "a page": ("GET", "/docs", 200),
    "no content": ("OPTIONS", "/healthz", 204),
    "unknown address": ("GET", "/nowhere", 404),
    "unknown method": ("PUT", "/healthz", 405),
    "bad query": ("GET", "/healthz?x=1", 400),
    "unauthenticated": ("GET", "/v1/things/busy", 401),
    "refused": ("GET", "/v1/things/refused", 409),
    "store busy": ("GET", "/v1/things/busy", 503),
    "store conflict": ("GET", "/v1/things/conflict", 409),
    "store gone": ("GET", "/v1/things/gone", 503),
    "mistake": ("GET", "/v1/things/mistake", 500),
    "missing": ("GET", "/v1/things/missing", 500),
    "framework's own error": ("GET", "/v1/things/framework", 500),
    "answer of another form": ("GET", "/v1/things/unfit", 500),
    "head": ("HEAD", "/v1/things/mistake", 500),
    "no body": ("POST", "/v1/things", 415),
    "large body": ("POST", "/v1/things", 413),
    "bad body": ("POST", "/v1/things", 400),
    "other body": ("POST", "/v1/things", 422),
}
BODIES = {"large body": b"x" * 101, "bad body": b"{", "other body": b'{"quantity":"x"}'}


@pytest.mark.parametrize("what", EVERYTHING)
def test_every_answer_carries_the_security_headers_and_its_requests_id(app: FastAPI, what: str) -> None:
    method, path, status = EVERYTHING[what]
    answer = call(
        app,
        method,
        path,
        key=None if what == "unauthenticated" else KEEPER,
        headers={"Content-Type": "application/json"} if what in BODIES else {},
        body=BODIES.get(what, b""),
    )

    assert status == answer.status_code
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cross-origin-opener-policy"] == "same-origin"
    for rule in ("default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert rule in answer.headers["content-security-policy"]
    assert re.fullmatch(r"request-\d+", answer.headers["x-request-id"])
    assert not {"server", "x-powered-by", "access-control-allow-origin"} & set(answer.headers)
    assert len(answer.headers) == len(answer.headers.multi_items())


@pytest.mark.parametrize("what", [what for what, (_, _, status) in EVERYTHING.items() if status >= 400])
def test_every_error_is_a_problem_that_tells_nothing_of_the_inside(app: FastAPI, what: str) -> None:
    method, path, status = EVERYTHING[what]
    answer = call(
        app,
        method,
        path,
        key=None if what == "unauthenticated" else KEEPER,
        headers={"Content-Type": "application/json"} if what in BODIES else {},
        body=BODIES.get(what, b""),
    )

    if method != "HEAD":
        assert told(answer)[0] == status
    for inside in ("hunter2", "Traceback", "uq_secret", ".py", "sqlalchemy", "starlette", "fastapi", "RuntimeError"):
        assert inside not in answer.text


def test_hsts_is_sent_over_tls_only(app: FastAPI) -> None:
    """RFC 6797, 7.2: not over plain HTTP. ASVS 5.0, 3.4.1: at least a year, subdomains included."""
    assert "strict-transport-security" not in call(app, "GET", "/healthz").headers
    sent = call(app, "GET", "/healthz", scheme="https").headers["strict-transport-security"]

    assert int(sent.partition("max-age=")[2].partition(";")[0]) >= 365 * 24 * 60 * 60
    assert "includeSubDomains" in sent


def test_a_hostile_origin_is_never_let_in(app: FastAPI) -> None:
    answer = call(app, "GET", "/healthz", headers={"Origin": "https://evil.example"})

    assert not [name for name in answer.headers if name.startswith("access-control-")]


def test_an_answer_may_set_its_own_policies(app: FastAPI) -> None:
    answer = call(app, "GET", "/v1/things/own")

    assert answer.headers.get_list("cache-control") == ["max-age=60"]
    assert answer.headers.get_list("content-security-policy") == ["default-src 'self'"]


def test_a_mistake_is_an_opaque_500_and_its_story_is_in_the_log(app: FastAPI, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        answer = call(app, "GET", "/v1/things/mistake", key=KEEPER)
    request_id = answer.headers["x-request-id"]

    assert answer.json() == {
        "type": "/problems/server-fault",
        "title": "Internal error",
        "status": 500,
        "detail": f"Something went wrong inside the service; it is logged under {request_id}.",
        "code": "server-fault",
        "request_id": request_id,
    }
    [record] = caplog.records
    assert record.getMessage() == f"request {request_id} failed: GET '/v1/things/mistake'"
    assert SECRET in caplog.text
    assert "Traceback" in caplog.text


def test_a_path_can_forge_no_line_of_the_log(caplog: pytest.LogCaptureFixture) -> None:
    router = gated_router("recording", "/things/{name}")
    router.add_api_route("", raiser(RuntimeError("x")), methods=["GET"], openapi_extra=OPEN)

    with caplog.at_level(logging.ERROR):
        call(make_app(router), "GET", "/v1/things/a%0Arequest-9%20failed:%20forged")

    assert "\n" not in caplog.records[0].getMessage()


def test_an_answer_that_breaks_off_breaks_the_connection(app: FastAPI) -> None:
    with pytest.raises(RuntimeError):
        call(app, "GET", "/v1/things/half")


def test_a_client_that_goes_away_is_no_error_of_ours(caplog: pytest.LogCaptureFixture) -> None:
    router = gated_router("recording", "/things")
    router.add_api_route("/gone", raiser(ClientDisconnect()), methods=["GET"], openapi_extra=OPEN)

    with caplog.at_level(logging.INFO), pytest.raises(StopIteration):
        call(make_app(router), "GET", "/v1/things/gone")

    assert [record.levelname for record in caplog.records] == ["INFO"]
    assert caplog.records[0].getMessage() == "request request-1: the client went away"
