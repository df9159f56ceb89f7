"""The process that bench_writer measures: the service as it is served, beside two routes that do nothing.

    python -m tests.bench.loan_server PORT together|apart

/v1/pools/{pool}/nothing passes the gate, the key and the form of a loan, and records nothing; /bare is a plain route of
the framework. `apart` gives every request a transaction of its own. Settings come from the environment, as ever.
"""

import os
import sys

import uvicorn
from fastapi import FastAPI, Response
from starlette.responses import JSONResponse
from starlette.types import Receive, Scope, Send

from pool_api.__main__ import variables
from pool_api.rest import compose
from pool_api.rest.auth import CallerOf
from pool_api.rest.compose import open_office, serving_app, spare_the_collector
from pool_api.rest.entry_forms import LoanForm
from pool_api.rest.gate import gated_router
from pool_api.rest.rates import Rate
from pool_api.rest.wire import IdempotencyKey, PoolId
from pool_api.settings import read_settings

UNLIMITED = Rate(burst=10**9, per_second=10**9)
NOTHING = gated_router("recording", "/pools/{pool}")
BARE = FastAPI(openapi_url=None)


@NOTHING.post("/nothing", status_code=201)
async def nothing(pool: PoolId, asked: LoanForm, key: IdempotencyKey, caller: CallerOf) -> Response:
    """Take a loan's request and do nothing with it."""
    return JSONResponse({"pool": pool, "quantity": asked.quantity, "key": key, "by": caller.key_id}, 201)


@BARE.post("/bare", status_code=201)
async def bare() -> Response:
    """Do nothing."""
    return Response(status_code=201)


def main() -> None:
    """Serve on a port until stopped."""
    port, way = int(sys.argv[1]), sys.argv[2]
    settings = read_settings(os.environ)
    compose.ROUTERS = (*compose.ROUTERS, NOTHING)
    app = serving_app(settings, open_office(settings, variables(), together=way == "together"), rate=UNLIMITED)

    spare_the_collector()

    async def either(scope: Scope, receive: Receive, send: Send) -> None:
        await (BARE if scope.get("path") == "/bare" else app)(scope, receive, send)

    uvicorn.run(
        either,
        host="127.0.0.1",
        port=port,
        loop="uvloop",
        http="httptools",
        access_log=False,
        server_header=False,
        log_level="warning",
    )


if __name__ == "__main__":
    main()
