"""A small resource behind the gate: one list, one recording, one optional body, one upload, one open address."""

from typing import Any

from fastapi import APIRouter, FastAPI, Request
from fastapi.responses import JSONResponse

from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import OPEN, Limits, gated_router, takes_upload
from pool_api.rest.pages import Cursor, Limit
from pool_api.rest.rates import Rate
from pool_api.rest.wire import Credits, IdempotencyKey, MemberCode, Note, PoolId, WireModel
from tests.rest.asgi import make_app

LIMITS = Limits(body=1_000, upload=5_000)
LOANS = "/v1/pools/riverside/loans"
RECORDS = "/v1/pools/riverside/records"
GOOD = b'{"lender":"BIRCH","borrower":"ALDER","quantity":24}'
JSON_HEADERS = {"Content-Type": "application/json", "Idempotency-Key": "4f1c2a9e-loan-1"}


class LoanForm(WireModel):
    lender: MemberCode
    borrower: MemberCode
    quantity: Credits
    note: Note = ""


class CloseForm(WireModel):
    accept_warnings: int = 0


def loans() -> APIRouter:
    router = gated_router("recording", "/pools/{pool}")

    @router.get("/loans")
    async def list_loans(pool: PoolId, caller: CallerOf, limit: Limit = 50, cursor: Cursor = None) -> dict[str, Any]:
        return {"pool": pool, "caller": caller.key_id, "limit": limit, "cursor": cursor}

    @router.post("/loans", status_code=201)
    async def record_loan(pool: PoolId, asked: LoanForm, key: IdempotencyKey) -> dict[str, Any]:
        return {"pool": pool, "key": key, **asked.model_dump()}

    @router.post("/closing")
    async def close(pool: PoolId, asked: CloseForm | None = None) -> dict[str, Any]:
        return {"pool": pool, "asked": asked and asked.accept_warnings}

    @router.post("/records", openapi_extra=takes_upload("text/csv", description="A file."))
    async def upload(pool: PoolId, request: Request) -> dict[str, Any]:  # noqa: ARG001 - part of the address
        return {"sizes": [len(chunk) async for chunk in request.stream() if chunk]}

    @router.get("/open", openapi_extra=OPEN)
    async def read_open(pool: PoolId) -> JSONResponse:
        return JSONResponse({"pool": pool})

    return router


def lending() -> FastAPI:
    """Make the service with that resource, small limits and generous rates."""
    generous = Rate(burst=10_000, per_second=10_000)
    return make_app(loans(), limits=LIMITS, rate=generous, failures=generous)
