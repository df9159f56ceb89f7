"""Why and what if: the figures of a month with all that they come from, and the month under another policy."""

from dataclasses import replace
from itertools import islice
from typing import Any

import click

from pool_client import show_figures
from pool_client.client import Book
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.rules import policy_options
from pool_client.models.explanations import Explained


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
@click.option("--most", type=click.IntRange(1), default=200, show_default=True, help="How many figures, nearest first.")
@json_option
@pass_desk
def explain(desk: Desk, month: str, figure: str, depth: int | None, most: int) -> None:
    """Show why a figure is what it is.

    What it comes from stands indented below it, down to the entries; 'pool figures' lists the names. Of a long sum the
    first operands are shown; 'pool operands' lists all."""
    desk.tell(_explained(desk.book, month, figure, depth, most), show_figures.explained)


def _explained(book: Book, month: str, figure: str, depth: int | None, most: int) -> Explained:
    """Read so many figures of a chain, or as many as belong together where the book moves on meanwhile."""
    found = book.explanation(month=month, figure=figure, depth=depth, limit=min(most, 200))
    while found.next is not None and (left := most - len(found.items)) > 0:
        after = book.explanation(month=month, figure=figure, depth=depth, limit=min(left, 200), cursor=found.next)
        if after.computed_at != found.computed_at:
            break
        found = replace(after, items=(*found.items, *after.items))
    return found


@click.command("operands", epilog="Example: pool operands 2026-10 stock.closing.quantity --most 1000")
@click.argument("month")
@click.argument("figure")
@click.option("--most", type=click.IntRange(1), default=200, show_default=True, help="How many, in order.")
@json_option
@pass_desk
def operands(desk: Desk, month: str, figure: str, most: int) -> None:
    """List all that the formula of a figure is applied to."""
    found = desk.book.operands(month=month, figure=figure, limit=min(most, 200))
    desk.tell(list(islice(found, most)), show_figures.operands)


@click.command("compare", epilog="Example: pool compare 2026-10 --stock-costing fifo --smallest-payment 5")
@click.argument("month")
@policy_options
@json_option
@pass_desk
def compare(desk: Desk, /, month: str, **changed: Any) -> None:
    """Show what a month would be under another policy.

    Rules that aren't given stay as they are. Nothing is recorded."""
    desk.tell(desk.book.comparison(month=month, **changed), show_figures.comparison)


COMMANDS = (figures, explain, operands, compare)
