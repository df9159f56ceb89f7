"""How each kind of entry is asked for and shown on the wire.

A form is what a client sends to have an entry recorded; its `body` gives the core's body, with amounts in minor units.
An entry is shown as a pure function of it, so that a replay shows the same. What a close froze is read from its month.
"""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, create_model

from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
    Direction,
    Draw,
    Entry,
    Loan,
    Opening,
    OpeningLoan,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Return,
    Reversal,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
    body_json,
)
from pool_api.domain.values import STOCK, Currency
from pool_api.rest.wire import (
    CreditCount,
    Credits,
    Day,
    EntryNumber,
    Flag,
    Holder,
    Instant,
    MemberCode,
    Money,
    Note,
    Reference,
    ShortText,
    SignedMoney,
    UnitPriceText,
    WireModel,
)


class EntryForm(WireModel):
    """What every request to record may state beside its body."""

    kind_recorded: ClassVar[str]
    effective_on: Day | None = Field(default=None, description="Today in the pool's time zone unless stated.")
    note: Note = ""
    reference: Reference | None = None

    def body(self, currency: Currency) -> Body:
        """Give the core's body. Refuses: AmountTooPrecise, AmountOutOfRange."""
        raise NotImplementedError


class OpeningMemberForm(WireModel):
    """One member's position in the old books."""

    member: MemberCode
    held: CreditCount = 0
    cost: Money = Decimal(0)
    due: SignedMoney = Decimal(0)


class OpeningLoanForm(WireModel):
    """Credits that were on loan when the book began."""

    lender: MemberCode
    borrower: MemberCode
    quantity: Credits


class OpeningForm(EntryForm):
    """What the old books said, recorded once, on the pool's first day."""

    kind_recorded = Opening.kind
    members: Annotated[list[OpeningMemberForm], Field(max_length=1_000)] = []
    stock_quantity: CreditCount = 0
    stock_cost: Money = Decimal(0)
    loans: Annotated[list[OpeningLoanForm], Field(max_length=10_000)] = []

    def body(self, currency: Currency) -> Opening:
        least = -(10**15)
        return Opening(
            members=tuple(
                OpeningMember(
                    member=each.member,
                    held=each.held,
                    cost=currency.minor(each.cost),
                    due=currency.minor(each.due, least=least),
                )
                for each in self.members
            ),
            stock_quantity=self.stock_quantity,
            stock_cost=currency.minor(self.stock_cost),
            loans=tuple(
                OpeningLoan(lender=each.lender, borrower=each.borrower, quantity=each.quantity) for each in self.loans
            ),
        )


class PurchaseForm(EntryForm):
    """Credits bought from the vendor; the amount is all that was paid, fees and unrecoverable tax included."""

    kind_recorded = Purchase.kind
    into: Holder = STOCK
    paid_by: MemberCode
    quantity: Credits
    amount: Money
    order_number: ShortText | None = None

    def body(self, currency: Currency) -> Purchase:
        return Purchase(
            into=self.into,
            paid_by=self.paid_by,
            quantity=self.quantity,
            amount=currency.minor(self.amount),
            order_number=self.order_number,
        )


class DrawForm(EntryForm):
    """A member takes credits from stock."""

    kind_recorded = Draw.kind
    member: MemberCode
    quantity: Credits

    def body(self, currency: Currency) -> Draw:  # noqa: ARG002 - no amount
        return Draw(member=self.member, quantity=self.quantity)


class LoanForm(EntryForm):
    """Credits from one member to another, to be made good; with an agreed price they are settled at that price."""

    kind_recorded = Loan.kind
    lender: MemberCode
    borrower: MemberCode
    quantity: Credits
    unit_price: UnitPriceText | None = None

    def body(self, currency: Currency) -> Loan:  # noqa: ARG002 - a unit price may have more decimals than the currency
        return Loan(lender=self.lender, borrower=self.borrower, quantity=self.quantity, unit_price=self.unit_price)


class ReturnForm(EntryForm):
    """Lent credits going back."""

    kind_recorded = Return.kind
    borrower: MemberCode
    lender: MemberCode
    quantity: Credits

    def body(self, currency: Currency) -> Return:  # noqa: ARG002 - no amount
        return Return(borrower=self.borrower, lender=self.lender, quantity=self.quantity)


class UseForm(EntryForm):
    """Credits spent on a job."""

    kind_recorded = Use.kind
    member: MemberCode
    quantity: Credits
    item: ShortText
    job: ShortText
    price: Money | None = Field(default=None, description="What the customer was charged.")
    off_road_only: Flag = Field(default=False, description="The law of the place may forbid it on public roads.")

    def body(self, currency: Currency) -> Use:
        return Use(
            member=self.member,
            quantity=self.quantity,
            item=self.item,
            job=self.job,
            price=None if self.price is None else currency.minor(self.price),
            off_road_only=self.off_road_only,
        )


class WriteOffForm(EntryForm):
    """Credits gone without a use."""

    kind_recorded = WriteOff.kind
    holder: Holder
    quantity: Credits
    reason: WriteOffReason

    def body(self, currency: Currency) -> WriteOff:  # noqa: ARG002 - no amount
        return WriteOff(holder=self.holder, quantity=self.quantity, reason=self.reason)


class OutsideForm(EntryForm):
    """Credits that came from or went to an account outside the pool."""

    kind_recorded = Outside.kind
    member: MemberCode
    direction: Direction
    party: ShortText
    quantity: Credits
    amount: Money

    def body(self, currency: Currency) -> Outside:
        return Outside(
            member=self.member,
            direction=self.direction,
            party=self.party,
            quantity=self.quantity,
            amount=currency.minor(self.amount),
        )


class RelocationForm(EntryForm):
    """Stock goes from the custodian's vendor account to another member's, who is custodian from then on."""

    kind_recorded = Relocation.kind
    from_member: MemberCode
    to_member: MemberCode
    quantity: Credits

    def body(self, currency: Currency) -> Relocation:  # noqa: ARG002 - no amount
        return Relocation(from_member=self.from_member, to_member=self.to_member, quantity=self.quantity)


class ChargeForm(EntryForm):
    """Money that one member owes another for a stated reason."""

    kind_recorded = Charge.kind
    from_member: MemberCode
    to_member: MemberCode
    amount: Money
    reason: ShortText

    def body(self, currency: Currency) -> Charge:
        return Charge(
            from_member=self.from_member,
            to_member=self.to_member,
            amount=currency.minor(self.amount, least=1),
            reason=self.reason,
        )


class PaymentForm(EntryForm):
    """Money that one member has paid another; `pays` names the settlement payment that it answers, if any."""

    kind_recorded = Payment.kind
    from_member: MemberCode
    to_member: MemberCode
    amount: Money
    method: ShortText | None = None
    bank_reference: ShortText | None = None
    pays: Annotated[str, Field(pattern=r"^2[0-9]{3}-(0[1-9]|1[0-2])-[1-9][0-9]{0,5}$", max_length=14)] | None = None

    def body(self, currency: Currency) -> Payment:
        return Payment(
            from_member=self.from_member,
            to_member=self.to_member,
            amount=currency.minor(self.amount, least=1),
            method=self.method,
            bank_reference=self.bank_reference,
            pays=self.pays,
        )


class ReversalForm(EntryForm):
    """Undoes an earlier entry: all that is left of it, or a part."""

    kind_recorded = Reversal.kind
    entry: EntryNumber
    quantity: Credits | None = None

    def body(self, currency: Currency) -> Reversal:  # noqa: ARG002 - no amount
        return Reversal(entry=self.entry, quantity=self.quantity)


class AcknowledgementForm(EntryForm):
    """The other side's word on an entry."""

    kind_recorded = Acknowledgement.kind
    entry: EntryNumber
    member: MemberCode
    verdict: Verdict

    def body(self, currency: Currency) -> Acknowledgement:  # noqa: ARG002 - no amount
        return Acknowledgement(entry=self.entry, member=self.member, verdict=self.verdict)


FORMS: tuple[type[EntryForm], ...] = (
    OpeningForm,
    PurchaseForm,
    DrawForm,
    LoanForm,
    ReturnForm,
    UseForm,
    WriteOffForm,
    OutsideForm,
    RelocationForm,
    ChargeForm,
    PaymentForm,
    ReversalForm,
    AcknowledgementForm,
)
"""Every form, in the order of the kinds; closes and reopenings are asked for at their month."""

COMMANDS: tuple[type[EntryForm], ...] = tuple(
    create_model(
        form.__name__.removesuffix("Form") + "Command",
        __base__=form,
        __doc__=form.__doc__,
        kind=(Literal[form.kind_recorded], Field(description="The kind of the entry.")),  # type: ignore[arg-type]
    )
    for form in FORMS
)
"""The forms as they stand in a batch: each with its kind."""


class EntryShown(WireModel):
    """An entry of the journal."""

    number: EntryNumber
    kind: str = Field(max_length=20)
    effective_on: Day
    recorded_at: Instant
    recorded_by: str = Field(max_length=200, description="Role, member or -, and key of who recorded it.")
    note: Note
    reference: Reference | None = None
    previous_hash: str = Field(pattern="^[0-9a-f]{64}$")
    hash: str = Field(pattern="^[0-9a-f]{64}$")
    body: dict[str, Any] = Field(description="As recorded; amounts are decimal text of the pool's currency.")


_AMOUNTS = frozenset({"amount", "price", "cost", "due", "stock_cost"})
_FROZEN = frozenset({"sheet", "settlement"})


def show_entry(entry: Entry, currency: Currency) -> dict[str, Any]:
    """Give an entry as it is shown."""
    shown: dict[str, Any] = {
        "number": entry.number,
        "kind": entry.kind,
        "effective_on": entry.effective_on.isoformat(),
        "recorded_at": entry.recorded_at,
        "recorded_by": entry.recorded_by,
        "note": entry.note,
        "previous_hash": entry.previous_hash,
        "hash": entry.hash,
        "body": _shown_body(entry.body, currency),
    }
    if entry.reference is not None:
        shown["reference"] = entry.reference
    return shown


def _shown_body(body: Body, currency: Currency) -> dict[str, Any]:
    stated = body_json(body)
    if isinstance(body, Close):
        stated = {name: value for name, value in stated.items() if name not in _FROZEN}
    return _with_text(stated, currency.text)


def _with_text(value: dict[str, Any], text: Callable[[int], str]) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    for name, each in value.items():
        if each is None:
            continue
        if isinstance(each, list | tuple):
            shown[name] = [_with_text(part, text) for part in each]
        else:
            shown[name] = text(each) if name in _AMOUNTS else each
    return shown


def effective_day(form: EntryForm, today: date) -> date:
    """Give the day that a form counts from."""
    return form.effective_on or today
