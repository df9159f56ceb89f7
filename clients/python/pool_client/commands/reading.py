"""Looking into the book: positions, entries, what credits and jobs cost, and whether all of it holds."""

import sys
from datetime import date
from itertools import islice

import click

from pool_client import show, show_needs
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.values import DAY
from pool_client.models.entries import BODIES


@click.command("positions", epilog="Example: pool positions --as-of 2026-10-15")
@click.option("--as-of", type=DAY, help="As of the end of a day; now unless given.")
@json_option
@pass_desk
def positions(desk: Desk, as_of: date | None) -> None:
    """Show what everybody holds, has lent and borrowed, and owes.

    Of now it says, beside the table, who may soon run dry."""
    desk.tell(desk.book.positions(as_of=as_of), show.positions)
    if as_of is None and not desk.as_json:
        for word in show_needs.warnings(desk.book.needs(months=1)):
            desk.say(word)


@click.command("entries", epilog="Example: pool entries --member DOGWOOD --from 2026-10-01 --text waiting")
@click.option("--member", help="Only those in which this member is a side.")
@click.option("--kind", type=click.Choice(list(BODIES)), metavar="KIND", help="Only of this kind, such as loan.")
@click.option("--from", "from_day", type=DAY, help="The first day.")
@click.option("--to", "to_day", type=DAY, help="The last day.")
@click.option("--text", help="Part of the note.")
@click.option("--job", help="The job's reference.")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, help="How many, newest first.")
@json_option
@pass_desk
def entries(
    desk: Desk,
    member: str | None,
    kind: str | None,
    from_day: date | None,
    to_day: date | None,
    text: str | None,
    job: str | None,
    most: int,
) -> None:
    """List entries, newest first."""
    found = desk.book.entries(
        member=member, kind=kind, from_day=from_day, to_day=to_day, text=text, job=job, limit=min(most, 200)
    )
    desk.tell(list(islice(found, most)), show.entries)


@click.command("entry", epilog="Example: pool entry 42")
@click.argument("number", type=int)
@json_option
@pass_desk
def entry(desk: Desk, number: int) -> None:
    """Show one entry with all that refers to it."""
    desk.tell(desk.book.entry(number=number), show.entry)


@click.command("verify", epilog="Example: pool verify")
@click.option("--known", metavar="NUMBER:HASH", help="An entry that a statement names; its hash may be cut to 16.")
@json_option
@pass_desk
def verify(desk: Desk, known: str | None) -> None:
    """Verify every hash, number and projection.

    The journal is replayed from its first entry. Ends with 1 if anything is wrong, or if the journal hasn't got an
    entry that is known from a paper: then an older backup was put in place, or somebody wrote it anew."""
    found = desk.book.verification(known=known)
    desk.tell(found, show.verification)
    if not found.sound:
        sys.exit(1)


@click.command("cost", epilog="Example: pool cost ALDER")
@click.argument("member")
@json_option
@pass_desk
def cost(desk: Desk, member: str) -> None:
    """Show a member's blended unit cost by month."""
    desk.tell(desk.book.member_cost(member=member), show.member_cost)


@click.command("job", epilog="Example: pool job A-1001")
@click.argument("job")
@json_option
@pass_desk
def job(desk: Desk, job: str) -> None:
    """Show what a job cost and what it earned."""
    desk.tell(desk.book.job(job=job), show.job)


COMMANDS = (positions, entries, entry, verify, cost, job)
