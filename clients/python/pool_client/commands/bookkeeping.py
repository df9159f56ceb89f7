"""Banks and bookkeepers: bank accounts, payment files, account codes, a month as double entry."""

from collections.abc import Sequence
from dataclasses import fields, replace

import click

from pool_client import show_books
from pool_client.commands.desk import Desk, json_option, pass_desk
from pool_client.errors import Missing
from pool_client.models.bookkeeping import AccountCodes, BankAccount

ROLES = tuple(each.name for each in fields(AccountCodes) if each.name != "holder")


def _one_form(desk: Desk, option: str, *, wanted: bool) -> bool:
    if wanted and desk.as_json:
        raise click.UsageError(f"{option} and --json exclude each other")
    return wanted


@click.command("bank-account", epilog="Example: pool bank-account ALDER")
@click.argument("member")
@json_option
@pass_desk
def bank_account(desk: Desk, member: str) -> None:
    """Show a member's bank account."""
    desk.tell(desk.book.bank_account(member=member).value, show_books.bank_account)


@click.command(
    "set-bank-account",
    epilog="Example: pool set-bank-account ALDER --holder 'Alder Workshop' --iban 'AT80 9990 0000 0000 0001'",
)
@click.argument("member")
@click.option("--holder", required=True, help="Whose account it is, as the bank has it.")
@click.option("--iban", required=True, help="The account's international number.")
@click.option("--bic", help="The bank's code, where its bank asks for it.")
@json_option
@pass_desk
def set_bank_account(desk: Desk, member: str, holder: str, iban: str, bic: str | None) -> None:
    """Put a member's bank account on file.

    It replaces the one that is there. Members that have to pay this one get to see it."""
    made = BankAccount(member=member, holder=holder, iban=iban, bic=bic)
    try:
        tag = desk.book.bank_account(member=member).tag
    except Missing:
        tag = None
    desk.tell(desk.book.put_bank_account(made, tag=tag).value, show_books.bank_account)


@click.command("erase-bank-account", epilog="Example: pool erase-bank-account ALDER")
@click.argument("member")
@pass_desk
def erase_bank_account(desk: Desk, member: str) -> None:
    """Take a member's bank account off file."""
    desk.book.erase_bank_account(member=member, tag=desk.book.bank_account(member=member).tag)
    desk.say(f"no bank account of {member} is on file")


@click.command("payment-file", epilog="Example: pool payment-file 2026-10 DOGWOOD --xml > dogwood.xml")
@click.argument("month")
@click.argument("member")
@click.option("--xml", "as_xml", is_flag=True, help="Give it as the member's bank takes it (ISO 20022).")
@json_option
@pass_desk
def payment_file(desk: Desk, month: str, member: str, as_xml: bool) -> None:
    """Show what a member's bank is to transfer.

    What is left to pay of a closed month's settlement. It orders nothing until the member hands the file to its bank:
    check names and accounts before money moves."""
    if _one_form(desk, "--xml", wanted=as_xml):
        desk.say("This is no payment order: check names and accounts before money moves.")
        desk.tell_text(desk.book.payment_file_xml(month=month, member=member))
    else:
        desk.tell(desk.book.payment_file(month=month, member=member), show_books.payment_file)


@click.command("account-codes", epilog="Example: pool account-codes ALDER")
@click.argument("holder")
@json_option
@pass_desk
def account_codes(desk: Desk, holder: str) -> None:
    """Show how a holder calls its accounts.

    The holder is a member, or the stock."""
    desk.tell(desk.book.account_codes(holder=holder).value, show_books.account_codes)


@click.command("set-account-codes", epilog="Example: pool set-account-codes ALDER --set credits=1400 --set bank=1200")
@click.argument("holder")
@click.option(
    "--set", "given", multiple=True, metavar="ROLE=CODE", help=f"An account's code; the roles: {', '.join(ROLES)}."
)
@json_option
@pass_desk
def set_account_codes(desk: Desk, holder: str, given: Sequence[str]) -> None:
    """State how a holder calls its accounts.

    What isn't given stays as it is. The holder is a member, or the stock."""
    codes = dict(map(_code, given))
    try:
        read = desk.book.account_codes(holder=holder)
        there, tag = read.value, read.tag
    except Missing:
        there, tag = AccountCodes(holder=holder), None
    changed = replace(there, **codes)
    desk.tell(desk.book.put_account_codes(changed, tag=tag).value, show_books.account_codes)


def _code(text: str) -> tuple[str, str]:
    role, _, code = text.partition("=")
    if role not in ROLES or not code:
        raise click.UsageError(f"{text}: write ROLE=CODE, where the role is one of {', '.join(ROLES)}")
    return role, code


@click.command("postings", epilog="Example: pool postings 2026-10 DOGWOOD --csv > dogwood.csv")
@click.argument("month")
@click.argument("holder")
@click.option("--csv", "as_csv", is_flag=True, help="Give them as CSV, for bookkeeping programs.")
@json_option
@pass_desk
def postings(desk: Desk, month: str, holder: str, as_csv: bool) -> None:
    """Show a holder's month as double entry.

    The holder is a member, or the stock."""
    if _one_form(desk, "--csv", wanted=as_csv):
        desk.tell_text(desk.book.postings_csv(month=month, holder=holder))
    else:
        desk.tell(desk.book.postings(month=month, holder=holder), show_books.postings)


COMMANDS = (
    bank_account,
    set_bank_account,
    erase_bank_account,
    payment_file,
    account_codes,
    set_account_codes,
    postings,
)
