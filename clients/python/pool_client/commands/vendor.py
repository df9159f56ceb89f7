"""The vendor's record: reading its files, comparing a month, and deciding on differences."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from pool_client import show
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.values import DAY
from pool_client.errors import Missing
from pool_client.models.vendor import ColumnProfile
from pool_client.wire import Unreadable, read

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command("profiles", epilog="Example: pool profiles")
@json_option
@pass_desk
def profiles(desk: Desk) -> None:
    """List the column profiles."""
    desk.tell(list(desk.book.column_profiles()), show.profiles)


@click.command("propose-profile", epilog="Example: pool propose-profile export.csv norvane --save")
@click.argument("file", type=_FILE)
@click.argument("name")
@click.option("--save", is_flag=True, help="Save the guess as a profile once you have looked at it.")
@json_option
@pass_desk
def propose_profile(desk: Desk, file: Path, name: str, save: bool) -> None:
    """Guess which column of a file says what, and show the doubts."""
    found = desk.book.propose_column_profile(file.read_bytes(), name=name)
    desk.tell(found, show.proposal)
    if save:
        if found.profile is None:
            raise click.ClickException("the guess makes no profile; write one and save it with save-profile")
        _save(desk, found.profile)


@click.command("save-profile", epilog="Example: pool save-profile norvane.json")
@click.argument("file", type=_FILE)
@pass_desk
def save_profile(desk: Desk, file: Path) -> None:
    """Make or replace a column profile from a JSON file."""
    try:
        profile = read(ColumnProfile, json.loads(file.read_text(encoding="utf-8")))
    except (ValueError, Unreadable) as error:
        raise click.UsageError(f"{file}: {error}") from None
    _save(desk, profile)


def _save(desk: Desk, profile: ColumnProfile) -> None:
    try:
        tag = desk.book.column_profile(name=profile.name).tag
    except Missing:
        tag = None
    desk.book.put_column_profile(replace(profile), tag=tag)
    desk.say(f"column profile {profile.name} is saved")


@click.command("import", epilog="Example: pool import alder-october.csv ALDER --profile norvane")
@click.argument("file", type=_FILE)
@click.argument("member")
@click.option("--profile", required=True, help="The column profile to read it by.")
@click.option("--account", help="The vendor account, if it isn't the member's present one.")
@click.option("--from", "from_day", type=DAY, help="The first day that the export covers.")
@click.option("--to", "to_day", type=DAY, help="The last day that the export covers.")
@click.option("--repeat", "idempotency_key", help="Repeat an earlier try by its key.")
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
    """Import a vendor's export; rows that are on file already are not taken again."""
    made = desk.book.import_record(
        file.read_bytes(),
        member=member,
        profile=profile,
        account=account,
        from_day=from_day,
        to_day=to_day,
        idempotency_key=idempotency_key,
    )
    desk.tell(made, show.imported)


@click.command("imports", epilog="Example: pool imports")
@json_option
@pass_desk
def imports(desk: Desk) -> None:
    """List the files that were imported."""
    desk.tell(list(desk.book.imports()), show.imports)


@click.command("reconcile", epilog="Example: pool reconcile 2026-10")
@click.argument("month")
@json_option
@pass_desk
def reconcile(desk: Desk, month: str) -> None:
    """Compare a month with the vendor's record."""
    desk.tell(desk.book.reconciliation(month=month), show.reconciliation)


@click.command("accept", epilog="Example: pool accept 2026-10 bae5a3cb --reason 'as the vendor shows'")
@click.argument("month")
@click.argument("difference")
@click.option("--reason", required=True)
@click.option("--set", "fields", multiple=True, metavar="NAME=VALUE", help="What the mend asks for, such as paid_by.")
@json_option
@pass_desk
def accept(desk: Desk, month: str, difference: str, reason: str, fields: Sequence[str]) -> None:
    """Record what mends a difference; its key may be cut short."""
    given = dict(each.partition("=")[::2] for each in fields)
    _decide(desk, month, difference, "accepted", reason, given)


@click.command("dismiss", epilog="Example: pool dismiss 2026-10 bae5a3cb --reason 'the vendor is wrong here'")
@click.argument("month")
@click.argument("difference")
@click.option("--reason", required=True)
@json_option
@pass_desk
def dismiss(desk: Desk, month: str, difference: str, reason: str) -> None:
    """Let a difference stand, with a reason; its key may be cut short."""
    _decide(desk, month, difference, "dismissed", reason, {})


def _decide(desk: Desk, month: str, beginning: str, verdict: str, reason: str, fields: dict[str, str]) -> None:
    keys = {each.key for each in desk.book.reconciliation(month=month).differences if each.key.startswith(beginning)}
    if len(keys) > 1:
        raise click.UsageError(f"{beginning} begins the keys of {len(keys)} differences; give more of it")
    key = keys.pop() if keys else beginning
    made = desk.book.decide(month=month, difference=key, verdict=verdict, reason=reason, fields=fields)
    desk.tell(made, show.decision)


COMMANDS = (profiles, propose_profile, save_profile, import_, imports, reconcile, accept, dismiss)
