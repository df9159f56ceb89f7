"""What an entry of the journal says: its kinds, their bodies and their canonical bytes.

This file knows how a fact is written down for good; how entries hang together stands in hashing.py, whether one may be
recorded is decided in journal.py.
Amounts are minor units, quantities whole credits, days ISO dates. A body never holds a float.

Canonical form: the JSON Canonicalization Scheme (RFC 8785) restricted to ASCII member names, text, whole numbers below
2**53, booleans, null, lists and objects; for those, sorted keys without white space are the same bytes.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from datetime import date
from enum import StrEnum
from typing import Any, ClassVar, get_args

from pool_api.domain.values import STOCK

Json = dict[str, Any]


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
    """One member's position in the old books: credits held, their cost, and its due."""

    member: str
    held: int
    cost: int
    due: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningLoan:
    """Credits that were on loan when the book began."""

    lender: str
    borrower: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the old books said."""

    kind: ClassVar[str] = "opening"
    members: tuple[OpeningMember, ...]
    stock_quantity: int
    stock_cost: int
    loans: tuple[OpeningLoan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Credits bought from the vendor; amount is all that was paid, fees and unrecoverable tax included."""

    kind: ClassVar[str] = "purchase"
    into: str
    paid_by: str
    quantity: int
    amount: int
    order_number: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """A member takes credits from stock."""

    kind: ClassVar[str] = "draw"
    member: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Loan:
    """Credits from one member to another; unit_price, if agreed, is exact decimal text of major units per credit."""

    kind: ClassVar[str] = "loan"
    lender: str
    borrower: str
    quantity: int
    unit_price: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """Lent credits going back."""

    kind: ClassVar[str] = "return"
    borrower: str
    lender: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Credits spent on a job; price is what the customer was charged, if recorded."""

    kind: ClassVar[str] = "use"
    member: str
    quantity: int
    item: str
    job: str
    price: int | None = None
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
    """Credits that crossed the pool's border; amount is what they cost coming in, or brought going out."""

    kind: ClassVar[str] = "outside"
    member: str
    direction: Direction
    party: str
    quantity: int
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Relocation:
    """Stock goes from one custodian's vendor account to another's, who is custodian from then on."""

    kind: ClassVar[str] = "relocation"
    from_member: str
    to_member: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """Money one member owes another for a stated reason; no credits move."""

    kind: ClassVar[str] = "charge"
    from_member: str
    to_member: str
    amount: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Payment:
    """Money that one member has paid another; pays names the settlement payment that it answers, if any, and beyond is
    the part of the amount that goes beyond what was left of that. In a command None accepts whatever goes beyond, and 0
    nothing; recorded ones always state the amount."""

    kind: ClassVar[str] = "payment"
    from_member: str
    to_member: str
    amount: int
    method: str | None = None
    bank_reference: str | None = None
    pays: str | None = None
    beyond: int | None = 0

    @property
    def answers(self) -> int:
        """The part that answers a settlement payment; the rest counts in the dues of the payment's month."""
        return 0 if self.pays is None else self.amount - (self.beyond or 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reversal:
    """Undoes an earlier entry; quantity None means all that is left of it. Recorded ones always state the quantity,
    except for kinds without credits, which are reversed as a whole and state None. still_open tells of a loan or return
    of an earlier month that it was carried on, not settled: its reversal changes the open loan and no due."""

    kind: ClassVar[str] = "reversal"
    entry: int
    quantity: int | None = None
    still_open: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledgement:
    """The other side's word on an entry; its note is the entry's note."""

    kind: ClassVar[str] = "acknowledgement"
    entry: int
    member: str
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Close:
    """A month's sheet and settlement, frozen, with the digest of the preview they equal and the number of the entry
    up to which the journal was read for them. What was still open with the vendor's record was accepted: differences
    that nobody had decided, and matches that were only suggested; sign_off is the entry that signed its reconciliation
    off, None without one."""

    kind: ClassVar[str] = "close"
    month: str
    computed_at: int
    digest: str
    sheet: Json
    settlement: Json
    accepted_warnings: int = 0
    accepted_differences: int = 0
    accepted_suggestions: int = 0
    sign_off: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reopening:
    """Opens the last closed month again, for a stated reason."""

    kind: ClassVar[str] = "reopening"
    month: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedAccount:
    """What a vendor account held at the end of a day by the journal and by the vendor's record, None where that has no
    running balance."""

    account: str
    on: str
    journal: int
    record: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """A keeper has signed a month's reconciliation off: the digest of what it came to, what each vendor account held,
    and how many matches and differences it had. open counts differences that nobody had decided, broken confirmed
    matches whose rows had changed; while there are any of them or suggested matches, accepted_open is the word that it
    was signed with open eyes. It moves no credits and costs nothing."""

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


Body = (
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
    | Close
    | Reopening
    | SignOff
)

BODIES: dict[str, type[Body]] = {body.kind: body for body in get_args(Body)}
"""Each kind's body, in the order in which they are told of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Command:
    """What somebody asks to have recorded: an entry that has no number yet."""

    body: Body
    effective_on: date
    recorded_by: str
    note: str = ""
    reference: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the journal. recorded_at is an RFC 3339 instant in UTC with microseconds, as text."""

    number: int
    body: Body
    effective_on: date
    recorded_at: str
    recorded_by: str
    note: str
    reference: str | None
    previous_hash: str
    hash: str

    @property
    def kind(self) -> str:
        """The kind of the entry, as its body says."""
        return self.body.kind


def canonical(value: Any) -> bytes:
    """Give the canonical bytes of a JSON value (see the module's text). ValueError for NaN and infinity."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def digest(value: Any) -> str:
    """Give the SHA-256 of a JSON value's canonical bytes, in hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()


_ADDED_LATER = {"beyond": 0, "still_open": False, "accepted_suggestions": 0, "sign_off": None}
"""Fields that entries were recorded without at first, with what these mean: so much is not stated, which keeps their
hashes."""


def body_json(body: Body) -> Json:
    """Give a body as a JSON object, every field stated but for those that were added later and say nothing new."""
    if isinstance(body, Opening | SignOff):
        return asdict(body)
    stated = {name: getattr(body, name) for name in body.__slots__}
    return {name: value for name, value in stated.items() if name not in _ADDED_LATER or value != _ADDED_LATER[name]}


def parties(body: Body) -> tuple[str, ...]:
    """Give the members that a body names as its sides, giver first; none for entries of the pool as a whole."""
    match body:
        case Purchase():
            return tuple(dict.fromkeys(side for side in (body.paid_by, body.into) if side != STOCK))
        case Draw() | Use() | Outside() | Acknowledgement():
            return (body.member,)
        case Loan():
            return (body.lender, body.borrower)
        case Return():
            return (body.borrower, body.lender)
        case WriteOff():
            return () if body.holder == STOCK else (body.holder,)
        case Relocation() | Charge() | Payment():
            return (body.from_member, body.to_member)
        case _:
            return ()


def quantity_of(body: Body) -> int | None:
    """Give the credits that a body moves, None for kinds that move none."""
    return getattr(body, "quantity", None)
