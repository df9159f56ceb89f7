"""What ordering together was worth to each member."""

from typing import Annotated

from fastapi import Query, Response

from pool_api.domain.values import Month, Period
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.media import CSV, JSON, Accept, choose
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import also, files
from pool_api.rest.saving_forms import SavingsShown, savings_csv, show_savings
from pool_api.rest.wire import MonthText, PoolId
from pool_api.services import savings

router = gated_router("buying", "/pools/{pool}")


@router.get(
    "/savings",
    response_model=SavingsShown,
    operation_id="read_savings",
    summary="Read what ordering together was worth",
    responses={**files(CSV), **also(409)},
)
def read(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    from_month: Annotated[MonthText, Query(description="The first month.")],
    to_month: Annotated[MonthText | None, Query(description="The last month, the first one unless stated.")] = None,
    accept: Accept = None,
) -> Response:
    """What each member paid in some months beside what it would have paid alone, and one joint order of each month for
    all that was drawn, shared by each rule; as JSON, or each member's months as CSV for those who accept text/csv. A
    clerk sees its own member's figures."""
    wanted = choose(accept, (JSON, CSV))
    period = Period(first=Month.parse(from_month), last=Month.parse(to_month or from_month))
    found = savings.savings(office, caller, pool, period)
    if wanted == JSON:
        return replies.told(show_savings(found))
    return replies.file(savings_csv(found), CSV, f"savings-{pool}-{period.first}-{period.last}")
