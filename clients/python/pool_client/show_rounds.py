"""What people are shown of joint orders and of requests for credits. Pure, as show.py.

Instants are shown to the minute, in the time zone that is given: what has to be done by then is done there."""

from collections.abc import Iterable, Iterator
from datetime import datetime, tzinfo

from pool_client.cells import tabulated
from pool_client.models.requests import CreditRequest, CreditRequestAsked
from pool_client.models.rounds import (
    Commitment,
    NextBreak,
    Round,
    RoundClosed,
    RoundEffect,
    RoundListed,
    RoundState,
    RoundStep,
)
from pool_client.show import entries
from pool_client.table import Table

_STATES = {RoundState.PAST_DEADLINE: "past its deadline", RoundState.CALLED_OFF: "called off"}


def _at(instant: datetime, zone: tzinfo) -> str:
    return f"{instant.astimezone(zone):%Y-%m-%d %H:%M}"


def step(made: RoundStep, zone: tzinfo) -> list[Table]:
    """Show the receipt of a step, in one line."""
    until = f" until {_at(made.deadline, zone)}" if made.deadline else ""
    why = f": {made.reason}" if made.reason else ""
    return [tabulated(f"Order round {made.round_id} {made.step.replace('_', ' ')}{until}{why}.", "", [])]


def rounds(found: Iterable[RoundListed], zone: tzinfo) -> list[Table]:
    """Show joint orders, a line each."""
    rows = [
        (each.round_id, _state(each), _at(each.deadline, zone), each.committed, each.answered, each.note)
        for each in found
    ]
    return [tabulated("Order rounds", "id|state|deadline|>committed|>answers|note", rows)]


def commitment(made: Commitment) -> list[Table]:
    """Show the receipt of a commitment, in one line."""
    return [tabulated(f"{made.member} has committed to {made.quantity:,} credits.", "", [])]


def closed(found: RoundClosed) -> list[Table]:
    """Show the entries that a round became."""
    return entries(found.entries)


def round_(found: Round, zone: tzinfo) -> list[Table]:
    """Show a joint order: what is committed, who hasn't answered, and what it comes to or has become."""
    shares = {each.member: each.amount for each in found.effect.shares} if found.effect else {}
    rows = [
        (each.member, each.quantity, shares.get(each.member), _at(each.made_at, zone)) for each in found.commitments
    ]
    title = f"Order round {found.round_id} (version {found.version}): {_state(found)}"
    return [tabulated(title, "member|>credits|>would pay|committed at", rows, *_said(found, zone))]


def _state(found: RoundListed) -> str:
    return _STATES.get(found.state, found.state.value)


def _said(found: Round, zone: tzinfo) -> Iterator[str]:
    yield f"Deadline {_at(found.deadline, zone)}; {found.committed:,} credits are committed."
    for each in found.extensions:
        yield f"Extended on {_at(each.made_at, zone)}: {each.reason}."
    if found.note:
        yield f"Note: {found.note}"
    if found.unanswered:
        yield f"Not answered: {', '.join(found.unanswered)}."
    if found.effect:
        yield from _effect(found.effect)
    if closing := found.closing:
        listed = "" if closing.listed is None else f" (by the ladder {closing.listed:,})"
        yield (
            f"Bought {closing.quantity:,} for {closing.amount:,}{listed}, paid by {closing.paid_by}: entries "
            f"{', '.join(map(str, closing.entries))}; {closing.left:,} beyond the commitments stay in stock."
        )
    if found.calling_off:
        yield f"Called off: {found.calling_off.reason}."


def _effect(found: RoundEffect) -> Iterator[str]:
    if order := found.order:
        yield f"An order of {order.quantity:,} costs {order.unit_price:,} a credit, {order.amount:,} in all."
    else:
        yield "An order of so few credits has no price."
    if found.next_break:
        yield _next_break(found.next_break)
    for each in found.cheaper[:1]:
        yield f"{each.more:,} more credits would cost {each.saves:,} less in total."


def _next_break(found: NextBreak) -> str:
    there = f"{found.more:,} more credits reach the next break at {found.order.quantity:,}: "
    price = f"{found.order.unit_price:,} a credit, {found.order.amount:,} in all"
    if found.saves_per_credit is None:
        return f"{there}{price}."
    saved = f"; {found.saves_per_credit:,} less a credit, {found.saves:,} less for those who have committed"
    return f"{there}{price}{saved}."


# --- requests for credits --------------------------------------------------------------------------------------------


def asked(made: CreditRequestAsked, zone: tzinfo) -> list[Table]:
    """Show the receipt of a request, in one line."""
    title = f"Credit request {made.request_id}: {made.member} needs {made.quantity:,} by {_at(made.needed_by, zone)}."
    return [tabulated(title, "", [])]


def requests(found: Iterable[CreditRequest], zone: tzinfo) -> list[Table]:
    """Show requests, a line each."""
    rows = [
        (
            each.request_id,
            each.member,
            each.quantity,
            _at(each.needed_by, zone),
            each.state.value.replace("_", " "),
            each.lender,
            None if each.entry is None else str(each.entry),
            each.reason or each.note,
        )
        for each in found
    ]
    return [tabulated("Credit requests", "id|member|>credits|needed by|state|lender|>entry|note", rows)]
