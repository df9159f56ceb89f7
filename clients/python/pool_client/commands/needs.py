"""What coming months need: forecasts, what people state by hand, and how long credits last."""

from decimal import Decimal

import click

from pool_client import show_needs
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.values import AMOUNT
from pool_client.errors import Missing

_DAYS = click.IntRange(min=0, max=180)


@click.command("needs", epilog="Example: pool needs --months 6 --lead-days 10")
@click.argument("member", required=False)
@click.option("--months", type=click.IntRange(min=1), default=4, show_default=True, help="The present one included.")
@click.option("--level", type=AMOUNT, help="With what certainty credits are to last; 0.95 unless given.")
@click.option("--lead-days", type=_DAYS, help="Days from an order to its credits; 7 unless given.")
@click.option("--review-days", type=_DAYS, help="Days from one look at this to the next; 7 unless given.")
@json_option
@pass_desk
def needs(
    desk: Desk,
    member: str | None,
    months: int,
    level: Decimal | None,
    lead_days: int | None,
    review_days: int | None,
) -> None:
    """Show what coming months need, and who runs dry.

    Forecast from what members used in full months, or as stated by hand; beside it how far forecasts were off."""
    found = desk.book.needs(months=months, level=level, lead_days=lead_days, review_days=review_days, member=member)
    desk.tell(found, show_needs.needs)


@click.command("need", epilog='Example: pool need ALDER 2026-12 60 --reason "fleet contract"')
@click.argument("member")
@click.argument("month")
@click.argument("quantity", type=click.IntRange(min=0))
@click.option("--reason", required=True, help="How you know.")
@json_option
@pass_desk
def need(desk: Desk, member: str, month: str, quantity: int, reason: str) -> None:
    """State what a member needs in a whole month.

    It counts in place of the forecast."""
    try:
        tag = desk.book.need(member=member, month=month).tag
    except Missing:
        tag = None
    stated = desk.book.put_need(quantity, member=member, month=month, reason=reason, tag=tag).value
    desk.tell(stated, lambda each: show_needs.versions([each]))


@click.command("withdraw-need", epilog="Example: pool withdraw-need ALDER 2026-12")
@click.argument("member")
@click.argument("month")
@pass_desk
def withdraw_need(desk: Desk, member: str, month: str) -> None:
    """Let the forecast count again in a month."""
    tag = desk.book.need(member=member, month=month).tag
    desk.book.withdraw_need(member=member, month=month, tag=tag)
    desk.say(f"the forecast counts for {member} in {month} again")


@click.command("need-versions", epilog="Example: pool need-versions ALDER 2026-12")
@click.argument("member")
@click.argument("month")
@json_option
@pass_desk
def need_versions(desk: Desk, member: str, month: str) -> None:
    """Show all that was stated of a need, newest first."""
    desk.tell(list(desk.book.need_versions(member=member, month=month)), show_needs.versions)


COMMANDS = (needs, need, withdraw_need, need_versions)
