"""Requests for credits: asking, looking, lending, withdrawing."""

from datetime import datetime, time
from typing import Any

import click

from pool_client import show, show_rounds
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option, together
from pool_client.commands.values import WHEN

_doing = together(repeat_option, json_option, pass_desk)


@click.command("ask", epilog="Example: pool ask DOGWOOD 24 --by 12:00 --note 'customer waiting'")
@click.argument("member")
@click.argument("quantity", type=click.IntRange(min=1))
@click.option(
    "--by", "needed_by", type=WHEN, required=True, help="'YYYY-MM-DD HH:MM' in the pool's time zone, or HH:MM."
)
@click.option("--note", default="", help="Why; free text.")
@_doing
def ask(desk: Desk, member: str, quantity: int, needed_by: datetime | time, note: str, idempotency_key: str) -> None:
    """Ask the other members for credits.

    Those who hold enough see it, and one of them lends; it expires by itself."""
    said: dict[str, Any] = {"member": member, "quantity": quantity, "needed_by": desk.instant(needed_by), "note": note}
    desk.tell_times(lambda: desk.book.ask(**said, idempotency_key=idempotency_key), show_rounds.asked)


@click.command("requests", epilog="Example: pool requests")
@click.option("--ended", is_flag=True, help="Those that are over, too.")
@json_option
@pass_desk
def requests(desk: Desk, ended: bool) -> None:
    """List the requests for credits, newest first.

    A clerk sees its own, and those that it could serve."""
    desk.tell_times(lambda: list(desk.book.credit_requests(ended=ended or None)), show_rounds.requests)


@click.command("request", epilog="Example: pool request 00000003")
@click.argument("request_id")
@json_option
@pass_desk
def request(desk: Desk, request_id: str) -> None:
    """Show a request for credits."""
    desk.tell_times(lambda: [desk.book.credit_request(request_id=request_id)], show_rounds.requests)


@click.command("lend-to", epilog="Example: pool lend-to 00000003 BIRCH")
@click.argument("request_id")
@click.argument("lender")
@click.option("--note", help="Free text.")
@_doing
def lend_to(desk: Desk, request_id: str, lender: str, note: str | None, idempotency_key: str) -> None:
    """Take up a request as a loan.

    The loan is of all that is asked for."""
    made = desk.book.take_up(request_id=request_id, lender=lender, note=note, idempotency_key=idempotency_key)
    desk.tell(made, show.recorded)


@click.command("withdraw-request", epilog="Example: pool withdraw-request 00000003 --reason 'customer left'")
@click.argument("request_id")
@click.option("--reason", default="", help="Why.")
@_doing
def withdraw_request(desk: Desk, request_id: str, reason: str, idempotency_key: str) -> None:
    """Withdraw a request for credits."""
    desk.tell_times(
        lambda: [desk.book.withdraw_request(request_id=request_id, reason=reason, idempotency_key=idempotency_key)],
        show_rounds.requests,
    )


COMMANDS = (ask, requests, request, lend_to, withdraw_request)
