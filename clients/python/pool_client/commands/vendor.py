"""The vendor's record: reading its files."""

from datetime import date
from pathlib import Path

import click

from pool_client import show, show_record
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option
from pool_client.commands.files import FILE, read_model
from pool_client.commands.values import DAY
from pool_client.errors import Missing
from pool_client.models.vendor import ColumnProfile


@click.command("profiles", epilog="Example: pool profiles")
@json_option
@pass_desk
def profiles(desk: Desk) -> None:
    """List the column profiles."""
    desk.tell(list(desk.book.column_profiles()), show.profiles)


@click.command("propose-profile", epilog="Example: pool propose-profile export.csv norvane --save")
@click.argument("file", type=FILE)
@click.argument("name")
@click.option("--save", is_flag=True, help="Save the guess as a profile once you have looked at it.")
@json_option
@pass_desk
def propose_profile(desk: Desk, file: Path, name: str, save: bool) -> None:
    """Guess which column of a file says what.

    Shows the doubts and the first rows; nothing is kept without --save."""
    found = desk.book.propose_column_profile(file.read_bytes(), name=name)
    desk.tell(found, show.proposal)
    if save:
        if found.profile is None:
            raise click.ClickException("the guess makes no profile; write one and save it with save-profile")
        _save(desk, found.profile)


@click.command("save-profile", epilog="Example: pool save-profile norvane.json")
@click.argument("file", type=FILE)
@pass_desk
def save_profile(desk: Desk, file: Path) -> None:
    """Make or replace a column profile from a JSON file."""
    _save(desk, read_model(file, ColumnProfile))


def _save(desk: Desk, profile: ColumnProfile) -> None:
    try:
        tag = desk.book.column_profile(name=profile.name).tag
    except Missing:
        tag = None
    desk.book.put_column_profile(profile, tag=tag)
    desk.say(f"column profile {profile.name} is saved")


@click.command("import", epilog="Example: pool import alder-october.csv ALDER --profile norvane")
@click.argument("file", type=FILE)
@click.argument("member")
@click.option("--profile", required=True, help="The column profile to read it by.")
@click.option("--account", help="The vendor account, if it isn't the member's present one.")
@click.option("--from", "from_day", type=DAY, help="The first day that the export covers.")
@click.option("--to", "to_day", type=DAY, help="The last day that the export covers.")
@repeat_option
@json_option
@pass_desk
def import_(
    desk: Desk,
    file: Path,
    member: str,
    profile: str,
    account: str | None,
    from_day: date | None,
    to_day: date | None,
    idempotency_key: str | None,
) -> None:
    """Import a vendor's export.

    Rows that are on file already are not taken again, so exports may overlap. Rows on file that the export shows
    otherwise or no longer stay, and are differences to decide; --from and --to say that it shows its ends whole."""
    made = desk.book.import_record(
        file.read_bytes(),
        member=member,
        profile=profile,
        account=account,
        from_day=from_day,
        to_day=to_day,
        idempotency_key=idempotency_key,
    )
    desk.tell(made, show_record.imported)


@click.command("imports", epilog="Example: pool imports")
@json_option
@pass_desk
def imports(desk: Desk) -> None:
    """List the files that were imported."""
    desk.tell(list(desk.book.imports()), show_record.imports)


COMMANDS = (profiles, propose_profile, save_profile, import_, imports)
