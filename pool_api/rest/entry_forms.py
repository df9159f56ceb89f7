"""How each kind of entry is asked for and shown on the wire.

A form is what a client sends to have an entry recorded; its `body` gives the core's body, with amounts in minor units.
An entry is shown as a pure function of it, so that a replay shows the same. What a close froze is read from its month.
"""

from collections.abc import Callable
from dataclasses import fields
from decimal import Decimal
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, create_model
from starlette.responses import Response

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
from pool_api.domain.values import MOST_MINOR, STOCK, Currency
from pool_api.rest import replies
from pool_api.rest.wire import (
    DIGEST_PATTERN,
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
from pool_api.store.writer import Recorded


class EntryForm(WireModel):
    """What every request to record may state beside its body."""

    recorded_as: ClassVar[type[Body]]
    least_amount: ClassVar[int] = 0
    effective_on: Day | None = Field(default=None, description="Today in the pool's time zone unless stated.")
    note: Note | None = None
    reference: Reference | None = None

    def body(self, currency: Currency) -> Body:
        """Give the core's body. Refuses: AmountTooPrecise, AmountOutOfRange."""
        return self.recorded_as(**_core_values(self, self.recorded_as, currency, self.least_amount))


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

    recorded_as = Opening
    members: Annotated[list[OpeningMemberForm], Field(max_length=1_000)] = []
    stock_quantity: CreditCount = 0
    stock_cost: Money = Decimal(0)
    loans: Annotated[list[OpeningLoanForm], Field(max_length=10_000)] = []


class PurchaseForm(EntryForm):
    """Credits bought from the vendor; the amount is all that was paid, fees and unrecoverable tax included."""

    recorded_as = Purchase
    into: Holder = STOCK
    paid_by: MemberCode
    quantity: Credits
    amount: Money
    order_number: ShortText | None = None


class DrawForm(EntryForm):
    """A member takes credits from stock."""

    recorded_as = Draw
    member: MemberCode
    quantity: Credits


class LoanForm(EntryForm):
    """Credits from one member to another, to be made good; with an agreed price they are settled at that price."""

    recorded_as = Loan
    lender: MemberCode
    borrower: MemberCode
    quantity: Credits
    unit_price: UnitPriceText | None = None


class ReturnForm(EntryForm):
    """Lent credits going back."""

    recorded_as = Return
    borrower: MemberCode
    lender: MemberCode
    quantity: Credits


class UseForm(EntryForm):
    """Credits spent on a job."""

    recorded_as = Use
    member: MemberCode
    quantity: Credits
    item: ShortText
    job: ShortText
    price: Money | None = Field(default=None, description="What the customer was charged.")
    off_road_only: Flag = Field(default=False, description="The law of the place may forbid it on public roads.")


class WriteOffForm(EntryForm):
    """Credits gone without a use."""

    recorded_as = WriteOff
    holder: Holder
    quantity: Credits
    reason: WriteOffReason


class OutsideForm(EntryForm):
    """Credits that came from or went to an account outside the pool."""

    recorded_as = Outside
    member: MemberCode
    direction: Direction
    party: ShortText
    quantity: Credits
    amount: Money


class RelocationForm(EntryForm):
    """Stock goes from the custodian's vendor account to another member's, who is custodian from then on."""

    recorded_as = Relocation
    from_member: MemberCode
    to_member: MemberCode
    quantity: Credits


class ChargeForm(EntryForm):
    """Money that one member owes another for a stated reason."""

    recorded_as = Charge
    least_amount = 1
    from_member: MemberCode
    to_member: MemberCode
    amount: Money
    reason: ShortText


class PaymentForm(EntryForm):
    """Money that one member has paid another; `pays` names the settlement payment that it answers, if any.

    What is paid beyond what was left of that stands in the entry's `beyond`, and counts in the dues of its month."""

    recorded_as = Payment
    least_amount = 1
    from_member: MemberCode
    to_member: MemberCode
    amount: Money
    method: ShortText | None = None
    bank_reference: ShortText | None = None
    pays: Annotated[str, Field(pattern=r"^2[0-9]{3}-(0[1-9]|1[0-2])-[1-9][0-9]{0,5}$", max_length=14)] | None = None
    accept_overpayment: Flag = Field(default=False, description="More was paid than was left of what it answers.")

    @property
    def beyond(self) -> int | None:
        """What may go beyond the settlement payment, as the core's body has it."""
        return None if self.accept_overpayment else 0


class ReversalForm(EntryForm):
    """Undoes an earlier entry: all that is left of it, or a part."""

    recorded_as = Reversal
    entry: EntryNumber
    quantity: Credits | None = None


class AcknowledgementForm(EntryForm):
    """The other side's word on an entry."""

    recorded_as = Acknowledgement
    entry: EntryNumber
    member: MemberCode
    verdict: Verdict


def _core_values(form: WireModel, core: type, currency: Currency, least: int) -> dict[str, Any]:
    """Give a form's values as the core's class of the same field names takes them."""
    given = {field.name: getattr(form, field.name) for field in fields(core) if hasattr(form, field.name)}
    return {name: _core_value(value, currency, _LEAST_DUE if name == "due" else least) for name, value in given.items()}


def _core_value(value: Any, currency: Currency, least: int) -> Any:
    match value:
        case Decimal():
            return currency.minor(value, least=least)
        case OpeningMemberForm():
            return OpeningMember(**_core_values(value, OpeningMember, currency, 0))
        case OpeningLoanForm():
            return OpeningLoan(**_core_values(value, OpeningLoan, currency, 0))
        case list():
            return tuple(_core_value(each, currency, least) for each in value)
        case _:
            return value


_LEAST_DUE = -MOST_MINOR


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
        kind=(Literal[form.recorded_as.kind], Field(description="The kind of the entry.")),  # type: ignore[arg-type]
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
    recorded_by: str = Field(max_length=200, description="Role, member or -, and key or person who recorded it.")
    note: Note
    reference: Reference | None = None
    previous_hash: str = Field(pattern=DIGEST_PATTERN)
    hash: str = Field(pattern=DIGEST_PATTERN)
    body: dict[str, Any] = Field(description="As recorded; amounts are decimal text of the pool's currency.")


_AMOUNTS = frozenset({"amount", "price", "cost", "due", "stock_cost", "beyond"})
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
        "body": show_body(entry.body, currency),
    }
    if entry.reference is not None:
        shown["reference"] = entry.reference
    return shown


def show_body(body: Body, currency: Currency) -> dict[str, Any]:
    """Give a body as it is shown, without what a close froze."""
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


def entry_answer(pool: str, recorded: Recorded, currency: Currency) -> Response:
    """Give the answer to a request that recorded one entry."""
    return recorded_answer(show_entry(recorded.entries[0], currency), pool, recorded)


def recorded_answer(shown: dict[str, Any], pool: str, recorded: Recorded) -> Response:
    """Give the answer to a request that recorded entries: the first one is where it says."""
    return replies.made(shown, f"/pools/{pool}/journal/{recorded.entries[0].number}", replayed=recorded.replayed)
