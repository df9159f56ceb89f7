"""Settlement payments: what closes asked for, what is paid of it, and how old is what is not."""

from typing import Annotated, Any

from fastapi import Query, Response
from pydantic import Field

from pool_api.domain.values import Currency, Month
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import FlagParam, MemberCode, MoneyText, MonthText, PoolId, WireModel, stated
from pool_api.services import months
from pool_api.services.months import AskedPayment
from pool_api.store.journal import PaymentFilter

router = gated_router("months", "/pools/{pool}/settlement-payments")


class SettlementPaymentShown(WireModel):
    """A payment that a close asks for; paid is what answers it, without what went beyond it."""

    id: str
    month: MonthText
    payer: MemberCode
    payee: MemberCode
    amount: MoneyText
    paid: MoneyText
    unpaid: MoneyText
    age_days: int | None = Field(
        default=None, ge=0, description="Days since the end of its month, in the pool's time zone; while it is unpaid."
    )


def _show(asked: AskedPayment, currency: Currency) -> dict[str, Any]:
    payment = asked.payment
    return stated(
        {
            "id": payment.id,
            "month": str(payment.month),
            "payer": payment.payer,
            "payee": payment.payee,
            "amount": currency.text(payment.amount),
            "paid": currency.text(payment.paid),
            "unpaid": currency.text(payment.unpaid),
            "age_days": asked.age_days,
        }
    )


@router.get(
    "",
    response_model=Page[SettlementPaymentShown],
    operation_id="list_settlement_payments",
    summary="List settlement payments",
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    *,
    unpaid: Annotated[
        FlagParam | None, Query(description="true: only those that are not paid in full; false: only those that are.")
    ] = None,
    member: Annotated[MemberCode | None, Query(description="Only those that this member pays or receives.")] = None,
    month: MonthText | None = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of month and place in its plan; a clerk sees its member's."""
    wanted = PaymentFilter(unpaid=unpaid, member=member, month=None if month is None else Month.parse(month))
    return cursors.page(
        "list_settlement_payments",
        {"pool": pool, "unpaid": unpaid, "member": member, "month": month},
        cursor,
        limit,
        read=lambda after, most: months.settlement_payments(office, caller, pool, wanted, after=after, limit=most),
        show=lambda asked: _show(asked, office.currency(pool)),
        place=lambda asked: asked.payment.id,
    )
