"""Buying: the vendor's price ladder, what orders cost, purchases beside the ladder, and the plan of the next orders."""

import re
import sys
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import click

from pool_client import show_buying, show_saving
from pool_client.commands.desk import REFUSED, Desk, json_option, pass_desk, repeat_option, together
from pool_client.commands.files import FILE, read_needs, sheet_option
from pool_client.commands.values import AMOUNT, DAY
from pool_client.errors import Missing
from pool_client.models.buying import Needs, PriceLadder, Tier


@click.command("ladders", epilog="Example: pool ladders")
@json_option
@pass_desk
def ladders(desk: Desk) -> None:
    """List the price ladders.

    Each counts from its day until the next one's."""
    desk.tell(list(desk.book.ladders()), show_buying.ladders)


@click.command("ladder-versions", epilog="Example: pool ladder-versions 2026-10-01")
@click.argument("valid_from", type=DAY)
@json_option
@pass_desk
def ladder_versions(desk: Desk, valid_from: date) -> None:
    """Show all that was said of a ladder, newest first."""
    desk.tell(list(desk.book.ladder_versions(valid_from=valid_from)), show_buying.versions)


@click.command("set-ladder", epilog="Example: pool set-ladder 2026-10-01 --tier 1=9.80 --tier 50=9.10 --tier 500=6.90")
@click.argument("valid_from", type=DAY)
@click.option(
    "--tier", "tiers", multiple=True, required=True, metavar="CREDITS=PRICE", help="From so many credits on, a price."
)
@json_option
@pass_desk
def set_ladder(desk: Desk, valid_from: date, tiers: Sequence[str]) -> None:
    """Enter a price ladder from a day on.

    It replaces the one from that day, whose versions stay. The first tier begins at the smallest order."""
    desk.tell([_put(desk, valid_from, [_tier(each) for each in tiers])], show_buying.ladders)


@click.command("import-ladder", epilog="Example: pool import-ladder ladder.csv --despite-doubts")
@click.argument("file", type=FILE)
@click.option("--from", "valid_from", type=DAY, help="The day it is valid from, if the file doesn't say.")
@click.option("--day-column", metavar="WORD", help="The header word of the days; guessed unless given.")
@click.option("--credits-column", metavar="WORD", help="That of the sizes of an order; guessed unless given.")
@click.option("--price-column", metavar="WORD", help="That of the unit prices; guessed unless given.")
@sheet_option
@click.option("--despite-doubts", is_flag=True, help="Enter what was read, doubts or not.")
@json_option
@pass_desk
def import_ladder(desk: Desk, /, file: Path, despite_doubts: bool, **said: Any) -> None:
    """Enter the price ladders of a file.

    FILE is delimited text or a spreadsheet, with a row for each tier: the size it begins at, or a range of sizes, and
    its unit price; a day if it has several ladders. Where its reading is doubted nothing is entered."""
    found = desk.book.propose_ladders(file.read_bytes(), **said)
    if found.doubts and not despite_doubts:
        desk.tell(found, show_buying.ladders_read)
        desk.say("Nothing is entered. State the columns, mend the file, or enter it with --despite-doubts.")
        sys.exit(REFUSED)
    desk.tell([_put(desk, each.valid_from, each.tiers) for each in found.ladders], show_buying.ladders)


@click.command("withdraw-ladder", epilog="Example: pool withdraw-ladder 2026-10-01")
@click.argument("valid_from", type=DAY)
@pass_desk
def withdraw_ladder(desk: Desk, valid_from: date) -> None:
    """Let a price ladder count no more."""
    tag = desk.book.ladder(valid_from=valid_from).tag
    desk.book.withdraw_ladder(valid_from=valid_from, tag=tag)
    desk.say(f"the price ladder from {valid_from} counts no more")


def _put(desk: Desk, valid_from: date, tiers: Sequence[Tier]) -> PriceLadder:
    try:
        tag = desk.book.ladder(valid_from=valid_from).tag
    except Missing:
        tag = None
    return desk.book.put_ladder(tiers, valid_from=valid_from, tag=tag).value


def _tier(text: str) -> Tier:
    quantity, _, price = text.partition("=")
    if not (re.fullmatch("[0-9]{1,10}", quantity) and re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,6})?", price)):
        raise click.UsageError(f"{text}: write CREDITS=PRICE, such as 50=9.10")
    return Tier(from_credits=int(quantity), unit_price=Decimal(price))


@click.command("order-price", epilog="Example: pool order-price 48")
@click.argument("quantity", type=click.IntRange(min=1))
@click.option("--on", type=DAY, help="The day of the order; today unless given.")
@json_option
@pass_desk
def order_price(desk: Desk, quantity: int, on: date | None) -> None:
    """Show what an order costs.

    Larger orders that cost less in total are shown with it."""
    desk.tell(desk.book.order_price(quantity=quantity, on=on), show_buying.order_price)


@click.command("check-purchases", epilog="Example: pool check-purchases 2026-10")
@click.argument("month")
@json_option
@pass_desk
def check_purchases(desk: Desk, month: str) -> None:
    """Compare purchases with the ladder of their day.

    What was paid includes fees, which the ladder doesn't know."""
    desk.tell(list(desk.book.purchase_checks(month=month)), show_buying.purchase_checks)


_USUAL_MONTHS = 12

_limits = together(
    click.option("--opening", type=click.IntRange(min=0), help="Credits at hand; what the book has unless given."),
    click.option("--order-cost", type=AMOUNT, default="0", show_default=True, help="Paid with every order."),
    click.option("--holding-cost", type=AMOUNT, default="0", show_default=True, help="Of a credit and month."),
    click.option("--expiry", type=click.IntRange(min=1), help="Months in which a credit is good."),
    click.option("--cash-limit", type=AMOUNT, help="The most that a month's orders may cost."),
    click.option("--stock-cap", type=click.IntRange(min=0), help="The most credits that an order may lead to."),
)
"""What a plan takes into account beside the needs and the ladder."""


@click.command(
    "plan-orders",
    epilog="Example: pool plan-orders --need ALDER=30,40,150,60 --order-cost 5.00 --holding-cost 0.10",
)
@click.option("--need", "needs", multiple=True, metavar="MEMBER=CREDITS,…", help="What a member needs, by month.")
@click.option("--needs", "file", type=FILE, help="A CSV file of needs: a column member, then one for each month.")
@click.option("--months", type=click.IntRange(min=1), help=f"Of forecast needs; {_USUAL_MONTHS} unless given.")
@click.option("--first-month", metavar="MONTH", help="The first month; the present one, or the file's, unless given.")
@_limits
@repeat_option
@json_option
@pass_desk
def plan_orders(
    desk: Desk,
    /,
    needs: Sequence[str],
    file: Path | None,
    months: int | None,
    first_month: str | None,
    **said: Any,
) -> None:
    """Find the cheapest orders for coming months.

    Needs are those of `pool needs` unless given. The plan is kept for all members to read; nothing is ordered. Example
    of a file's header: member,2026-12,2027-01"""
    if needs and file:
        raise click.UsageError("give either --need for each member, or a file with --needs")
    if (needs or file) and months:
        raise click.UsageError("--months is for forecast needs; those given have months of their own")
    stated: Sequence[Needs] | int = [_need(each) for each in needs] or months or _USUAL_MONTHS
    if file:
        begins, stated = read_needs(file)
        first_month = first_month or begins
    desk.tell(desk.book.plan_orders(stated, first_month=first_month, **said), show_buying.order_plan)


def _need(text: str) -> Needs:
    member, _, credits = text.partition("=")
    if not re.fullmatch("[0-9]{1,10}(,[0-9]{1,10})*", credits):
        raise click.UsageError(f"{text}: write MEMBER=CREDITS,…, such as ALDER=30,40")
    return Needs(member=member, credits=tuple(map(int, credits.split(","))))


@click.command("order-plans", epilog="Example: pool order-plans")
@json_option
@pass_desk
def order_plans(desk: Desk) -> None:
    """List the order plans that were made, newest first."""
    desk.tell(list(desk.book.order_plans()), show_buying.order_plans)


@click.command("order-plan", epilog="Example: pool order-plan 00000003")
@click.argument("plan_id")
@json_option
@pass_desk
def order_plan(desk: Desk, plan_id: str) -> None:
    """Show an order plan."""
    desk.tell(desk.book.order_plan(plan_id=plan_id), show_buying.order_plan)


@click.command("plan-savings", epilog="Example: pool plan-savings 00000003")
@click.argument("plan_id")
@json_option
@pass_desk
def plan_savings(desk: Desk, plan_id: str) -> None:
    """Show what an order plan saves each member.

    Each member's share of what the plan costs, beside the cheapest orders for its own needs alone."""
    desk.tell(list(desk.book.plan_savings(plan_id=plan_id)), show_buying.plan_savings)


@click.command("savings", epilog="Example: pool savings 2026-09 --to 2026-10 --csv > savings.csv")
@click.argument("from_month")
@click.option("--to", "to_month", metavar="MONTH", help="The last month; the first one unless given.")
@click.option("--csv", "as_csv", is_flag=True, help="Give each member's months as CSV.")
@json_option
@pass_desk
def savings(desk: Desk, from_month: str, to_month: str | None, as_csv: bool) -> None:
    """Show what ordering together was worth.

    What each member paid beside what it would have paid alone, and one joint order shared by each rule: whether a
    subgroup would do better alone."""
    if as_csv and desk.as_json:
        raise click.UsageError("--csv and --json exclude each other")
    if as_csv:
        desk.tell_text(desk.book.savings_csv(from_month=from_month, to_month=to_month))
    else:
        desk.tell(desk.book.savings(from_month=from_month, to_month=to_month), show_saving.savings)


COMMANDS = (
    *(ladders, ladder_versions, set_ladder, import_ladder, withdraw_ladder, order_price, check_purchases),
    *(plan_orders, order_plans, order_plan, plan_savings, savings),
)
