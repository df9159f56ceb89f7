"""What ordering together was worth, and how a month shares it."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pool_client.models.directory import SavingRule


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What was taken and paid, beside what one order a month for as much would have cost alone; shared is what the
    policy's rule gave (below 0: took), and is in what was paid."""

    credits: int
    paid: Decimal
    alone: Decimal
    saving: Decimal
    shared: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberWorth(Worth):
    """What a member took and paid, beside what that would have cost it alone."""

    member: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthMemberWorth(MemberWorth):
    """The same for one month, with the member's shares of one joint order for all that was drawn, by each rule."""

    drawn: int
    drawn_alone: Decimal
    unit_price: Decimal
    proportional: Decimal
    shapley: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Subgroup:
    """Some members, and what they pay beyond what they would by themselves."""

    members: tuple[str, ...]
    excess: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Whether a subgroup would do better alone: core (none would), outside (the worst off one would), untold."""

    verdict: str
    worst: Subgroup | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleTold(Told):
    """The shares by a rule; standard_error is 0 where they are exact."""

    rule: SavingRule
    sampled: int
    standard_error: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One order for all that was drawn, the shares by each rule, and what was really paid for what was drawn."""

    credits: int
    ordered: int
    cost: Decimal
    alone: Decimal
    saving: Decimal
    rules: tuple[RuleTold, ...]
    paid: Told


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthWorth:
    """What a month was worth; joint is None where nothing was drawn."""

    month: str
    state: str
    ladder: date
    rule: SavingRule
    members: tuple[MonthMemberWorth, ...]
    joint: Joint | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Savings:
    """What ordering together was worth: to each member in all, and month by month."""

    from_month: str
    to_month: str
    members: tuple[MemberWorth, ...]
    total: Worth
    months: tuple[MonthWorth, ...]
    without_ladder: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberSaving:
    """A member's part of the joint order at one unit price for all and by the policy's rule, and what the difference
    gives it (below 0: takes)."""

    member: str
    credits: int
    alone: Decimal
    unit_price: Decimal
    share: Decimal
    shared: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedSaving:
    """How the policy of a month shares the cost of one order for all that was drawn."""

    rule: SavingRule
    ladder: date
    cost: Decimal
    sampled: int
    standard_error: Decimal
    members: tuple[MemberSaving, ...]
