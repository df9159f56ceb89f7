"""Rounds: joint orders that members commit to, up to a deadline, and that become one purchase with its draws.

A round is the fold of its steps. What an order of all that is committed would cost, what each would pay of it and what
the next break would bring is a function of the commitments and a ladder: nothing of it is kept. What a draw costs in
the end is said by the month sheet, not here.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from pool_api.domain.arrangements import Step, StepKind
from pool_api.domain.entries import Body, Draw, Purchase
from pool_api.domain.errors import RoundEmpty, RoundOver, RoundUnanswered, VersionStale
from pool_api.domain.ladder import Ladder, Order
from pool_api.domain.values import apportion, half_up


class RoundState(StrEnum):
    """How far a round has come: past its deadline it takes no commitments, until it is extended."""

    OPEN = "open"
    PAST_DEADLINE = "past_deadline"
    CLOSED = "closed"
    CALLED_OFF = "called_off"


_ENDS = {StepKind.CLOSED: RoundState.CLOSED, StepKind.CALLED_OFF: RoundState.CALLED_OFF}


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A round as it stands. commitments are the last steps by which members committed, by member; extended are the
    steps that moved the deadline; end is the step that closed it or called it off."""

    round_id: str
    version: int
    opened: Step
    deadline: str
    commitments: Mapping[str, Step] = field(default_factory=dict)
    extended: tuple[Step, ...] = ()
    end: Step | None = None

    @property
    def quantities(self) -> dict[str, int]:
        """What each member that has answered wants, 0 included, in order of member code."""
        return {member: step.content["quantity"] for member, step in self.commitments.items()}

    @property
    def total(self) -> int:
        """The credits that are committed."""
        return sum(self.quantities.values())

    def state(self, at: str) -> RoundState:
        """Tell how far it has come at an instant; the deadline itself is too late."""
        if self.end is not None:
            return _ENDS[self.end.kind]
        return RoundState.OPEN if at < self.deadline else RoundState.PAST_DEADLINE

    def unanswered(self, members: Iterable[str]) -> list[str]:
        """Give which of some members haven't committed to anything, 0 included, in order."""
        return sorted(set(members) - self.commitments.keys())

    def permit_commitment(self, at: str) -> None:
        """Let a member commit. Refuses: RoundOver."""
        if (state := self.state(at)) is not RoundState.OPEN:
            raise RoundOver(round=self.round_id, state=_SAID[state])

    def permit_change(self) -> None:
        """Let the keeper extend it, close it or call it off. Refuses: RoundOver."""
        if self.end is not None:
            raise RoundOver(round=self.round_id, state=_SAID[_ENDS[self.end.kind]])

    def permit_close(self, at: str, seen: int, members: Iterable[str], *, accept_unanswered: bool) -> None:
        """Let the keeper close it as it was seen.

        Takes:   seen — the version that the keeper saw; members — those who might answer.
        Refuses: RoundOver; VersionStale; RoundEmpty; RoundUnanswered before the deadline, without the word that it was
                 seen who hasn't answered."""
        self.permit_change()
        if seen != self.version:
            raise VersionStale(what="order round", name=self.round_id, version=self.version)
        if not self.total:
            raise RoundEmpty(round=self.round_id)
        missing = self.unanswered(members)
        if missing and at < self.deadline and not accept_unanswered:
            raise RoundUnanswered(round=self.round_id, deadline=self.deadline, members=missing)


_SAID = {
    RoundState.PAST_DEADLINE: "past its deadline",
    RoundState.CLOSED: "closed",
    RoundState.CALLED_OFF: "called off",
}


def round_of(round_id: str, steps: Sequence[Step]) -> Round:
    """Give a round by its steps, in order; the first one opened it."""
    commitments = {step.member: step for step in steps if step.kind is StepKind.COMMITTED and step.member}
    extended = tuple(step for step in steps if step.kind is StepKind.EXTENDED)
    deadline = (extended or steps)[-1 if extended else 0].until
    return Round(
        round_id=round_id,
        version=steps[-1].number,
        opened=steps[0],
        deadline=deadline or "",
        commitments=dict(sorted(commitments.items())),
        extended=extended,
        end=steps[-1] if steps[-1].kind in _ENDS else None,
    )


def bought(quantities: Mapping[str, int], purchase: Purchase) -> tuple[Body, ...]:
    """Give what a closed round records: one purchase into stock, and the draws of those who committed, in order of
    member code. What is bought beyond the commitments stays in stock."""
    draws = (Draw(member=member, quantity=quantity) for member, quantity in sorted(quantities.items()) if quantity)
    return (purchase, *draws)


# --- what the commitments come to ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class NextBreak:
    """The order at which the next tier begins, and how many credits more it is than what is committed. Against the
    price now, where there is one: what a credit costs less there, what those who have committed would save together if
    others brought what is missing, and what the whole order would cost more (below 0: less). Minor units."""

    order: Order
    more: int
    saves_per_credit: Fraction | None = None
    saves: int | None = None
    costs_more: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What an order of what is committed comes to by a ladder. order is None where it has no price; shares are what
    each would pay of it, minor units that add up to its cost, by member; cheaper are larger orders that cost less."""

    ladder: Ladder
    order: Order | None
    shares: Mapping[str, int]
    next_break: NextBreak | None
    cheaper: tuple[Order, ...]


def effect(ladder: Ladder, quantities: Mapping[str, int]) -> Effect:
    """Give what commitments come to: one unit price for all, rounded by `apportion` in order of member code.

    Source: METHODS.md D3 of the project's notes: for a single order one price for all is in the core, so that no
            subgroup would be better off ordering alone."""
    total = sum(quantities.values())
    order = ladder.order(total)
    members = sorted(quantities)
    parts = apportion(half_up(order.cost), [quantities[member] for member in members]) if order else ()
    return Effect(
        ladder=ladder,
        order=order,
        shares=dict(zip(members, parts, strict=True)) if order else {},
        next_break=_next_break(ladder, total, order),
        cheaper=ladder.cheaper(total) if order else (),
    )


def _next_break(ladder: Ladder, total: int, order: Order | None) -> NextBreak | None:
    begins = next((tier.from_credits for tier in ladder.tiers if tier.from_credits > total), None)
    there = None if begins is None else ladder.order(begins)
    if there is None:
        return None
    more = there.quantity - total
    if order is None:
        return NextBreak(order=there, more=more)
    unit = there.cost / there.quantity
    return NextBreak(
        order=there,
        more=more,
        saves_per_credit=order.cost / total - unit,
        saves=half_up(order.cost) - half_up(unit * total),
        costs_more=half_up(there.cost) - half_up(order.cost),
    )
