"""The composition root of the HTTP service: which layers a request passes, which routes there are, what errors become.

Everything that varies comes in as an argument. Layers, outermost first: edge (what every answer carries), the
framework's, gate (what every request must pass), the routes.
"""

import logging
import time
from collections.abc import Callable, Collection, Iterable
from functools import cache
from typing import Any, NoReturn

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.types import Lifespan

from pool_api.domain.access import Caller
from pool_api.domain.errors import DomainError, NotFound, NotPermitted
from pool_api.rest.auth import CALLER, Doorkeeper, FindKey
from pool_api.rest.edge import Edge
from pool_api.rest.errors import RequestError
from pool_api.rest.gate import Gate, Limits
from pool_api.rest.openapi import describe
from pool_api.rest.problems import from_validation, problem
from pool_api.rest.rates import Buckets, Rate
from pool_api.rest.replies import PREFIX
from pool_api.rest.routes.service import Ready, service_router
from pool_api.store.errors import StoreError

API_VERSION = "1.0.0"

MIB = 1024 * 1024
USUAL_LIMITS = Limits(body=MIB, upload=64 * MIB)
USUAL_RATE = Rate(burst=2_000, per_second=1_000)
USUAL_FAILURES = Rate(burst=50, per_second=1)

RefusedWrite = Callable[[Caller, str, str, str], None]
"""Does with a refused write what is to be done: who asked, the refusal's code, method and path."""

_READS = frozenset({"GET", "HEAD", "OPTIONS"})

_log = logging.getLogger(__name__)


def create_app(  # noqa: PLR0913 - the composition root is given all that varies
    *,
    find_key: FindKey,
    ready: Ready,
    new_id: Callable[[], str],
    routers: Iterable[APIRouter] = (),
    lifespan: Lifespan[FastAPI] | None = None,
    limits: Limits = USUAL_LIMITS,
    rate: Rate = USUAL_RATE,
    failures: Rate = USUAL_FAILURES,
    docs: bool = True,
    proxies: Collection[str] = (),
    monotonic_ns: Callable[[], int] = time.monotonic_ns,
    refused_write: RefusedWrite | None = None,
) -> FastAPI:
    """Put the service together.

    Takes:   find_key — who a key belongs to (auth.py);
             ready — what is missing (routes/service.py);
             new_id — gives each request a text of its own;
             routers — made by gated_router, one per resource, put under PREFIX;
             rate — of one key, or of one peer on open addresses;
             failures — of one peer's failed authentications;
             docs — whether /docs is there;
             proxies — addresses whose word is taken for where a request came from (peers.py);
             monotonic_ns — a clock, for the rates only;
             refused_write — told of each write that its caller may not do, before that is answered.
    Refuses: ValueError for a route that isn't behind the gate."""
    app = FastAPI(
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=lifespan,
        telemetry={"auto_configure": False},
    )
    document = cache(lambda: describe(app, version=API_VERSION))
    app.openapi = document  # type: ignore[method-assign]
    app.state.refused_write = refused_write
    for router in routers:
        app.include_router(router, prefix=PREFIX)
    app.include_router(service_router(ready, document, docs=docs))
    doorkeeper = Doorkeeper(find_key, Buckets(failures, monotonic_ns))
    gate = Gate(app.routes, doorkeeper, Buckets(rate, monotonic_ns), limits, frozenset(proxies))
    app.router.routes.insert(0, gate)
    app.add_middleware(Edge, new_id=new_id)
    app.add_exception_handler(DomainError, _refused)
    app.add_exception_handler(RequestError, _refused)
    app.add_exception_handler(StoreError, _unserved)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _unforeseen)
    return app


async def _refused(request: Request, error: Exception) -> Response:
    if not isinstance(error, DomainError | RequestError):
        raise error
    caller: Caller | None = request.scope.get(CALLER)
    if isinstance(error, NotPermitted):
        key_id = caller.key_id if caller else "none"
        _log.warning("not permitted: key %s, %s %r: %s", key_id, request.method, request.url.path, error)
    if caller is not None and request.method not in _READS and _is_of_access(error):
        tell: RefusedWrite | None = request.app.state.refused_write
        if tell is not None:
            tell(caller, error.code, request.method, request.scope["path"])
    return problem(error)


def _is_of_access(error: DomainError | RequestError) -> bool:
    """Tell whether an error says that the caller has no right, in a pool or to know of it."""
    return isinstance(error, NotPermitted) or (isinstance(error, NotFound) and error.what == "pool")


async def _unserved(_: Request, error: Exception) -> Response:
    if not isinstance(error, StoreError):
        raise error
    _log.warning("the store could not serve", exc_info=error)
    return problem(error)


async def _invalid(_: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise error
    found: list[dict[str, Any]] = list(error.errors())
    return problem(from_validation(found, error.body))


async def _unforeseen(_: Request, error: Exception) -> NoReturn:
    """Nothing here speaks through the framework's own errors: whatever comes as one is a mistake of ours."""
    raise error
