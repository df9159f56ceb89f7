"""Why figures are what they are, and what a month would be under another policy."""

from dataclasses import dataclass
from decimal import Decimal

from pool_client.models.directory import Policy
from pool_client.models.months import UnitCost


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureValue:
    """A value of unit credits, money, unit_price or count: to be shown, and exactly as text, in minor units where it
    is of money."""

    shown: Decimal
    exact: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Operand:
    """What a formula is applied to. origin tells where it comes from: another figure, entries (their numbers), the
    month_before (where it may be a figure too), the policy, the members' shares; counted ones only have a name."""

    role: str
    value: FigureValue
    origin: str
    entries: tuple[int, ...]
    figure: str | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """A figure and the formula that, applied to the operands, gives it exactly; says is the same in words.
    more_operands is how many further ones a long sum has."""

    figure: str
    value: FigureValue
    formula: str
    says: str
    operands: tuple[Operand, ...]
    more_operands: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """A figure of a month and the figures that it comes from, each once, the nearest first; next is the cursor of those
    that come after them, None where these are all."""

    month: str
    state: str
    computed_at: int
    items: tuple[Explanation, ...]
    next: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of a month."""

    figure: str
    value: FigureValue


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a month comes to for a member; net is what it is paid, below 0 what it pays."""

    due: Decimal
    net: Decimal
    lending_gain: Decimal
    blended_unit_cost: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberCompared:
    """A member's figures under both policies; difference is the alternative's less the present ones."""

    member: str
    present: Outcome
    alternative: Outcome
    difference: Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthVersion:
    """A month under one policy; payments is their number, proven whether no plan has fewer."""

    policy: Policy
    closing_stock: Decimal
    payments: int
    proven: bool
    pool_price: UnitCost | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A month under its own policy beside an alternative. Nothing is recorded."""

    month: str
    state: str
    computed_at: int
    present: MonthVersion
    alternative: MonthVersion
    members: tuple[MemberCompared, ...]
