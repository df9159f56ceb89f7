"""What can be recorded by hand, and with which fields: one description for each kind, read by one page.

A field's name is the name that the kind's body gives it. What isn't asked for here, such as an opening, is recorded
through the command line or by a program.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass

from pool_client.models.entries import (
    STOCK,
    Charge,
    Direction,
    Draw,
    Loan,
    Outside,
    Payment,
    Purchase,
    Recordable,
    Relocation,
    Return,
    Use,
    WriteOff,
    WriteOffReason,
)

from pool_web.forms import Form

Build = Callable[[Form, Collection[str]], Recordable | None]
"""Reads a form, with the codes of the members; None where something is to be mended first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A field of a form. kind says how it is filled in: member, holder, credits, money, text, item, tick, or one of
    choices. aside says that it is seldom wanted, so that it stands out of the way."""

    name: str
    label: str
    kind: str
    hint: str = ""
    needed: bool = True
    aside: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A kind of entry as people record it: title over the form, verb on its button."""

    kind: str
    title: str
    verb: str
    fields: tuple[Field, ...]
    build: Build


def _loan(form: Form, members: Collection[str]) -> Recordable | None:
    lender, borrower = form.chosen("lender", members), form.chosen("borrower", members)
    quantity, price = form.quantity("quantity"), form.money("unit_price", needed=False)
    _two(form, "borrower", lender, borrower)
    return None if quantity is None else Loan(lender=lender, borrower=borrower, quantity=quantity, unit_price=price)


def _draw(form: Form, members: Collection[str]) -> Recordable | None:
    member, quantity = form.chosen("member", members), form.quantity("quantity")
    return None if quantity is None else Draw(member=member, quantity=quantity)


def _return(form: Form, members: Collection[str]) -> Recordable | None:
    borrower, lender = form.chosen("borrower", members), form.chosen("lender", members)
    quantity = form.quantity("quantity")
    _two(form, "lender", borrower, lender)
    return None if quantity is None else Return(borrower=borrower, lender=lender, quantity=quantity)


def _use(form: Form, members: Collection[str]) -> Recordable | None:
    member, quantity = form.chosen("member", members), form.quantity("quantity")
    item, job = form.text("item", most=40), form.text("job", most=100)
    price = form.money("price", needed=False)
    off_road = form.ticked("off_road_only")
    return (
        None
        if quantity is None
        else Use(member=member, quantity=quantity, item=item, job=job, price=price, off_road_only=off_road)
    )


def _purchase(form: Form, members: Collection[str]) -> Recordable | None:
    paid_by, into = form.chosen("paid_by", members), form.chosen("into", {STOCK, *members})
    quantity, amount = form.quantity("quantity"), form.money("amount")
    order = form.text("order_number", needed=False, most=100) or None
    if quantity is None or amount is None:
        return None
    return Purchase(paid_by=paid_by, into=into, quantity=quantity, amount=amount, order_number=order)


def _payment(form: Form, members: Collection[str]) -> Recordable | None:
    payer, payee = form.chosen("from_member", members), form.chosen("to_member", members)
    amount, pays = form.money("amount"), form.text("pays", needed=False, most=40) or None
    method = form.text("method", needed=False, most=100) or None
    _two(form, "to_member", payer, payee)
    return (
        None if amount is None else Payment(from_member=payer, to_member=payee, amount=amount, method=method, pays=pays)
    )


def _charge(form: Form, members: Collection[str]) -> Recordable | None:
    payer, payee = form.chosen("from_member", members), form.chosen("to_member", members)
    amount, reason = form.money("amount"), form.text("reason")
    _two(form, "to_member", payer, payee)
    return None if amount is None else Charge(from_member=payer, to_member=payee, amount=amount, reason=reason)


def _write_off(form: Form, members: Collection[str]) -> Recordable | None:
    holder, quantity = form.chosen("holder", {STOCK, *members}), form.quantity("quantity")
    reason = form.chosen("reason", _REASONS)
    if quantity is None or form.problems:
        return None
    return WriteOff(holder=holder, quantity=quantity, reason=WriteOffReason(reason))


def _outside(form: Form, members: Collection[str]) -> Recordable | None:
    member, direction = form.chosen("member", members), form.chosen("direction", _DIRECTIONS)
    party, quantity, amount = form.text("party", most=100), form.quantity("quantity"), form.money("amount")
    if quantity is None or amount is None or form.problems:
        return None
    return Outside(member=member, direction=Direction(direction), party=party, quantity=quantity, amount=amount)


def _relocation(form: Form, members: Collection[str]) -> Recordable | None:
    giver, taker = form.chosen("from_member", members), form.chosen("to_member", members)
    quantity = form.quantity("quantity")
    _two(form, "to_member", giver, taker)
    return None if quantity is None else Relocation(from_member=giver, to_member=taker, quantity=quantity)


def _two(form: Form, name: str, one: str, other: str) -> None:
    if one and one == other:
        form.problems[name] = "That is the same member twice."


_REASONS = tuple(each.value for each in WriteOffReason)
_DIRECTIONS = tuple(each.value for each in Direction)
_QUANTITY = Field(name="quantity", label="Credits", kind="credits")
_AMOUNT = Field(name="amount", label="Amount", kind="money")
_PAYER = Field(name="from_member", label="Who pays", kind="member")
_PAYEE = Field(name="to_member", label="Who is paid", kind="member")

DEEDS: dict[str, Deed] = {
    each.kind: each
    for each in (
        Deed(
            kind="loan",
            title="Lend credits",
            verb="Lend",
            build=_loan,
            fields=(
                Field(name="lender", label="Who lends", kind="member"),
                Field(name="borrower", label="Who borrows", kind="member"),
                _QUANTITY,
                Field(
                    name="unit_price",
                    label="Agreed price of a credit",
                    kind="money",
                    hint="Only where you have agreed one; such a loan is settled at that price.",
                    needed=False,
                    aside=True,
                ),
            ),
        ),
        Deed(
            kind="draw",
            title="Draw from stock",
            verb="Draw",
            build=_draw,
            fields=(Field(name="member", label="Who draws", kind="member"), _QUANTITY),
        ),
        Deed(
            kind="return",
            title="Give lent credits back",
            verb="Give back",
            build=_return,
            fields=(
                Field(name="borrower", label="Who gives back", kind="member"),
                Field(name="lender", label="To whom", kind="member"),
                _QUANTITY,
            ),
        ),
        Deed(
            kind="use",
            title="Use credits on a job",
            verb="Use",
            build=_use,
            fields=(
                Field(name="member", label="Who uses them", kind="member"),
                Field(name="item", label="Item", kind="item", hint="The code in the vendor's catalogue."),
                Field(
                    name="quantity",
                    label="Credits",
                    kind="credits",
                    hint="Left empty: what the catalogue says for the item.",
                    needed=False,
                ),
                Field(name="job", label="Job", kind="text", hint="Your own number of the job."),
                Field(name="price", label="Charged to the customer", kind="money", needed=False),
                Field(name="off_road_only", label="For use off public roads only", kind="tick", needed=False),
            ),
        ),
        Deed(
            kind="purchase",
            title="Enter a purchase",
            verb="Enter",
            build=_purchase,
            fields=(
                Field(name="paid_by", label="Who paid", kind="member"),
                Field(name="into", label="Into", kind="holder"),
                _QUANTITY,
                Field(name="amount", label="Amount", kind="money", hint="All that was paid, fees included."),
                Field(name="order_number", label="The vendor's order number", kind="text", needed=False, aside=True),
            ),
        ),
        Deed(
            kind="payment",
            title="Enter a payment",
            verb="Enter",
            build=_payment,
            fields=(
                _PAYER,
                _PAYEE,
                _AMOUNT,
                Field(
                    name="pays",
                    label="Settlement payment",
                    kind="text",
                    hint="The number on the settlement list that this answers, if any.",
                    needed=False,
                ),
                Field(name="method", label="How it was paid", kind="text", needed=False, aside=True),
            ),
        ),
        Deed(
            kind="charge",
            title="Charge a member",
            verb="Charge",
            build=_charge,
            fields=(_PAYER, _PAYEE, _AMOUNT, Field(name="reason", label="For what", kind="text")),
        ),
        Deed(
            kind="write_off",
            title="Write credits off",
            verb="Write off",
            build=_write_off,
            fields=(
                Field(name="holder", label="Whose credits", kind="holder"),
                _QUANTITY,
                Field(name="reason", label="Why", kind="choice", choices=_REASONS),
            ),
        ),
        Deed(
            kind="outside",
            title="Credits from or to outside",
            verb="Enter",
            build=_outside,
            fields=(
                Field(name="member", label="Whose account", kind="member"),
                Field(name="direction", label="Direction", kind="choice", choices=_DIRECTIONS),
                Field(name="party", label="The other party", kind="text"),
                _QUANTITY,
                _AMOUNT,
            ),
        ),
        Deed(
            kind="relocation",
            title="Keep the stock in another account",
            verb="Move",
            build=_relocation,
            fields=(
                Field(name="from_member", label="Whose account it was in", kind="member"),
                Field(name="to_member", label="Whose account it is in now", kind="member"),
                _QUANTITY,
            ),
        ),
    )
}
"""By the word of the journal."""
