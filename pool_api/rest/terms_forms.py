"""How a policy is asked for and shown on the wire, with a pool's terms, from a month on, and with each month that was
costed under it."""

from decimal import Decimal
from typing import Annotated, Any

from pydantic import Field

from pool_api.domain.pool import (
    LoanPrice,
    LoansAtClose,
    Pairs,
    PaymentPlan,
    Policy,
    SavingRule,
    StockCosting,
    StockFunding,
    ordered_pairs,
)
from pool_api.domain.values import MEMBER_CODE, Currency
from pool_api.rest.wire import MemberCode, Money, MoneyText, WireModel

PairsOfMembers = Annotated[
    list[Annotated[list[MemberCode], Field(min_length=2, max_length=2)]],
    Field(
        max_length=1_000,
        examples=[[["ALDER", "BIRCH"]]],
        description="Pairs of members that can't pay each other, in no order.",
    ),
]

_PAIR = rf"{MEMBER_CODE.pattern}\.{MEMBER_CODE.pattern}"
PairsParam = Annotated[
    str,
    Field(
        pattern=f"^(none|{_PAIR}(,{_PAIR}){{0,99}})$",
        max_length=3_399,
        examples=["ALDER.BIRCH,ALDER.CEDAR"],
        description="Pairs of members that can't pay each other, with commas between pairs; none: all can.",
    ),
]
"""Pairs in a query, where a plus would be read as a blank."""


def pairs_named(text: str) -> Pairs:
    """Give the pairs that a query names."""
    return ordered_pairs(pair.split(".") for pair in text.split(",") if pair != "none")


class PolicyForm(WireModel):
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting = StockCosting.MONTH_AVERAGE
    loan_price: LoanPrice = LoanPrice.POOL
    loans_at_close: LoansAtClose = LoansAtClose.SETTLE
    stock_funding: StockFunding = StockFunding.PAYERS
    payment_plan: PaymentPlan = PaymentPlan.FEWEST
    smallest_payment: Money = Decimal(0)
    no_payments_between: PairsOfMembers = []
    saving_rule: SavingRule = SavingRule.UNIT_PRICE

    def policy(self, currency: Currency) -> Policy:
        """Give the policy asked for. Refuses: as the currency does for an amount."""
        asked = {name: getattr(self, name) for name in type(self).model_fields}
        return Policy(
            **{
                **asked,
                "smallest_payment": currency.minor(self.smallest_payment),
                "no_payments_between": ordered_pairs(self.no_payments_between),
            }
        )


class PolicyShown(WireModel):
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting
    loan_price: LoanPrice
    loans_at_close: LoansAtClose
    stock_funding: StockFunding
    payment_plan: PaymentPlan
    smallest_payment: MoneyText
    no_payments_between: PairsOfMembers
    saving_rule: SavingRule


def show_policy(policy: Policy, currency: Currency) -> dict[str, Any]:
    """Give a policy as it is shown."""
    return {**policy.as_json(), "smallest_payment": currency.text(policy.smallest_payment)}
