"""The vendor's catalogue, and jobs: what items cost, what jobs cost and earned, and quotes."""

import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import click

from pool_client import show_catalogue
from pool_client.calls.call import Versioned
from pool_client.commands.desk import REFUSED, Desk, json_option, pass_desk
from pool_client.commands.files import FILE, read_model, sheet_option
from pool_client.commands.values import AMOUNT, DAY, one_of
from pool_client.errors import Missing
from pool_client.models.catalogue import By, Catalogue, CatalogueProfile, Covered, Item


@click.command("catalogues", epilog="Example: pool catalogues")
@json_option
@pass_desk
def catalogues(desk: Desk) -> None:
    """List the vendor's catalogues."""
    desk.tell(list(desk.book.catalogues()), show_catalogue.catalogues)


@click.command("catalogue", epilog="Example: pool catalogue 2026-11-01")
@click.argument("valid_from", type=DAY)
@json_option
@pass_desk
def catalogue(desk: Desk, valid_from: date) -> None:
    """Show the catalogue that is valid from a day."""
    desk.tell(desk.book.catalogue(valid_from=valid_from).value, show_catalogue.catalogue)


@click.command("items", epilog="Example: pool items calibration --class van")
@click.argument("text", required=False)
@click.option("--on", type=DAY, help="The day that they count on; today unless given.")
@click.option("--class", "vehicle_class", help="Only of this vehicle class.")
@click.option("--family", help="Only of this family.")
@json_option
@pass_desk
def items(desk: Desk, text: str | None, on: date | None, vehicle_class: str | None, family: str | None) -> None:
    """Search items and what they cost.

    TEXT is a part of the code or the name."""
    found = desk.book.catalogue_items(on=on, text=text, vehicle_class=vehicle_class, family=family)
    desk.tell(list(found), show_catalogue.items)


_profile_option = click.option("--profile", help="A saved profile of its columns; guessed unless given.")


@click.command("read-catalogue", epilog="Example: pool read-catalogue list.csv")
@click.argument("file", type=FILE)
@_profile_option
@click.option("--on", type=DAY, help="Compare with the catalogue of this day; today's unless given.")
@sheet_option
@click.option("--save-as", metavar="NAME", help="Save what its columns are taken for as a profile.")
@json_option
@pass_desk
def read_catalogue(
    desk: Desk, file: Path, profile: str | None, on: date | None, sheet: str | None, save_as: str | None
) -> None:
    """Look at a catalogue's file before it is entered.

    FILE is delimited text or a spreadsheet. Shows its columns, the items, what is set aside and what changes; nothing
    is kept but the profile, if asked."""
    found = desk.book.propose_catalogue(file.read_bytes(), profile=profile, on=on, sheet=sheet)
    desk.tell(found, show_catalogue.read)
    if save_as:
        if found.profile is None:
            raise click.ClickException("the guess makes no profile; write one and save it with save-catalogue-profile")
        _save(desk, replace(found.profile, name=save_as))


@click.command("enter-catalogue", epilog="Example: pool enter-catalogue 2026-11-01 list.csv --leave-out")
@click.argument("valid_from", type=DAY)
@click.argument("file", type=FILE)
@_profile_option
@sheet_option
@click.option("--leave-out", is_flag=True, help="Enter it without the rows that are set aside.")
@json_option
@pass_desk
def enter_catalogue(
    desk: Desk, valid_from: date, file: Path, profile: str | None, sheet: str | None, leave_out: bool
) -> None:
    """Enter a file as the catalogue of a day.

    It replaces the one that is there; that stays as a version. Look at it with read-catalogue first."""
    found = desk.book.propose_catalogue(file.read_bytes(), profile=profile, on=valid_from, sheet=sheet)
    for each in found.set_aside:
        desk.say(f"line {each.line} is set aside: {each.reason}" + (f" ({each.column})" if each.column else ""))
    if found.set_aside and not leave_out:
        desk.say("Nothing is entered. Mend the file, or leave these rows out with --leave-out.")
        sys.exit(REFUSED)
    there = _there(desk, valid_from)
    _put(desk, valid_from, found.items, there)


def _put(desk: Desk, valid_from: date, items: Sequence[Item], there: Versioned[Catalogue] | None) -> None:
    tag = None if there is None else there.tag
    desk.tell(desk.book.put_catalogue(items, valid_from=valid_from, tag=tag).value, show_catalogue.entered)


def _there(desk: Desk, valid_from: date) -> Versioned[Catalogue] | None:
    try:
        return desk.book.catalogue(valid_from=valid_from)
    except Missing:
        return None


@click.command("put-item", epilog="Example: pool put-item 2026-11-01 CAL-S 12 --name 'Calibration' --class car")
@click.argument("valid_from", type=DAY)
@click.argument("code")
@click.argument("credits", type=int)
@click.option("--name", help="What it is; as before, or the code, unless given.")
@click.option("--class", "vehicle_class", help="Its vehicle class.")
@click.option("--family", help="Its family.")
@click.option("--covers", multiple=True, metavar="CODE", help="Another item that it covers.")
@click.option("--covers-family", multiple=True, metavar="FAMILY", help="A family that it covers.")
@click.option("--covers-class", multiple=True, metavar="CLASS", help="A vehicle class that it covers.")
@click.option("--trade-only", is_flag=True, help="It is sold to trade buyers only.")
@click.option("--road-restricted", is_flag=True, help="It isn't lawful on public roads everywhere.")
@json_option
@pass_desk
def put_item(
    desk: Desk,
    valid_from: date,
    code: str,
    credits: int,
    name: str | None,
    vehicle_class: str | None,
    family: str | None,
    covers: Sequence[str],
    covers_family: Sequence[str],
    covers_class: Sequence[str],
    trade_only: bool,
    road_restricted: bool,
) -> None:
    """Enter one item by hand, or change it.

    The catalogue of that day gets a new version, or is made. What isn't given of an item is as it was."""
    there = _there(desk, valid_from)
    listed = {each.code: each for each in there.value.items} if there else {}
    was = listed.get(code, Item(code=code, name=code, credits=credits))
    listed[code] = Item(
        code=code,
        name=name or was.name,
        credits=credits,
        vehicle_class=vehicle_class or was.vehicle_class,
        family=family or was.family,
        covers=Covered(
            items=tuple(covers) or was.covers.items,
            families=tuple(covers_family) or was.covers.families,
            classes=tuple(covers_class) or was.covers.classes,
        ),
        trade_only=trade_only or was.trade_only,
        road_restricted=road_restricted or was.road_restricted,
    )
    _put(desk, valid_from, (*listed.values(),), there)


@click.command("drop-item", epilog="Example: pool drop-item 2026-11-01 CAL-S")
@click.argument("valid_from", type=DAY)
@click.argument("code")
@json_option
@pass_desk
def drop_item(desk: Desk, valid_from: date, code: str) -> None:
    """Take one item out of a catalogue."""
    there = desk.book.catalogue(valid_from=valid_from)
    left = tuple(each for each in there.value.items if each.code != code)
    if len(left) == len(there.value.items):
        raise click.UsageError(f"the catalogue from {valid_from} has no {code}")
    _put(desk, valid_from, left, there)


@click.command("withdraw-catalogue", epilog="Example: pool withdraw-catalogue 2026-11-01")
@click.argument("valid_from", type=DAY)
@pass_desk
def withdraw_catalogue(desk: Desk, valid_from: date) -> None:
    """Let a catalogue count no more.

    As one that was entered for the wrong day; its versions stay."""
    desk.book.withdraw_catalogue(valid_from=valid_from, tag=desk.book.catalogue(valid_from=valid_from).tag)
    desk.say(f"the catalogue from {valid_from} counts no more")


@click.command("compare-catalogues", epilog="Example: pool compare-catalogues 2026-11-01 --since 2026-01-01")
@click.argument("valid_from", type=DAY)
@click.option("--since", type=DAY, help="The day of the older one; the one before unless given.")
@json_option
@pass_desk
def compare_catalogues(desk: Desk, valid_from: date, since: date | None) -> None:
    """Show what is new, gone, dearer and cheaper."""
    desk.tell(desk.book.catalogue_changes(valid_from=valid_from, since=since), show_catalogue.changes)


@click.command("catalogue-profiles", epilog="Example: pool catalogue-profiles")
@json_option
@pass_desk
def catalogue_profiles(desk: Desk) -> None:
    """List the column profiles of catalogues."""
    desk.tell(list(desk.book.catalogue_profiles()), show_catalogue.profiles)


@click.command("save-catalogue-profile", epilog="Example: pool save-catalogue-profile norvane-list.json")
@click.argument("file", type=FILE)
@pass_desk
def save_catalogue_profile(desk: Desk, file: Path) -> None:
    """Make or replace a catalogue profile from JSON."""
    _save(desk, read_model(file, CatalogueProfile))


def _save(desk: Desk, profile: CatalogueProfile) -> None:
    try:
        tag = desk.book.catalogue_profile(name=profile.name).tag
    except Missing:
        tag = None
    desk.book.put_catalogue_profile(profile, tag=tag)
    desk.say(f"catalogue profile {profile.name} is saved")


@click.command("check-uses", epilog="Example: pool check-uses 2026-10")
@click.argument("month")
@click.option("--all", "all_", is_flag=True, help="Those in order, too.")
@json_option
@pass_desk
def check_uses(desk: Desk, month: str, all_: bool) -> None:
    """Compare a month's uses with the catalogue.

    Each with that of its day. A difference is told, and changes nothing."""
    found = desk.book.use_checks(month=month, doubtful=None if all_ else True)
    desk.tell(list(found), show_catalogue.use_checks)


@click.command("earnings", epilog="Example: pool earnings 2026-09 --to 2026-10 --by item --csv > earnings.csv")
@click.argument("from_month")
@click.option("--to", "to_month", metavar="MONTH", help="The last month; the first one unless given.")
@click.option("--by", type=one_of(By), default="total", show_default=True, help="What they are told by.")
@click.option("--member", help="Only of this member.")
@click.option("--csv", "as_csv", is_flag=True, help="Give them as CSV.")
@json_option
@pass_desk
def earnings(desk: Desk, from_month: str, to_month: str | None, by: str, member: str | None, as_csv: bool) -> None:
    """Show what jobs cost and what they earned."""
    if as_csv and desk.as_json:
        raise click.UsageError("--csv and --json exclude each other")
    wanted = By(by)
    if as_csv:
        text = desk.book.earnings_csv(from_month=from_month, to_month=to_month, by=wanted, member=member)
        desk.tell_text(text)
    else:
        found = desk.book.earnings(from_month=from_month, to_month=to_month, by=wanted, member=member)
        desk.tell(found, show_catalogue.earnings)


@click.command("quote", epilog="Example: pool quote ALDER --item CAL-S --item CAL-M --price 480.00")
@click.argument("member")
@click.option("--item", "wanted", multiple=True, help="An item that the job needs; several times for several.")
@click.option("--credits", type=click.IntRange(0), default=0, help="Credits that it needs beside them.")
@click.option("--price", type=AMOUNT, help="What the customer would be charged.")
@click.option("--on", type=DAY, help="The day; today unless given.")
@json_option
@pass_desk
def quote(desk: Desk, member: str, wanted: Sequence[str], credits: int, price: Decimal | None, on: date | None) -> None:
    """Show what a job would take and cost.

    The cheapest items with which all that is wanted is had, and what the credits cost at the member's blended unit cost
    and at the price of the next order. Nothing is kept."""
    found = desk.book.quote(member=member, items=wanted, credits=credits, price=price, on=on)
    desk.tell(found, show_catalogue.quote)


CATALOGUE = (
    catalogues,
    catalogue,
    items,
    read_catalogue,
    enter_catalogue,
    put_item,
    drop_item,
    withdraw_catalogue,
    compare_catalogues,
    catalogue_profiles,
    save_catalogue_profile,
)

JOBS = (quote, earnings, check_uses)
