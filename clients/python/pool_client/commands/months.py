"""Month's end: sheets, settlements, closing and reopening, statements, and what is still unpaid."""

from itertools import islice

import click

from pool_client import show
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option


@click.command("months", epilog="Example: pool months")
@json_option
@pass_desk
def months(desk: Desk) -> None:
    """List the months and which of them are closed."""
    desk.tell(list(desk.book.months()), show.months)


@click.command("month", epilog="Example: pool month 2026-10")
@click.argument("month")
@json_option
@pass_desk
def month(desk: Desk, month: str) -> None:
    """Show a month's sheet."""
    desk.tell(desk.book.sheet(month=month), show.sheet)


@click.command("entry-costs", epilog="Example: pool entry-costs 2026-10")
@click.argument("month")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, help="How many, first entry first.")
@json_option
@pass_desk
def entry_costs(desk: Desk, month: str, most: int) -> None:
    """List what the credits of each entry of a month had cost."""
    found = desk.book.entry_costs(month=month, limit=min(most, 200))
    desk.tell(list(islice(found, most)), show.entry_costs)


@click.command("settlement", epilog="Example: pool settlement 2026-10")
@click.argument("month")
@json_option
@pass_desk
def settlement(desk: Desk, month: str) -> None:
    """Preview how a month would be settled, or show how it was."""
    desk.tell(desk.book.settlement(month=month), show.settlement)


@click.command("close", epilog="Example: pool close 2026-10 --digest d1bf23b947efe36e…")
@click.argument("month")
@click.option("--digest", required=True, help="The digest of the preview that you saw.")
@click.option("--accept-warnings", is_flag=True, help="The month's warnings are understood.")
@click.option("--accept-differences", is_flag=True, help="Open differences with the vendor's record are understood.")
@click.option("--note", default="", help="Free text.")
@repeat_option
@json_option
@pass_desk
def close(
    desk: Desk,
    month: str,
    digest: str,
    accept_warnings: bool,
    accept_differences: bool,
    note: str,
    idempotency_key: str | None,
) -> None:
    """Close a month as its preview said.

    Refused when the book has moved since; see 'pool settlement'."""
    made = desk.book.close(
        month=month,
        digest=digest,
        accept_warnings=accept_warnings,
        accept_differences=accept_differences,
        note=note,
        idempotency_key=idempotency_key,
    )
    desk.tell(made, show.recorded)


@click.command("reopen", epilog="Example: pool reopen 2026-10 --reason 'a purchase was missing'")
@click.argument("month")
@click.option("--reason", required=True, help="Why it has to be opened.")
@repeat_option
@json_option
@pass_desk
def reopen(desk: Desk, month: str, reason: str, idempotency_key: str | None) -> None:
    """Open the last closed month again.

    Possible while none of its payments is recorded."""
    desk.tell(desk.book.reopen(month=month, reason=reason, idempotency_key=idempotency_key), show.recorded)


@click.command("statement", epilog="Example: pool statement 2026-10 DOGWOOD --csv > dogwood.csv")
@click.argument("month")
@click.argument("member")
@click.option("--csv", "as_csv", is_flag=True, help="Give it as CSV.")
@json_option
@pass_desk
def statement(desk: Desk, month: str, member: str, as_csv: bool) -> None:
    """Show a member's statement of a month."""
    if as_csv and desk.as_json:
        raise click.UsageError("--csv and --json exclude each other")
    if as_csv:
        desk.tell_text(desk.book.statement_csv(month=month, member=member))
    else:
        desk.tell(desk.book.statement(month=month, member=member), show.statement)


@click.command("payments", epilog="Example: pool payments --unpaid")
@click.option("--unpaid/--paid", default=None, help="Only those that are not paid in full, or only those that are.")
@click.option("--member", help="Only those that it pays or receives.")
@click.option("--month", help="Only those of its settlement.")
@json_option
@pass_desk
def payments(desk: Desk, unpaid: bool | None, member: str | None, month: str | None) -> None:
    """List the payments that closes asked for.

    The age counts from the end of the month."""
    found = desk.book.settlement_payments(unpaid=unpaid, member=member, month=month)
    desk.tell(list(found), show.settlement_payments)


COMMANDS = (months, month, entry_costs, settlement, close, reopen, statement, payments)
