"""What a pool has agreed: its terms, its policy and its members. Plain facts; nothing here decides or computes.

Days are days in the pool's time zone; smallest_payment is in minor units; shares are weights, not fractions.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from pool_api.domain.values import Currency, Month


class StockCosting(StrEnum):
    """How cost flows out of the stock (IAS 2, paragraphs 25 and 27)."""

    MONTH_AVERAGE = "month_average"
    MOVING_AVERAGE = "moving_average"
    FIFO = "fifo"


class LoanPrice(StrEnum):
    """At what price loans without an agreed price are valued: the pool's, or the lender's own blended unit cost."""

    POOL = "pool"
    LENDER = "lender"


class LoansAtClose(StrEnum):
    """What becomes of loans without an agreed price that are open at the close: settled in money, or carried on."""

    SETTLE = "settle"
    CARRY = "carry"


class StockFunding(StrEnum):
    """Who finances the closing stock."""

    PAYERS = "payers"
    SHARES = "shares"


class PaymentPlan(StrEnum):
    """How nets become payments."""

    FEWEST = "fewest"
    HUB = "hub"


class SavingRule(StrEnum):
    """How members share what ordering together costs: at one unit price for all, which charges nothing; in proportion
    to what each would have paid alone; or by what each adds to the cost on average (Shapley)."""

    UNIT_PRICE = "unit_price"
    PROPORTIONAL = "proportional"
    SHAPLEY = "shapley"


Pairs = tuple[tuple[str, str], ...]
"""Pairs of member codes without direction: the lesser code first, in order, none twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting = StockCosting.MONTH_AVERAGE
    loan_price: LoanPrice = LoanPrice.POOL
    loans_at_close: LoansAtClose = LoansAtClose.SETTLE
    stock_funding: StockFunding = StockFunding.PAYERS
    payment_plan: PaymentPlan = PaymentPlan.FEWEST
    smallest_payment: int = 0
    no_payments_between: Pairs = ()
    saving_rule: SavingRule = SavingRule.UNIT_PRICE

    def as_json(self) -> dict[str, Any]:
        """Give the policy as a JSON object, every rule stated."""
        return asdict(self) | {"no_payments_between": [[*pair] for pair in self.no_payments_between]}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> "Policy":
        """Read a policy back: Policy.from_json(p.as_json()) == p. A rule that isn't stated, because it came up after
        the policy was written, is the usual one."""
        return cls(**{name: _RULES[name](value) for name, value in stored.items()})


def ordered_pairs(pairs: Iterable[Iterable[str]]) -> Pairs:
    """Give pairs of two codes each in the order of Pairs. ValueError where one has not two."""
    return tuple(sorted({(min(one, other), max(one, other)) for one, other in pairs}))


_RULES: Mapping[str, Callable[[Any], Any]] = {
    "stock_costing": StockCosting,
    "loan_price": LoanPrice,
    "loans_at_close": LoansAtClose,
    "stock_funding": StockFunding,
    "payment_plan": PaymentPlan,
    "smallest_payment": int,
    "no_payments_between": ordered_pairs,
    "saving_rule": SavingRule,
}
"""How each rule of a policy is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """A group's shared book: one vendor, one currency, one time zone.

    keeper_member is the hub of a `hub` payment plan; custodian holds the stock until a relocation says otherwise.
    policy is the one that the pool began with, policies are those agreed since, each from a later month on."""

    id: str
    name: str
    vendor: str
    currency: Currency
    time_zone: str
    began_on: date
    keeper_member: str | None = None
    custodian: str | None = None
    policy: Policy = Policy()
    policies: Mapping[Month, Policy] = field(default_factory=dict)

    @property
    def first_month(self) -> Month:
        """The month that the pool began in."""
        return Month.of(self.began_on)

    def agreed(self) -> dict[Month, Policy]:
        """Give every policy by the month that it begins with, in their order."""
        later = {month: self.policies[month] for month in sorted(self.policies) if month > self.first_month}
        return {self.first_month: self.policy, **later}

    def policy_of(self, month: Month) -> Policy:
        """Give the policy that counts for a month: the last that began with it or an earlier one, or else the first."""
        agreed = self.agreed()
        return agreed[max((each for each in agreed if each <= month), default=self.first_month)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A member's account at the vendor, from a day on until the next one."""

    handle: str
    since: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A shop in the pool."""

    code: str
    name: str
    joined_on: date
    left_on: date | None = None
    share: int = 1
    handles: tuple[Handle, ...] = ()

    def is_in(self, day: date) -> bool:
        """Tell whether the member is in the pool on a day."""
        return self.joined_on <= day and (self.left_on is None or day <= self.left_on)

    def handle_on(self, day: date) -> str | None:
        """Give the vendor account that the member has on a day, None when it has none yet."""
        current = [each for each in self.handles if each.since <= day]
        return max(current, key=lambda each: each.since).handle if current else None

    def accounts(self) -> Iterator[tuple[str, date, date | None]]:
        """Give each vendor account with the first and the last day on which it is the member's, in order; no last day
        where it still is."""
        ordered = sorted(self.handles, key=lambda each: each.since)
        ends = [*(each.since - timedelta(days=1) for each in ordered[1:]), None]
        for handle, end in zip(ordered, ends, strict=False):
            first = max(handle.since, self.joined_on)
            last = min((day for day in (end, self.left_on) if day is not None), default=None)
            if last is None or first <= last:
                yield handle.handle, first, last
