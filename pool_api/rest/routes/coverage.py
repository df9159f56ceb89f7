"""Which days of the vendor's record are on file."""

from typing import Annotated, Any

from fastapi import Query, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import OfficeOf
from pool_api.rest.record_forms import GapShown, show_gap
from pool_api.rest.wire import Day, MemberCode, PoolId, ShortText, WireModel, stated
from pool_api.services import coverage
from pool_api.services.coverage import AccountCoverage

router = gated_router("vendor-records", "/pools/{pool}")


class DaysShown(WireModel):
    """Days, both ends included."""

    first_day: Day
    last_day: Day


class DayRowsShown(WireModel):
    """A day with rows: how many count, and the imports that show the day."""

    day: Day
    rows: int = Field(ge=1)
    imports: list[str]


class AccountCoverageShown(WireModel):
    """What is on file of an account; last_day is the last day on file at all."""

    account: ShortText
    member: MemberCode
    last_day: Day | None = None
    rows: int = Field(ge=0)
    spans: list[DaysShown]
    gaps: list[GapShown]
    days: list[DayRowsShown]


class CoverageShown(DaysShown):
    """The days that were looked at, and every account that was a member's on one of them."""

    accounts: list[AccountCoverageShown]


@router.get(
    "/vendor-records/coverage",
    response_model=CoverageShown,
    operation_id="read_coverage",
    summary="Read which days of the vendor's record are on file",
)
def read_coverage(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    from_day: Annotated[Day | None, Query(description="The first of the month before `to_day` unless stated.")] = None,
    to_day: Annotated[Day | None, Query(description="The present day unless stated.")] = None,
) -> Response:
    """By account: spans that files show as a whole, gaps, and rows by day. Of days in a gap, the record's silence
    proves nothing. At most 366 days."""
    (first, last), found = coverage.read_coverage(office, caller, pool, from_day, to_day)
    return JSONResponse({**_span(first, last), "accounts": [_account(each) for each in found]})


def _account(each: AccountCoverage) -> dict[str, Any]:
    return stated(
        {
            "account": each.account,
            "member": each.member,
            "last_day": None if each.last_day is None else each.last_day.isoformat(),
            "rows": each.rows,
            "spans": [_span(first, last) for first, last in each.spans],
            "gaps": [show_gap(gap) for gap in each.gaps],
            "days": [{"day": day.day.isoformat(), "rows": day.rows, "imports": list(day.imports)} for day in each.days],
        }
    )


def _span(first: Any, last: Any) -> dict[str, str]:
    return {"first_day": first.isoformat(), "last_day": last.isoformat()}
