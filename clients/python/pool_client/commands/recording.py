"""Recording what happened: one command for each kind of entry, and batches from a file."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import click

from pool_client import show, show_preview
from pool_client.commands.desk import Desk, json_option, pass_desk, repeat_option, together
from pool_client.commands.files import FILE, read_commands, read_model
from pool_client.commands.values import AMOUNT, DAY, one_of
from pool_client.models.entries import (
    STOCK,
    Acknowledgement,
    Charge,
    Command,
    Direction,
    Draw,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Recordable,
    Relocation,
    Return,
    Reversal,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
)

_preview_option = click.option(
    "--preview", "only_preview", is_flag=True, help="Only show what would become of it; record nothing."
)

_recording = together(
    pass_desk,
    click.option("--on", "effective_on", type=DAY, help="The day it counts from; today unless given."),
    click.option("--note", default="", help="Why; free text."),
    click.option("--reference", help="A reference of your own, unique in the pool."),
    _preview_option,
    repeat_option,
    json_option,
)
"""What every recording command takes beside its body."""


def _record(desk: Desk, body: Recordable, beside: dict[str, Any]) -> None:
    if beside.pop("only_preview"):
        del beside["idempotency_key"]
        desk.tell(desk.book.preview([Command(body=body, **beside)]), show_preview.previewed)
    else:
        desk.tell(desk.book.record(body, **beside), show.recorded)


@click.command("buy", epilog="Example: pool buy 500 3450.00 --paid-by ALDER --order N-20817")
@click.argument("quantity", type=int)
@click.argument("amount", type=AMOUNT)
@click.option("--paid-by", required=True, help="The member that paid.")
@click.option("--into", default=STOCK, show_default=True, help="The stock, or a member.")
@click.option("--order", "order_number", help="The vendor's order number.")
@_recording
def buy(
    desk: Desk, quantity: int, amount: Decimal, paid_by: str, into: str, order_number: str | None, **beside: Any
) -> None:
    """Record a purchase.

    AMOUNT is all that was paid, fees and unrecoverable tax included."""
    _record(
        desk, Purchase(into=into, paid_by=paid_by, quantity=quantity, amount=amount, order_number=order_number), beside
    )


@click.command("draw", epilog="Example: pool draw BIRCH 150")
@click.argument("member")
@click.argument("quantity", type=int)
@_recording
def draw(desk: Desk, member: str, quantity: int, **beside: Any) -> None:
    """Record that a member took credits from stock."""
    _record(desk, Draw(member=member, quantity=quantity), beside)


@click.command("lend", epilog="Example: pool lend BIRCH DOGWOOD 24 --note 'customer waiting'")
@click.argument("lender")
@click.argument("borrower")
@click.argument("quantity", type=int)
@click.option("--price", "unit_price", type=AMOUNT, help="An agreed price per credit; then it can't be returned.")
@_recording
def lend(desk: Desk, lender: str, borrower: str, quantity: int, unit_price: Decimal | None, **beside: Any) -> None:
    """Record a loan from one member to another."""
    _record(desk, Loan(lender=lender, borrower=borrower, quantity=quantity, unit_price=unit_price), beside)


@click.command("return", epilog="Example: pool return DOGWOOD BIRCH 10")
@click.argument("borrower")
@click.argument("lender")
@click.argument("quantity", type=int)
@_recording
def give_back(desk: Desk, borrower: str, lender: str, quantity: int, **beside: Any) -> None:
    """Record that a borrower gave credits back."""
    _record(desk, Return(borrower=borrower, lender=lender, quantity=quantity), beside)


@click.command("use", epilog="Example: pool use ALDER 4 --item CAL-S --job A-1001 --price 133.00")
@click.argument("member")
@click.argument("quantity", type=int)
@click.option("--item", required=True, help="A code of the vendor's catalogue.")
@click.option("--job", required=True, help="The job's reference.")
@click.option("--price", type=AMOUNT, help="What the customer was charged.")
@click.option("--off-road-only", is_flag=True, help="The law of the place may forbid it on public roads.")
@_recording
def use(
    desk: Desk,
    member: str,
    quantity: int,
    item: str,
    job: str,
    price: Decimal | None,
    off_road_only: bool,
    **beside: Any,
) -> None:
    """Record credits spent on a job."""
    _record(
        desk,
        Use(member=member, quantity=quantity, item=item, job=job, price=price, off_road_only=off_road_only),
        beside,
    )


@click.command("write-off", epilog="Example: pool write-off stock 3 --reason expired")
@click.argument("holder")
@click.argument("quantity", type=int)
@click.option("--reason", required=True, type=one_of(WriteOffReason), help="Why they are gone.")
@_recording
def write_off(desk: Desk, holder: str, quantity: int, reason: str, **beside: Any) -> None:
    """Record that credits are gone without a use.

    HOLDER is a member, or stock."""
    _record(desk, WriteOff(holder=holder, quantity=quantity, reason=WriteOffReason(reason)), beside)


@click.command("outside", epilog="Example: pool outside CEDAR in 20 150.00 --party 'a shop in Farhollow'")
@click.argument("member")
@click.argument("direction", type=one_of(Direction))
@click.argument("quantity", type=int)
@click.argument("amount", type=AMOUNT)
@click.option("--party", required=True, help="The other side, as text.")
@_recording
def outside(desk: Desk, member: str, direction: str, quantity: int, amount: Decimal, party: str, **beside: Any) -> None:
    """Record credits from or to an account outside the pool.

    AMOUNT is what they cost, or brought."""
    _record(
        desk,
        Outside(member=member, direction=Direction(direction), party=party, quantity=quantity, amount=amount),
        beside,
    )


@click.command("relocate", epilog="Example: pool relocate ALDER BIRCH 190")
@click.argument("from_member")
@click.argument("to_member")
@click.argument("quantity", type=int)
@_recording
def relocate(desk: Desk, from_member: str, to_member: str, quantity: int, **beside: Any) -> None:
    """Record that the stock went to another vendor account.

    TO_MEMBER is custodian from then on."""
    _record(desk, Relocation(from_member=from_member, to_member=to_member, quantity=quantity), beside)


@click.command("charge", epilog="Example: pool charge BIRCH ALDER 12.50 --reason 'courier'")
@click.argument("from_member")
@click.argument("to_member")
@click.argument("amount", type=AMOUNT)
@click.option("--reason", required=True, help="What it is for.")
@_recording
def charge(desk: Desk, from_member: str, to_member: str, amount: Decimal, reason: str, **beside: Any) -> None:
    """Record that one member owes another money."""
    _record(desk, Charge(from_member=from_member, to_member=to_member, amount=amount, reason=reason), beside)


@click.command("pay", epilog="Example: pool pay BIRCH ALDER 961.07 --pays 2026-10-1 --method bank")
@click.argument("from_member")
@click.argument("to_member")
@click.argument("amount", type=AMOUNT)
@click.option("--pays", help="The settlement payment that it answers.")
@click.option(
    "--accept-overpayment", is_flag=True, help="More was paid than was left of it; the rest counts in the due."
)
@click.option("--method", help="How it was paid.")
@click.option("--bank-reference", help="What the bank calls it.")
@_recording
def pay(
    desk: Desk,
    from_member: str,
    to_member: str,
    amount: Decimal,
    pays: str | None,
    accept_overpayment: bool,
    method: str | None,
    bank_reference: str | None,
    **beside: Any,
) -> None:
    """Record money that one member has paid another."""
    _record(
        desk,
        Payment(
            from_member=from_member,
            to_member=to_member,
            amount=amount,
            pays=pays,
            accept_overpayment=accept_overpayment,
            method=method,
            bank_reference=bank_reference,
        ),
        beside,
    )


@click.command("reverse", epilog="Example: pool reverse 42 --quantity 12 --note 'wrong vehicle'")
@click.argument("entry", type=int)
@click.option("--quantity", type=int, help="A part; all that is left unless given.")
@_recording
def reverse(desk: Desk, entry: int, quantity: int | None, **beside: Any) -> None:
    """Undo an entry by a new one."""
    _record(desk, Reversal(entry=entry, quantity=quantity), beside)


@click.command("acknowledge", epilog="Example: pool acknowledge 42 DOGWOOD confirmed")
@click.argument("entry", type=int)
@click.argument("member")
@click.argument("verdict", type=one_of(Verdict))
@_recording
def acknowledge(desk: Desk, entry: int, member: str, verdict: str, **beside: Any) -> None:
    """Confirm or dispute an entry as the other side of it."""
    _record(desk, Acknowledgement(entry=entry, member=member, verdict=Verdict(verdict)), beside)


@click.command("open", epilog="Example: pool open old-books.json --on 2026-10-01")
@click.argument("file", type=FILE)
@_recording
def open_book(desk: Desk, file: Path, **beside: Any) -> None:
    """Record what the old books said, from a JSON file.

    It has members (member, held, cost, due), stock_quantity, stock_cost, and loans (lender, borrower, quantity)."""
    _record(desk, read_model(file, Opening), beside)


@click.command("batch", epilog="Example: pool batch october.jsonl")
@click.argument("file", type=FILE)
@_preview_option
@repeat_option
@json_option
@pass_desk
def batch(desk: Desk, file: Path, only_preview: bool, idempotency_key: str | None) -> None:
    """Record up to 5,000 commands from a file, all or none.

    A JSON object a line, or CSV with a head where the name ends in .csv. Each has its kind and what the kind says, and
    may have effective_on, note and reference."""
    commands = read_commands(file)
    if only_preview:
        desk.tell(desk.book.preview(commands), show_preview.previewed)
    else:
        desk.tell(list(desk.book.record_all(commands, idempotency_key=idempotency_key)), show.entries)


COMMANDS = (
    buy,
    draw,
    lend,
    give_back,
    use,
    write_off,
    outside,
    relocate,
    charge,
    pay,
    reverse,
    acknowledge,
    open_book,
    batch,
)
