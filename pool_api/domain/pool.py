"""What a pool has agreed: its terms, its policy and its members. Plain facts; nothing here decides or computes.

Days are days in the pool's time zone; smallest_payment is in minor units; shares are weights, not fractions.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from pool_api.domain.values import Currency


class StockCosting(StrEnum):
    """How cost flows out of the stock (IAS 2, paragraphs 25 and 27)."""

    MONTH_AVERAGE = "month_average"
    MOVING_AVERAGE = "moving_average"
    FIFO = "fifo"


class LoanPrice(StrEnum):
    """At what price open loans are settled at the close."""

    POOL = "pool"


class StockFunding(StrEnum):
    """Who finances the closing stock."""

    PAYERS = "payers"
    SHARES = "shares"


class PaymentPlan(StrEnum):
    """How nets become payments."""

    FEWEST = "fewest"
    HUB = "hub"


Pairs = tuple[tuple[str, str], ...]
"""Pairs of member codes without direction: the lesser code first, in order, none twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The rules by which a pool costs and settles a month."""

    stock_costing: StockCosting = StockCosting.MONTH_AVERAGE
    loan_price: LoanPrice = LoanPrice.POOL
    stock_funding: StockFunding = StockFunding.PAYERS
    payment_plan: PaymentPlan = PaymentPlan.FEWEST
    smallest_payment: int = 0
    no_payments_between: Pairs = ()

    def as_json(self) -> dict[str, Any]:
        """Give the policy as a JSON object, every rule stated."""
        return asdict(self) | {"no_payments_between": [[*pair] for pair in self.no_payments_between]}

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> "Policy":
        """Read a policy back: Policy.from_json(p.as_json()) == p."""
        return cls(
            stock_costing=StockCosting(stored["stock_costing"]),
            loan_price=LoanPrice(stored["loan_price"]),
            stock_funding=StockFunding(stored["stock_funding"]),
            payment_plan=PaymentPlan(stored["payment_plan"]),
            smallest_payment=stored["smallest_payment"],
            no_payments_between=ordered_pairs(stored.get("no_payments_between", ())),
        )


def ordered_pairs(pairs: Iterable[Iterable[str]]) -> Pairs:
    """Give pairs of two codes each in the order of Pairs. ValueError where one has not two."""
    return tuple(sorted({(min(one, other), max(one, other)) for one, other in pairs}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """A group's shared book: one vendor, one currency, one time zone.

    keeper_member is the hub of a `hub` payment plan; custodian holds the stock until a relocation says otherwise."""

    id: str
    name: str
    vendor: str
    currency: Currency
    time_zone: str
    began_on: date
    keeper_member: str | None = None
    custodian: str | None = None
    policy: Policy = Policy()


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

    def is_in(self, first: date, last: date) -> bool:
        """Tell whether the member is in the pool on any day from first to last."""
        return self.joined_on <= last and (self.left_on is None or first <= self.left_on)

    def handle_on(self, day: date) -> str | None:
        """Give the vendor account that the member has on a day, None when it has none yet."""
        current = [each for each in self.handles if each.since <= day]
        return max(current, key=lambda each: each.since).handle if current else None
