"""The service put together from settings: database, writer, office, routes.

Made by entry points only: time and randomness come in from them.
"""

import gc
import secrets
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from fastapi import APIRouter, FastAPI
from starlette.concurrency import run_in_threadpool
from starlette.types import Lifespan

from pool_api.domain.access import Caller
from pool_api.domain.people import SessionRules
from pool_api.rest.app import USUAL_FAILURES, USUAL_RATE, create_app
from pool_api.rest.gate import Limits
from pool_api.rest.pages import Cursors
from pool_api.rest.rates import Rate
from pool_api.rest.routes import (
    access_events,
    catalogues,
    coverage,
    credit_requests,
    explanations,
    invitations,
    jobs,
    journal,
    keys,
    ladders,
    members,
    months,
    needs,
    order_plans,
    people,
    pools,
    positions,
    postings,
    proof,
    reconciliations,
    recording,
    report,
    rounds,
    savings,
    second_factor,
    sessions,
    settlement_payments,
    transfers,
    vendor,
)
from pool_api.rest.sign_ins import SignIns
from pool_api.services import access_log, callers
from pool_api.services.office import Office
from pool_api.services.passwords import Passwords
from pool_api.services.readiness import cursor_secret, missing
from pool_api.settings import Settings
from pool_api.store.engine import open_engine
from pool_api.store.writer import Writer

ROUTERS: tuple[APIRouter, ...] = (
    pools.router,
    members.router,
    keys.router,
    sessions.router,
    second_factor.router,
    people.router,
    invitations.router,
    access_events.router,
    recording.router,
    journal.router,
    positions.router,
    settlement_payments.router,
    months.router,
    report.router,
    explanations.router,
    transfers.router,
    postings.router,
    coverage.router,
    proof.router,
    ladders.router,
    order_plans.router,
    rounds.router,
    credit_requests.router,
    needs.router,
    savings.router,
    catalogues.router,
    jobs.router,
    vendor.router,
    reconciliations.router,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Variables:
    """What varies from run to run: the aware present instant, and random bytes as hexadecimal text."""

    now: Callable[[], datetime]
    random_hex: Callable[[int], str] = secrets.token_hex


def open_office(settings: Settings, variables: Variables, *, together: bool = True) -> Office:
    """Open the database and put the office together. Refuses: StoreUnfit, StoreUnavailable."""
    engine = open_engine(
        settings.database_url,
        connections=settings.connections,
        lock_wait_ms=settings.lock_wait_ms,
        statement_ms=settings.statement_ms,
    )
    return Office(
        engine=engine,
        writer=Writer(engine, variables.now, together=together),
        now=variables.now,
        random_hex=variables.random_hex,
        passwords=Passwords(memory_kib=settings.password_memory_kib, rounds=settings.password_rounds),
        sessions=SessionRules(
            idle=timedelta(minutes=settings.session_idle_minutes),
            longest=timedelta(hours=settings.session_hours),
            fresh=timedelta(minutes=settings.confirmation_minutes),
        ),
    )


def close_office(office: Office) -> None:
    """Answer and write down what waits, then let go of the database."""
    office.writer.close()
    access_log.note_left_out(office, at_the_end=True)
    office.behind.shutdown()
    office.engine.dispose()


def serving_app(
    settings: Settings,
    office: Office,
    *,
    rate: Rate = USUAL_RATE,
    failures: Rate = USUAL_FAILURES,
    monotonic_ns: Callable[[], int] = time.monotonic_ns,
) -> FastAPI:
    """Give the app that serves an office, the one in its state; it closes the office when it ends.

    Once ended it can be given another office and begin anew: putting its routes together is what takes time."""

    def served() -> Office:
        found: Office = app.state.office
        return found

    async def find_key(digest: str) -> Caller | None:
        remembered = callers.remembered(served(), digest)
        return remembered or await run_in_threadpool(callers.identify, served(), digest)

    async def ready() -> list[str]:
        return await run_in_threadpool(missing, served())

    def refused_write(caller: Caller, code: str, method: str, path: str) -> None:
        access_log.note_refused_write(served(), caller, code=code, method=method, path=path)

    app = create_app(
        find_key=find_key,
        ready=ready,
        refused_write=refused_write,
        new_id=lambda: served().random_hex(8),
        routers=ROUTERS,
        lifespan=_lifespan_of(settings, monotonic_ns),
        limits=Limits(body=settings.most_body_bytes, upload=settings.most_upload_bytes),
        docs=settings.docs,
        rate=rate,
        failures=failures,
        proxies=[each.strip() for each in settings.proxies.split(",") if each.strip()],
        monotonic_ns=monotonic_ns,
    )
    app.state.office = office
    return app


def _lifespan_of(settings: Settings, monotonic_ns: Callable[[], int]) -> Lifespan[FastAPI]:
    """Give what makes an app ready to serve the office in its state, and closes that at the end."""

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        office: Office = app.state.office
        app.state.cursors = Cursors(await run_in_threadpool(cursor_secret, office))
        app.state.sign_ins = sign_ins = SignIns(monotonic_ns, together=settings.password_threads)
        await run_in_threadpool(office.passwords.get_ready)
        yield
        await run_in_threadpool(sign_ins.close)
        await run_in_threadpool(close_office, office)

    return lifespan


def spare_the_collector() -> None:
    """Take what a serving process has made so far, and keeps, out of the garbage collector's rounds.

    Under load the collector would walk through all of it many times a second and find nothing."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 50)


def described() -> dict[str, Any]:
    """Give the OpenAPI document of the service, which depends on no setting and no database."""

    async def nobody(_: str) -> Caller | None:
        return None

    async def ready() -> list[str]:
        return []

    return create_app(find_key=nobody, ready=ready, new_id=str, routers=ROUTERS).openapi()
