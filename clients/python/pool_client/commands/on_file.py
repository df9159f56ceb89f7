"""The vendor's record by day: what imports say of rows on file, which days are on file, and the proof."""

from datetime import date

import click

from pool_client import show_record
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.values import DAY


@click.command("changes", epilog="Example: pool changes 00000007")
@click.argument("import_id", metavar="IMPORT")
@json_option
@pass_desk
def changes(desk: Desk, import_id: str) -> None:
    """List what an import says of rows on file.

    Rows that were on file and that the export shows otherwise, or no longer, or again."""
    desk.tell(list(desk.book.changes(import_id=import_id)), show_record.changes)


@click.command("coverage", epilog="Example: pool coverage --from 2026-10-01 --to 2026-10-31")
@click.option("--from", "from_day", type=DAY, help="The first day [the first of the month before].")
@click.option("--to", "to_day", type=DAY, help="The last day [today].")
@click.option("--days", is_flag=True, help="List the rows of each day, and the imports that show it.")
@json_option
@pass_desk
def coverage(desk: Desk, from_day: date | None, to_day: date | None, days: bool) -> None:
    """Show which days of the vendor's record are on file.

    Of days in a gap, the record's silence proves nothing."""
    found = desk.book.coverage(from_day=from_day, to_day=to_day)
    desk.tell(found, show_record.coverage_by_day if days else show_record.coverage)


@click.command("proof", epilog="Example: pool proof 2026-10 ALDER")
@click.argument("month")
@click.argument("member", required=False)
@click.option("--csv", "as_csv", is_flag=True, help="Give the days as CSV, for spreadsheets.")
@json_option
@pass_desk
def proof(desk: Desk, month: str, member: str | None, as_csv: bool) -> None:
    """Prove a month's balances day by day.

    Journal and record of each vendor account side by side, and what leads from one closing to the other."""
    if not as_csv:
        desk.tell(desk.book.proof(month=month, member=member), show_record.proof)
    elif desk.as_json:
        raise click.UsageError("--csv and --json exclude each other")
    else:
        desk.tell_text(desk.book.proof_csv(month=month, member=member))


COMMANDS = (changes, coverage, proof)
