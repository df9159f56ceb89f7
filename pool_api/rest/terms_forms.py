"""How a policy is shown on the wire, with a pool's terms and with each month that was costed under it."""

from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.pool import LoanPrice, PaymentPlan, Policy, StockCosting, StockFunding
from pool_api.domain.values import Currency
from pool_api.rest.wire import MemberCode, MoneyText, WireModel

PairsOfMembers = Annotated[
    list[Annotated[list[MemberCode], Field(min_length=2, max_length=2)]],
    Field(
        max_length=1_000,
        examples=[[["ALDER", "BIRCH"]]],
        description="Pairs of members that can't pay each other, in no order.",
    ),
]


class PolicyShown(WireModel):
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting
    loan_price: LoanPrice
    stock_funding: StockFunding
    payment_plan: PaymentPlan
    smallest_payment: MoneyText
    no_payments_between: PairsOfMembers


def show_policy(policy: Policy, currency: Currency) -> dict[str, Any]:
    """Give a policy as it is shown."""
    return {
        "stock_costing": policy.stock_costing,
        "loan_price": policy.loan_price,
        "stock_funding": policy.stock_funding,
        "payment_plan": policy.payment_plan,
        "smallest_payment": currency.text(policy.smallest_payment),
        "no_payments_between": [[*pair] for pair in policy.no_payments_between],
    }
