"""Why and what if: the figures of a month with all that they come from, and the month under another policy."""

from decimal import Decimal
from itertools import islice

import click

from pool_client import show_figures
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.commands.values import AMOUNT, PAIRS, one_of
from pool_client.models.directory import LoanPrice, LoansAtClose, PaymentPlan, StockCosting, StockFunding


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
@click.option("--stock-costing", type=one_of(StockCosting), help="How cost flows out of the stock.")
@click.option("--loan-price", type=one_of(LoanPrice), help="At what price loans are settled.")
@click.option("--loans-at-close", type=one_of(LoansAtClose), help="What becomes of open loans.")
@click.option("--stock-funding", type=one_of(StockFunding), help="Who finances the stock.")
@click.option("--payment-plan", type=one_of(PaymentPlan), help="How nets become payments.")
@click.option("--smallest-payment", type=AMOUNT, help="Smaller nets are carried forward.")
@click.option(
    "--no-payments-between", type=PAIRS, help="Pairs that can't pay each other: ALDER+BIRCH,ALDER+CEDAR, or none."
)
@json_option
@pass_desk
def compare(
    desk: Desk,
    month: str,
    stock_costing: str | None,
    loan_price: str | None,
    loans_at_close: str | None,
    stock_funding: str | None,
    payment_plan: str | None,
    smallest_payment: Decimal | None,
    no_payments_between: tuple[tuple[str, str], ...] | None,
) -> None:
    """Show what a month would be under another policy.

    Rules that aren't given stay as they are. Nothing is recorded."""
    found = desk.book.comparison(
        month=month,
        stock_costing=StockCosting(stock_costing) if stock_costing else None,
        loan_price=LoanPrice(loan_price) if loan_price else None,
        loans_at_close=LoansAtClose(loans_at_close) if loans_at_close else None,
        stock_funding=StockFunding(stock_funding) if stock_funding else None,
        payment_plan=PaymentPlan(payment_plan) if payment_plan else None,
        smallest_payment=smallest_payment,
        no_payments_between=no_payments_between,
    )
    desk.tell(found, show_figures.comparison)


COMMANDS = (figures, explain, compare)
