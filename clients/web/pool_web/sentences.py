"""What an entry says, as people would say it. Members stand by their codes, as in the book."""

from collections.abc import Callable
from datetime import date
from typing import Any

from pool_client.models.entries import STOCK, Direction, Entry
from pool_client.models.vendor import Row


def sentence(entry: Entry) -> str:
    """Say what an entry says; of a kind that isn't known here, its name."""
    say = _SAY.get(entry.kind)
    return say(entry.body) if say else entry.kind.replace("_", " ")


def credits_of(quantity: int) -> str:
    """Say how many credits."""
    return "1 credit" if quantity == 1 else f"{quantity:,} credits"


def month_words(month: str) -> str:
    """Say a month, written as 2026-11."""
    first = date.fromisoformat(f"{month}-01")
    return f"{first:%B} {first.year}"


def row_words(row: Row) -> str:
    """Say what a row of the vendor's record shows. Accounts stand by their handles, as the vendor has them."""
    ways = {"transfer": "from {0} to {1}", "purchase": "bought for {1}", "use": "used by {0}", "refund": "back to {1}"}
    way = ways.get(row.kind, "from {0} to {1}").format(row.giver or "elsewhere", row.receiver or "elsewhere")
    paid = f" for {row.amount}" if row.amount else ""
    return f"{credits_of(row.quantity)} {way}{paid}"


def _opening(body: Any) -> str:
    held = sum(each.held for each in body.members) + body.stock_quantity
    return f"The old books closed with {credits_of(held)}"


def _purchase(body: Any) -> str:
    into = "into stock" if body.into == STOCK else f"for {body.into}"
    return f"{body.paid_by} paid {body.amount:,} for {credits_of(body.quantity)} {into}"


def _loan(body: Any) -> str:
    price = f" at {body.unit_price:,} each" if body.unit_price is not None else ""
    return f"{body.lender} lent {body.borrower} {credits_of(body.quantity)}{price}"


def _use(body: Any) -> str:
    charged = f", charged {body.price:,}" if body.price is not None else ""
    return f"{body.member} used {credits_of(body.quantity)} on job {body.job} ({body.item}){charged}"


def _write_off(body: Any) -> str:
    holder = "the stock" if body.holder == STOCK else body.holder
    return f"{credits_of(body.quantity)} of {holder} written off: {body.reason.replace('_', ' ')}"


def _outside(body: Any) -> str:
    came = body.direction == Direction.IN
    return (
        f"{body.member} {'took' if came else 'passed'} {credits_of(body.quantity)} "
        f"{'from' if came else 'to'} {body.party} for {body.amount:,}"
    )


def _payment(body: Any) -> str:
    pays = f", for payment {body.pays}" if body.pays else ""
    return f"{body.from_member} paid {body.to_member} {body.amount:,}{pays}"


def _reversal(body: Any) -> str:
    part = "" if body.quantity is None else f": {credits_of(body.quantity)}"
    return f"Entry {body.entry} undone{part}"


def _sign_off(body: Any) -> str:
    return f"{month_words(body.month)} signed off against the vendor's record: {body.matched} matched, {body.open} open"


_SAY: dict[str, Callable[[Any], str]] = {
    "opening": _opening,
    "purchase": _purchase,
    "draw": lambda body: f"{body.member} drew {credits_of(body.quantity)} from stock",
    "loan": _loan,
    "return": lambda body: f"{body.borrower} gave {body.lender} back {credits_of(body.quantity)}",
    "use": _use,
    "write_off": _write_off,
    "outside": _outside,
    "relocation": lambda body: f"Stock of {credits_of(body.quantity)} went from {body.from_member} to {body.to_member}",
    "charge": lambda body: f"{body.from_member} owes {body.to_member} {body.amount:,} for {body.reason}",
    "payment": _payment,
    "reversal": _reversal,
    "acknowledgement": lambda body: f"{body.member} {body.verdict} entry {body.entry}",
    "close": lambda body: f"{month_words(body.month)} closed",
    "reopening": lambda body: f"{month_words(body.month)} opened again: {body.reason}",
    "sign_off": _sign_off,
}
