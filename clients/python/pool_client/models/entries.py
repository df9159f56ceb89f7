"""The entries of the journal: what each kind says, to be recorded and as it was recorded.

The same value is sent and read back: record(Loan(...)) gives an Entry whose body is a Loan. A code of a member stands
for the member; STOCK stands for the pool's common credits where a holder can be either.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any, ClassVar, get_args

from pool_client.wire import BY_KIND

STOCK = "stock"


class Direction(StrEnum):
    """Which way credits crossed the pool's border."""

    IN = "in"
    OUT = "out"


class WriteOffReason(StrEnum):
    """Why credits are gone without a use."""

    EXPIRED = "expired"
    LOST = "lost"
    VENDOR_ADJUSTMENT = "vendor_adjustment"


class Verdict(StrEnum):
    """What the other side says of an entry."""

    CONFIRMED = "confirmed"
    DISPUTED = "disputed"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningMember:
    """One member's position in the old books; a due above 0 is owed to it."""

    member: str
    held: int = 0
    cost: Decimal = Decimal(0)
    due: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenLoan:
    """Credits on loan."""

    lender: str
    borrower: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the old books said, recorded once, on the pool's first day."""

    kind: ClassVar[str] = "opening"
    members: tuple[OpeningMember, ...] = ()
    stock_quantity: int = 0
    stock_cost: Decimal = Decimal(0)
    loans: tuple[OpenLoan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Credits bought from the vendor; amount is all that was paid, fees and unrecoverable tax included."""

    kind: ClassVar[str] = "purchase"
    paid_by: str
    quantity: int
    amount: Decimal
    into: str = STOCK
    order_number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """A member takes credits from stock."""

    kind: ClassVar[str] = "draw"
    member: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Loan:
    """Credits from one member to another, to be made good; with an agreed price they are settled at that price."""

    kind: ClassVar[str] = "loan"
    lender: str
    borrower: str
    quantity: int
    unit_price: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """Lent credits going back."""

    kind: ClassVar[str] = "return"
    borrower: str
    lender: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Credits spent on a job; price is what the customer was charged."""

    kind: ClassVar[str] = "use"
    member: str
    quantity: int
    item: str
    job: str
    price: Decimal | None = None
    off_road_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteOff:
    """Credits gone without a use; holder is a member or the stock."""

    kind: ClassVar[str] = "write_off"
    holder: str
    quantity: int
    reason: WriteOffReason


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """Credits that came from or went to an account outside the pool, with what they cost or brought."""

    kind: ClassVar[str] = "outside"
    member: str
    direction: Direction
    party: str
    quantity: int
    amount: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Relocation:
    """Stock goes from the custodian's vendor account to another member's, who is custodian from then on."""

    kind: ClassVar[str] = "relocation"
    from_member: str
    to_member: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """Money that one member owes another for a stated reason."""

    kind: ClassVar[str] = "charge"
    from_member: str
    to_member: str
    amount: Decimal
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """Money that one member has paid another; pays names the settlement payment that it answers, if any.

    accept_overpayment is said when recording more than was left of that. beyond is read back only: what was more, and
    so counts in the dues of the month."""

    kind: ClassVar[str] = "payment"
    from_member: str
    to_member: str
    amount: Decimal
    method: str | None = None
    bank_reference: str | None = None
    pays: str | None = None
    accept_overpayment: bool = False
    beyond: Decimal | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """Undoes an earlier entry: all that is left of it, or a part. still_open is told, not asked for: it is true of an
    earlier month's loan or return that was carried on, so that the open loan changes and no due."""

    kind: ClassVar[str] = "reversal"
    entry: int
    quantity: int | None = None
    still_open: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledgement:
    """The other side's word on an entry."""

    kind: ClassVar[str] = "acknowledgement"
    entry: int
    member: str
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """A month's sheet and settlement were frozen, as the preview with this digest showed them. Never sent: see
    close_month."""

    kind: ClassVar[str] = "close"
    month: str
    digest: str
    computed_at: int
    accepted_warnings: int = 0
    accepted_differences: int = 0
    accepted_suggestions: int = 0
    sign_off: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reopening:
    """The last closed month was opened again. Never sent: see reopen_month."""

    kind: ClassVar[str] = "reopening"
    month: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedAccount:
    """What a vendor account held at the end of a day by the journal and by the vendor's record, if that says it."""

    account: str
    on: date
    journal: int
    record: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """A month's comparison with the vendor's record was signed off, as the one with this digest. open counts
    differences that nobody had decided, broken confirmed matches whose rows had changed. Never sent: see sign_off."""

    kind: ClassVar[str] = "sign_off"
    month: str
    digest: str
    accounts: tuple[SignedAccount, ...]
    matched: int
    suggested: int
    open: int
    broken: int
    dismissed: int
    accepted_open: bool


Recordable = (
    Opening
    | Purchase
    | Draw
    | Loan
    | Return
    | Use
    | WriteOff
    | Outside
    | Relocation
    | Charge
    | Payment
    | Reversal
    | Acknowledgement
)
"""What a client can have recorded."""

Body = Recordable | Close | Reopening | SignOff

BODIES: Mapping[str, type[Body]] = {body.kind: body for body in get_args(Body)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What is to be recorded as one of a batch. effective_on is today in the pool's time zone unless stated; reference
    is the client's own, unique in the pool."""

    body: Recordable
    effective_on: date | None = None
    note: str = ""
    reference: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal. recorded_by is role, member or -, and key of who recorded it; body is plain JSON where
    the kind is newer than this client."""

    number: int
    kind: str
    effective_on: date
    recorded_at: datetime
    recorded_by: str
    note: str
    previous_hash: str
    hash: str
    body: Body | Mapping[str, Any] = field(metadata={BY_KIND: BODIES})
    reference: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A number of credits, before and after."""

    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldChange:
    """Credits that a member holds, before and after."""

    member: str
    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenChange:
    """Credits that a borrower has to make good to a lender, before and after."""

    lender: str
    borrower: str
    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryPreview:
    """What a command would become; number only where it is recorded already, under its reference."""

    kind: str
    effective_on: date
    note: str
    body: Body | Mapping[str, Any] = field(metadata={BY_KIND: BODIES})
    reference: str | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What would become of commands, and what would change; rests_on is the last entry that was looked at."""

    rests_on: int
    entries: tuple[EntryPreview, ...]
    stock: Change
    held: tuple[HeldChange, ...]
    open_loans: tuple[OpenChange, ...]
