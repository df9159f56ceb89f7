"""Why and what if: the figures of a month with all that they come from, and the month under another policy."""

from itertools import islice
from typing import Any

import click

from pool_client import show_figures
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.rules import policy_options


@click.command("figures", epilog="Example: pool figures 2026-10 --under members.BIRCH")
@click.argument("month")
@click.option("--under", help="Only the figure of that name and those whose names go on from it.")
@click.option("--most", type=click.IntRange(1), default=200, show_default=True, help="How many, in order of name.")
@json_option
@pass_desk
def figures(desk: Desk, month: str, under: str | None, most: int) -> None:
    """List the figures of a month that can be explained."""
    found = desk.book.figures(month=month, under=under, limit=min(most, 200))
    desk.tell(list(islice(found, most)), show_figures.figures)


@click.command("explain", epilog="Example: pool explain 2026-10 loans.BIRCH.DOGWOOD.amount")
@click.argument("month")
@click.argument("figure")
@click.option("--depth", type=click.IntRange(0, 20), help="So many steps down; 3 unless given.")
@json_option
@pass_desk
def explain(desk: Desk, month: str, figure: str, depth: int | None) -> None:
    """Show why a figure is what it is.

    What it comes from stands indented below it, down to the entries; 'pool figures' lists the names."""
    desk.tell(desk.book.explanation(month=month, figure=figure, depth=depth), show_figures.explained)


@click.command("compare", epilog="Example: pool compare 2026-10 --stock-costing fifo --smallest-payment 5")
@click.argument("month")
@policy_options
@json_option
@pass_desk
def compare(desk: Desk, /, month: str, **changed: Any) -> None:
    """Show what a month would be under another policy.

    Rules that aren't given stay as they are. Nothing is recorded."""
    desk.tell(desk.book.comparison(month=month, **changed), show_figures.comparison)


COMMANDS = (figures, explain, compare)
