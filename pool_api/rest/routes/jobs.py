"""What jobs cost and earned, uses beside the catalogue of their day, and the quote before a job."""

from typing import Annotated

from fastapi import Path, Query, Response
from starlette.responses import JSONResponse

from pool_api.domain.values import Month, Period
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.job_forms import (
    CheckedUseShown,
    EarningsShown,
    JobShown,
    QuoteForm,
    QuoteShown,
    earnings_csv,
    show_checked_use,
    show_earnings,
    show_job,
    show_quote,
)
from pool_api.rest.media import CSV, JSON, Accept, choose
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import also, files
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import FlagParam, MemberCode, MonthText, PoolId, ShortText
from pool_api.services import jobs
from pool_api.services.jobs import By, QuoteRequest

router = gated_router("jobs", "/pools/{pool}")


@router.get("/jobs", response_model=JobShown, operation_id="read_job", summary="Read what a job cost")
def read(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    job: Annotated[ShortText, Query(description="The job's reference.")],
) -> Response:
    """All uses recorded for a job reference; of an open month as its sheet stands now. Beside what the credits cost
    stands what replacing them costs: on the day of each use, and today."""
    return JSONResponse(show_job(job, jobs.job(office, caller, pool, job), office.currency(pool)))


@router.get(
    "/earnings",
    response_model=EarningsShown,
    operation_id="read_earnings",
    summary="Read what jobs cost and earned",
    responses=files(CSV),
)
def earnings(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    from_month: Annotated[MonthText, Query(description="The first month.")],
    to_month: Annotated[MonthText | None, Query(description="The last month, the first one unless stated.")] = None,
    by: Annotated[By, Query(description="What they are told by.")] = By.TOTAL,
    member: MemberCode | None = None,
    accept: Accept = None,
) -> Response:
    """The uses of some months, by what they have in common; as JSON, or as CSV for those who accept text/csv. A use
    counts in its own month with what reversals have left of it, its cost being that of the month sheet."""
    wanted = choose(accept, (JSON, CSV))
    period = Period(first=Month.parse(from_month), last=Month.parse(to_month or from_month))
    found = jobs.earnings(office, caller, pool, period, by, member)
    if wanted == JSON:
        return replies.told(show_earnings(found))
    return replies.file(earnings_csv(found), CSV, f"earnings-{pool}-{period.first}-{period.last}")


@router.get(
    "/months/{month}/use-checks",
    response_model=Page[CheckedUseShown],
    operation_id="list_use_checks",
    summary="Compare a month's uses with the catalogue of their day",
)
def list_checks(
    pool: PoolId,
    month: Annotated[MonthText, Path()],
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    doubtful: Annotated[FlagParam | None, Query(description="With true, leave out the uses that are in order.")] = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """First entry first, without those of which nothing is left. What was used is what the vendor took: a difference is
    told, and changes nothing."""
    return cursors.page(
        "list_use_checks",
        {"pool": pool, "month": month, "doubtful": doubtful},
        cursor,
        limit,
        read=lambda after, most: jobs.check_uses(
            office, caller, pool, Month.parse(month), doubtful=doubtful is True, after=after or 0, limit=most
        ),
        show=show_checked_use,
        place=lambda each: each.number,
    )


@router.post("/quotes", response_model=QuoteShown, operation_id="quote_job", summary="Quote a job", responses=also(409))
def quote(pool: PoolId, asked: QuoteForm, caller: CallerOf, office: OfficeOf) -> Response:
    """The cheapest items with which all that is wanted is had, the credits, and what they cost at the member's blended
    unit cost and at what the next order would cost. Nothing is kept."""
    currency = office.currency(pool)
    wanted = QuoteRequest(
        member=asked.member,
        items=tuple(asked.items),
        credits=asked.credits,
        price=None if asked.price is None else currency.minor(asked.price),
        on=asked.on,
    )
    return JSONResponse(show_quote(asked, jobs.quote(office, caller, pool, wanted)))
