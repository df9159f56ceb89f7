"""The composition root: refused callers and a failing store are logged, and what starts and stops with the app."""

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest
from fastapi import FastAPI

from pool_api.domain.errors import NotPermitted
from pool_api.rest.gate import gated_router
from pool_api.store.errors import StoreUnavailable
from tests.rest.asgi import READER, call, make_app, told


def test_what_a_caller_may_not_do_is_logged_with_its_key_and_without_a_forged_line(
    caplog: pytest.LogCaptureFixture,
) -> None:
    router = gated_router("recording", "/things/{name}")

    @router.get("")
    async def read(name: str) -> None:  # noqa: ARG001 - part of the address
        raise NotPermitted(role="reader", reason="it records nothing")

    with caplog.at_level(logging.WARNING):
        answer = call(make_app(router), "GET", "/v1/things/a%0Ab", key=READER)

    assert told(answer) == (403, "not-permitted")
    [record] = caplog.records
    assert "key cccccccccccc" in record.getMessage()
    assert "it records nothing" in record.getMessage()
    assert "\n" not in record.getMessage()


def test_a_failing_store_is_told_to_the_log_and_not_to_the_caller(caplog: pytest.LogCaptureFixture) -> None:
    router = gated_router("recording", "/things")

    @router.get("")
    async def read() -> None:
        raise StoreUnavailable("disk of host seven is full")

    with caplog.at_level(logging.WARNING):
        answer = call(make_app(router), "GET", "/v1/things", key=READER)

    assert told(answer) == (503, "store-unavailable")
    assert answer.headers["retry-after"] == "5"
    assert "host seven" in caplog.text
    assert "host seven" not in answer.text


def test_the_lifespan_runs_around_the_service() -> None:
    seen = []

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        seen.append("up")
        yield
        seen.append("down")

    app = make_app(lifespan=lifespan)

    async def live() -> None:
        async with app.router.lifespan_context(app):
            seen.append("serving")

    asyncio.run(live())

    assert seen == ["up", "serving", "down"]


def test_the_framework_adds_no_address_of_its_own() -> None:
    app = make_app(docs=False)

    for path in ("/docs", "/redoc", "/docs/oauth2-redirect"):
        assert told(call(app, "GET", path)) == (404, "unknown-path")
