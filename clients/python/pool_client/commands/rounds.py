"""Joint orders: opening, committing, closing into a purchase and its draws, calling off."""

from datetime import datetime, time
from typing import Any

import click

from pool_client import show_rounds
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option, together
from pool_client.commands.values import AMOUNT, DAY, WHEN
from pool_client.errors import Missing
from pool_client.models.rounds import RoundOrder

_doing = together(repeat_option, json_option, pass_desk)


@click.command("open-round", epilog="Example: pool open-round '2026-11-20 12:00' --note 'for December'")
@click.argument("deadline", type=WHEN)
@click.option("--note", default="", help="A note to the members.")
@_doing
def open_round(desk: Desk, deadline: datetime | time, note: str, idempotency_key: str) -> None:
    """Open a joint order until a deadline.

    DEADLINE is a day and a time in the pool's time zone, or a time of today."""
    at = desk.instant(deadline)
    desk.tell_times(
        lambda: desk.book.open_round(deadline=at, note=note, idempotency_key=idempotency_key), show_rounds.step
    )


@click.command("rounds", epilog="Example: pool rounds")
@json_option
@pass_desk
def rounds(desk: Desk) -> None:
    """List the joint orders, newest first."""
    desk.tell_times(lambda: list(desk.book.rounds()), show_rounds.rounds)


@click.command("round", epilog="Example: pool round 00000003")
@click.argument("round_id")
@json_option
@pass_desk
def round_(desk: Desk, round_id: str) -> None:
    """Show a joint order and what it comes to.

    What a draw costs in the end is said by the month sheet."""
    desk.tell_times(lambda: desk.book.round_(round_id=round_id), show_rounds.round_)


@click.command("commit", epilog="Example: pool commit 00000003 ALDER 120")
@click.argument("round_id")
@click.argument("member")
@click.argument("quantity", type=click.IntRange(min=0))
@json_option
@pass_desk
def commit(desk: Desk, round_id: str, member: str, quantity: int) -> None:
    """Commit a member to a quantity, or change it.

    0 is an answer too."""
    try:
        tag = desk.book.commitment(round_id=round_id, member=member).tag
    except Missing:
        tag = None
    made = desk.book.put_commitment(round_id=round_id, member=member, quantity=quantity, tag=tag)
    desk.tell(made.value, show_rounds.commitment)


@click.command("extend-round", epilog="Example: pool extend-round 00000003 '2026-11-21 12:00' --reason 'two are away'")
@click.argument("round_id")
@click.argument("deadline", type=WHEN)
@click.option("--reason", required=True, help="Why.")
@_doing
def extend_round(desk: Desk, round_id: str, deadline: datetime | time, reason: str, idempotency_key: str) -> None:
    """Move a joint order's deadline.

    DEADLINE is as for 'pool open-round'."""
    said: dict[str, Any] = {"round_id": round_id, "deadline": desk.instant(deadline), "reason": reason}
    desk.tell_times(lambda: desk.book.extend_round(**said, idempotency_key=idempotency_key), show_rounds.step)


@click.command("close-round", epilog="Example: pool close-round 00000003 --seen 4 --paid-by ALDER --order N-21144")
@click.argument("round_id")
@click.option("--seen", type=click.IntRange(min=1), required=True, help="The version that 'pool round' showed.")
@click.option("--paid-by", required=True, help="The member that paid.")
@click.option("--quantity", type=click.IntRange(min=1), help="Credits bought; what is committed unless given.")
@click.option("--amount", type=AMOUNT, help="All that was paid; what the ladder says unless given.")
@click.option("--order", "order_number", help="The vendor's order number.")
@click.option("--on", "effective_on", type=DAY, help="The day it counts from; today unless given.")
@click.option("--note", help="Free text.")
@click.option("--accept-unanswered", is_flag=True, help="That some haven't answered before the deadline is understood.")
@_doing
def close_round(
    desk: Desk,
    round_id: str,
    *,
    seen: int,
    accept_unanswered: bool,
    idempotency_key: str,
    **order: Any,
) -> None:
    """Record a joint order's purchase and draws.

    What was bought beyond the commitments stays in stock. Refused when the round is another by now."""
    made = desk.book.close_round(
        RoundOrder(**order),
        round_id=round_id,
        seen=seen,
        accept_unanswered=accept_unanswered,
        idempotency_key=idempotency_key,
    )
    desk.tell(made, show_rounds.closed)


@click.command("call-off-round", epilog="Example: pool call-off-round 00000003 --reason 'prices fall next week'")
@click.argument("round_id")
@click.option("--reason", required=True, help="Why.")
@_doing
def call_off_round(desk: Desk, round_id: str, reason: str, idempotency_key: str) -> None:
    """End a joint order without a purchase."""
    desk.tell_times(
        lambda: desk.book.call_off_round(round_id=round_id, reason=reason, idempotency_key=idempotency_key),
        show_rounds.step,
    )


COMMANDS = (open_round, rounds, round_, commit, extend_round, close_round, call_off_round)
