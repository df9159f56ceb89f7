"""Joint orders: rounds that members commit to, what they come to, and what they became."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from pool_client.models.buying import CheaperOrder, Order
from pool_client.models.entries import Entry


class RoundState(StrEnum):
    """How far a round has come; past its deadline it takes no commitments, unless it is extended."""

    OPEN = "open"
    PAST_DEADLINE = "past_deadline"
    CLOSED = "closed"
    CALLED_OFF = "called_off"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundStep:
    """What was done with a round, other than commitments to it: opened, extended or called_off."""

    round_id: str
    number: int
    step: str
    made_by: str
    made_at: datetime
    deadline: datetime | None = None
    note: str | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Commitment:
    """What a member has committed to."""

    member: str
    quantity: int
    made_by: str
    made_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundListed:
    """A joint order, with the credits that are committed and how many members have answered."""

    round_id: str
    version: int
    state: RoundState
    opened_by: str
    opened_at: datetime
    deadline: datetime
    note: str
    committed: int
    answered: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareOfOrder:
    """What a member would pay of an order."""

    member: str
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class NextBreak:
    """The order at which the next tier begins, with so many credits more: what a credit costs less there, what those
    who have committed would pay less together if others brought what is missing, and what the whole order would cost
    more (below 0: less)."""

    order: Order
    more: int
    saves_per_credit: Decimal | None = None
    saves: Decimal | None = None
    costs_more: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundEffect:
    """What an order of what is committed comes to, at one price for all; order None where it has no price."""

    ladder: date
    shares: tuple[ShareOfOrder, ...]
    cheaper: tuple[CheaperOrder, ...]
    order: Order | None = None
    next_break: NextBreak | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundClosing:
    """What a round became: its purchase and draws by their numbers. listed is what the ladder said, left what was
    bought beyond the commitments and stays in stock."""

    entries: tuple[int, ...]
    paid_by: str
    quantity: int
    amount: Decimal
    left: int
    made_by: str
    made_at: datetime
    listed: Decimal | None = None
    order_number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Round(RoundListed):
    """A joint order as it is now."""

    commitments: tuple[Commitment, ...]
    extensions: tuple[RoundStep, ...]
    unanswered: tuple[str, ...]
    effect: RoundEffect | None = None
    closing: RoundClosing | None = None
    calling_off: RoundStep | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundOrder:
    """What was ordered for a round. The quantity is what is committed, the amount what the ladder says, and the day
    today, unless stated."""

    paid_by: str
    quantity: int | None = None
    amount: Decimal | None = None
    order_number: str | None = None
    effective_on: date | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundClosed:
    """The purchase that a round became, and its draws."""

    round_id: str
    entries: tuple[Entry, ...]
