"""The rules of a policy as options, for every command that takes them."""

import click

from pool_client.commands.desk import together
from pool_client.commands.values import AMOUNT, PAIRS, one_of
from pool_client.models.directory import LoanPrice, LoansAtClose, PaymentPlan, SavingRule, StockCosting, StockFunding

policy_options = together(
    click.option("--stock-costing", type=one_of(StockCosting), help="How cost leaves the stock."),
    click.option("--loan-price", type=one_of(LoanPrice), help="What a loan without an agreed price is worth."),
    click.option("--loans-at-close", type=one_of(LoansAtClose), help="Whether loans are settled or carried on."),
    click.option("--stock-funding", type=one_of(StockFunding), help="Who finances the stock."),
    click.option("--payment-plan", type=one_of(PaymentPlan), help="How nets become payments."),
    click.option("--smallest-payment", type=AMOUNT, help="Smaller nets are carried forward."),
    click.option(
        "--no-payments-between",
        type=PAIRS,
        help="Pairs of members that can't pay each other: ALDER+BIRCH,ALDER+CEDAR, or none.",
    ),
    click.option("--saving-rule", type=one_of(SavingRule), help="How what ordering together costs is shared."),
)
