"""The vendor's record: reading its files."""

import json
from datetime import date
from pathlib import Path

import click

from pool_client import show, show_record
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option
from pool_client.commands.files import FILE, NEW_FILE, check_free, read_model, replace_option, sheet_option, write_file
from pool_client.commands.values import DAY
from pool_client.errors import Missing, Refused
from pool_client.models.vendor import ColumnProfile
from pool_client.preview import previewed
from pool_client.wire import write

RECORDS = ("history", "transfers", "purchases", "uses")


@click.command("profiles", epilog="Example: pool profiles")
@json_option
@pass_desk
def profiles(desk: Desk) -> None:
    """List the column profiles."""
    desk.tell(list(desk.book.column_profiles()), show.profiles)


@click.command("propose-profile", epilog="Example: pool propose-profile export.xlsx norvane --write guess.json")
@click.argument("file", type=FILE)
@click.argument("name")
@click.option("--record", type=click.Choice(RECORDS), help="What the file shows of an account; history otherwise.")
@sheet_option
@click.option("--write", "into", type=NEW_FILE, help="Write the guess into a file, to correct it and save it then.")
@click.option("--save", is_flag=True, help="Save the guess as a profile once you have looked at it.")
@replace_option
@json_option
@pass_desk
def propose_profile(
    desk: Desk,
    file: Path,
    name: str,
    record: str | None,
    sheet: str | None,
    into: Path | None,
    save: bool,
    replace: bool,
) -> None:
    """Guess which column of a file says what.

    FILE is delimited text or a spreadsheet. Shows the columns, the doubts, the first rows and what stands above them;
    nothing is kept without --save."""
    check_free([into] if into else [], replace=replace)
    found = desk.book.propose_column_profile(file.read_bytes(), name=name, record=record, sheet=sheet)
    desk.tell(found, previewed)
    if not (save or into):
        return
    if found.profile is None:
        raise click.ClickException("the guess makes no profile; write one and save it with save-profile")
    if into:
        content = json.dumps(write(found.profile), ensure_ascii=False, indent=2) + "\n"
        desk.say(f"written to {write_file(into, content.encode()).file}; correct it and save it with save-profile")
    if save:
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
@sheet_option
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
    sheet: str | None,
    from_day: date | None,
    to_day: date | None,
    idempotency_key: str | None,
) -> None:
    """Import a vendor's export, delimited text or a spreadsheet.

    Rows that are on file already are not taken again, so exports may overlap. Rows on file that the export shows
    otherwise or no longer stay, and are differences to decide; --from and --to say that it shows its ends whole. Where
    the profile doesn't fit any more, a new one is guessed and shown."""
    content = file.read_bytes()
    try:
        made = desk.book.import_record(
            content,
            member=member,
            profile=profile,
            account=account,
            sheet=sheet,
            from_day=from_day,
            to_day=to_day,
            idempotency_key=idempotency_key,
        )
    except Refused as refused:
        if refused.code == "column-missing":
            desk.tell(desk.book.propose_column_profile(content, name=profile, sheet=sheet), previewed)
        raise
    desk.tell(made, show_record.imported)


@click.command("imports", epilog="Example: pool imports")
@json_option
@pass_desk
def imports(desk: Desk) -> None:
    """List the files that were imported."""
    desk.tell(list(desk.book.imports()), show_record.imports)


COMMANDS = (profiles, propose_profile, save_profile, import_, imports)
