"""The refusals: every way in which the rules say no.

    DomainError
    ├── the figures     AmountTooPrecise, AmountOutOfRange, QuantityOutOfRange, UnknownCurrency, UnknownTimeZone
    ├── the parties     UnknownMember, MemberLeft, MemberNotYetJoined, MemberNotClear, HandleTaken, SameMember,
    │                   NotCustodian
    ├── the credits     NotEnoughHeld, NotEnoughInStock, NotEnoughOpen
    ├── the days        MonthClosed, BeforePoolBegan, TooFarAhead
    ├── the reversals   EntryNotFound, NotReversible, NotDivisible, MoreThanLeft, ReversalBeforeEntry,
    │                   StockCostImpossible
    ├── the payments    UnknownSettlementPayment, PaymentMismatch, MoreThanUnpaid, PaidInFull, BankAccountInvalid,
    │                   NothingToTransfer
    ├── the months      MonthNotReached, MonthsOutOfOrder, PreviewStale, MonthHasWarnings, MonthNotClosed,
    │                   NotLastClosed, PaymentsRecorded, MonthHasDifferences, NoPrice, NoSupply, NoHub, PolicyFrozen,
    │                   NoPaymentPlan,
    │                   OpeningTooLate, OpeningTwice, OpeningNotFirstDay, OpeningUnbalanced, CostWithoutCredits
    ├── the orders      LadderUnlawful, NoLadder, PlanUnfit, NeedNotMet
    ├── the arrangements   TooSoon, RoundOver, RoundUnanswered, RoundEmpty, OrderUnpriced,
    │                   RequestOver
    ├── the catalogue   CatalogueUnlawful, NoCatalogue, ItemsUnknown, PeriodBackwards, TooManyRows
    ├── the files       FileUnreadable, FileTooLarge, ColumnMissing, ProfileUnfit
    ├── the requests    HandleUnknown, AlreadyDecided, NotMendable, MendIncomplete, TermFixed, AlreadyThere,
    │                   VersionStale, ReferenceTaken, KeyReused, NotOtherSide, FigureNotFound
    ├── the vendor's record   MendUnfit, AnswerMissing, NotConfirmable, ReconciliationStale, ReconciliationOpen
    ├── the people      SignInRefused, ConfirmationRequired, PasswordUnfit, NameTaken, InvitationVoid, AlreadyJoined,
    │                   AcceptanceUnclear
    ├── the second factor   CodeNeeded, CodeRefused, CodesPaused, TicketVoid, SecondFactorMissing, SecondFactorThere,
    │                   SecondFactorNotBegun
    └── the callers     NotPermitted, KeyEnded, NotFound

An error holds fields; its sentence is made here from those fields and nowhere else. Its code is its class name in
kebab case. This file knows no HTTP: which status a refusal gets is said in rest/problem_types.py.
Amounts in fields are minor units unless the name says otherwise.
"""

import re
from dataclasses import dataclass, fields
from typing import Any, ClassVar


@dataclass(kw_only=True, eq=False)
class DomainError(Exception):
    """The rules say no. Subclasses carry the figures as fields and the sentence as `says`.

    command is the place, from 1, of the command that was refused among several that were asked for together."""

    code: ClassVar[str] = "refused"
    says: ClassVar[str] = "The request was refused."

    def __post_init__(self) -> None:
        self.command: int | None = None

    def __init_subclass__(cls, **kwargs: Any) -> None:
        super().__init_subclass__(**kwargs)
        cls.code = re.sub(r"(?<=[a-z])(?=[A-Z])", "-", cls.__name__).lower()

    def __str__(self) -> str:
        sentence = self.says.format(**self.fields())
        return sentence if self.command is None else f"Command {self.command}: {sentence}"

    def fields(self) -> dict[str, Any]:
        """Give the figures of the refusal by name, as plain JSON values (text, whole numbers, lists of them)."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


def every_refusal() -> dict[str, type[DomainError]]:
    """Give each concrete refusal by its code."""
    found: dict[str, type[DomainError]] = {}
    todo = list(DomainError.__subclasses__())
    while todo:
        cls = todo.pop()
        found[cls.code] = cls
        todo.extend(cls.__subclasses__())
    return found


def revive(code: str, figures: dict[str, Any], command: int | None = None) -> DomainError:
    """Make the refusal again from its code, its fields and the command's place, as a stored answer is replayed."""
    refusal = every_refusal()[code](**figures)
    refusal.command = command
    return refusal


# --- the figures -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class AmountTooPrecise(DomainError):
    says: ClassVar[str] = "The amount {amount} has more decimals than {currency} has ({decimals})."
    amount: str
    currency: str
    decimals: int


@dataclass(kw_only=True, eq=False)
class AmountOutOfRange(DomainError):
    says: ClassVar[str] = "The amount {amount} is outside the range from {least} to {most} in minor units."
    amount: str
    least: int
    most: int


@dataclass(kw_only=True, eq=False)
class QuantityOutOfRange(DomainError):
    says: ClassVar[str] = "The quantity {quantity} is not a whole number from 1 to 1,000,000,000."
    quantity: int


@dataclass(kw_only=True, eq=False)
class UnknownCurrency(DomainError):
    says: ClassVar[str] = "{currency} is not a currency code of ISO 4217 that has minor units."
    currency: str


@dataclass(kw_only=True, eq=False)
class UnknownTimeZone(DomainError):
    says: ClassVar[str] = "{time_zone} is not a time zone of the IANA database."
    time_zone: str


# --- the parties -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class UnknownMember(DomainError):
    says: ClassVar[str] = "The pool has no member {member}."
    member: str


@dataclass(kw_only=True, eq=False)
class MemberLeft(DomainError):
    says: ClassVar[str] = "{member} left the pool on {left_on}; nothing can be recorded for it on {effective_on}."
    member: str
    left_on: str
    effective_on: str


@dataclass(kw_only=True, eq=False)
class MemberNotYetJoined(DomainError):
    says: ClassVar[str] = "{member} joined the pool on {joined_on}; nothing can be recorded for it on {effective_on}."
    member: str
    joined_on: str
    effective_on: str


@dataclass(kw_only=True, eq=False)
class MemberNotClear(DomainError):
    says: ClassVar[str] = "{member} can leave only when it holds, owes and is owed nothing: {reason}."
    member: str
    reason: str


@dataclass(kw_only=True, eq=False)
class HandleTaken(DomainError):
    says: ClassVar[str] = "The vendor account {handle} already belongs to {member} on {since}."
    handle: str
    member: str
    since: str


@dataclass(kw_only=True, eq=False)
class NotCustodian(DomainError):
    says: ClassVar[str] = "{member} is not the custodian of the stock; {custodian} is."
    member: str
    custodian: str


@dataclass(kw_only=True, eq=False)
class SameMember(DomainError):
    says: ClassVar[str] = "{member} stands on both sides; two different members are needed."
    member: str


# --- the credits -----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class NotEnoughHeld(DomainError):
    says: ClassVar[str] = "{member} holds {held} credits; {quantity} are more than that."
    member: str
    held: int
    quantity: int


@dataclass(kw_only=True, eq=False)
class NotEnoughInStock(DomainError):
    says: ClassVar[str] = "The stock has {stock} credits; {quantity} are more than that."
    stock: int
    quantity: int


@dataclass(kw_only=True, eq=False)
class NotEnoughOpen(DomainError):
    says: ClassVar[str] = "{borrower} has {open} credits open from {lender}; {quantity} are more than that."
    lender: str
    borrower: str
    open: int
    quantity: int


# --- the days --------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class MonthClosed(DomainError):
    says: ClassVar[str] = "{effective_on} lies in a closed month; the book is closed through {closed_through}."
    effective_on: str
    closed_through: str


@dataclass(kw_only=True, eq=False)
class BeforePoolBegan(DomainError):
    says: ClassVar[str] = "{effective_on} is before the pool began on {began_on}."
    effective_on: str
    began_on: str


@dataclass(kw_only=True, eq=False)
class TooFarAhead(DomainError):
    says: ClassVar[str] = "{effective_on} is after tomorrow; the latest day that can be recorded now is {latest}."
    effective_on: str
    latest: str


# --- the reversals ---------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class EntryNotFound(DomainError):
    says: ClassVar[str] = "The journal has no entry {entry}."
    entry: int


@dataclass(kw_only=True, eq=False)
class NotReversible(DomainError):
    says: ClassVar[str] = "Entry {entry} is of kind {kind} and cannot be reversed: {reason}."
    entry: int
    kind: str
    reason: str


@dataclass(kw_only=True, eq=False)
class NotDivisible(DomainError):
    says: ClassVar[str] = "Entry {entry} of kind {kind} can only be reversed as a whole; leave the quantity out."
    entry: int
    kind: str


@dataclass(kw_only=True, eq=False)
class MoreThanLeft(DomainError):
    says: ClassVar[str] = "Of entry {entry}, {left} are left to reverse; {quantity} are more than that."
    entry: int
    left: int
    quantity: int


@dataclass(kw_only=True, eq=False)
class ReversalBeforeEntry(DomainError):
    says: ClassVar[str] = "The reversal on {effective_on} would come before entry {entry}, which is of {entry_on}."
    entry: int
    entry_on: str
    effective_on: str


@dataclass(kw_only=True, eq=False)
class StockCostImpossible(DomainError):
    says: ClassVar[str] = (
        "Reversing {quantity} of entry {entry} would leave {credits} credits in stock at a cost of {cost} minor units; "
        "record a write-off or a charge instead."
    )
    entry: int
    quantity: int
    credits: int
    cost: int


# --- the payments ----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class UnknownSettlementPayment(DomainError):
    says: ClassVar[str] = "There is no open settlement payment {payment}."
    payment: str


@dataclass(kw_only=True, eq=False)
class PaymentMismatch(DomainError):
    says: ClassVar[str] = "Settlement payment {payment} is from {payer} to {payee}, not as stated."
    payment: str
    payer: str
    payee: str


@dataclass(kw_only=True, eq=False)
class MoreThanUnpaid(DomainError):
    says: ClassVar[str] = (
        "Of settlement payment {payment}, {unpaid} minor units are unpaid; {amount} are more than that. "
        "If so much was paid, record it with accept_overpayment: what is over counts in the dues of its month."
    )
    payment: str
    unpaid: int
    amount: int


@dataclass(kw_only=True, eq=False)
class PaidInFull(DomainError):
    says: ClassVar[str] = (
        "Settlement payment {payment} is paid in full. If {amount} minor units were paid on top of that, record them "
        "as a payment that names no settlement payment: it counts in the dues of its month."
    )
    payment: str
    amount: int


@dataclass(kw_only=True, eq=False)
class BankAccountInvalid(DomainError):
    """Doesn't show the number again: it is somebody's."""

    says: ClassVar[str] = "The {part} of the bank account of {member} can't be right: {reason}."
    part: str
    member: str
    reason: str


@dataclass(kw_only=True, eq=False)
class NothingToTransfer(DomainError):
    says: ClassVar[str] = "There is nothing that the bank of {member} could transfer for {month}: {reason}."
    member: str
    month: str
    reason: str


# --- the months ------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class MonthNotReached(DomainError):
    says: ClassVar[str] = "{month} is not over yet; it can be closed or signed off from {from_day} on."
    month: str
    from_day: str


@dataclass(kw_only=True, eq=False)
class MonthsOutOfOrder(DomainError):
    says: ClassVar[str] = "Months close in order: the next one to close is {next_month}, not {month}."
    month: str
    next_month: str


@dataclass(kw_only=True, eq=False)
class PreviewStale(DomainError):
    says: ClassVar[str] = "The book has moved since the preview {seen} of {month}; look at the preview again."
    month: str
    seen: str


@dataclass(kw_only=True, eq=False)
class MonthHasWarnings(DomainError):
    says: ClassVar[str] = "{month} has {count} warnings; close it with accept_warnings once they are understood."
    month: str
    count: int


@dataclass(kw_only=True, eq=False)
class MonthHasDifferences(DomainError):
    says: ClassVar[str] = (
        "{month} has {count} open differences with the vendor's record and {suggestions} matches that nobody has "
        "confirmed; mend or dismiss the ones and confirm the others, or close it with accept_differences."
    )
    month: str
    count: int
    suggestions: int


@dataclass(kw_only=True, eq=False)
class MonthNotClosed(DomainError):
    says: ClassVar[str] = "{month} is not closed."
    month: str


@dataclass(kw_only=True, eq=False)
class NotLastClosed(DomainError):
    says: ClassVar[str] = "Only the last closed month, {last}, can be reopened, not {month}."
    month: str
    last: str


@dataclass(kw_only=True, eq=False)
class PaymentsRecorded(DomainError):
    says: ClassVar[str] = (
        "{month} can't be reopened: payment {payment} of its settlement is recorded; reverse it first."
    )
    month: str
    payment: str


@dataclass(kw_only=True, eq=False)
class NoPrice(DomainError):
    says: ClassVar[str] = "{month} has loans to settle but the stock never had a price; record a purchase first."
    month: str


@dataclass(kw_only=True, eq=False)
class NoSupply(DomainError):
    """lenders: each lent to the next, the last is the first again; or one alone, who lent what it never had."""

    says: ClassVar[str] = (
        "In {month} credits were lent that came from nowhere, so that their lender's price has no solution: {lenders}; "
        "record what is missing or agree a price on these loans."
    )
    month: str
    lenders: str


@dataclass(kw_only=True, eq=False)
class PolicyFrozen(DomainError):
    says: ClassVar[str] = "The policy of {month} is frozen by its close; the book is closed through {closed_through}."
    month: str
    closed_through: str


@dataclass(kw_only=True, eq=False)
class NoHub(DomainError):
    says: ClassVar[str] = "A hub plan needs the keeper's member as its hub; name it in the pool's terms."


@dataclass(kw_only=True, eq=False)
class NoPaymentPlan(DomainError):
    says: ClassVar[str] = (
        "{month} can't be settled: the pool allows no payments, through others either, by which {members} could pay "
        "and be paid."
    )
    month: str
    members: str


@dataclass(kw_only=True, eq=False)
class OpeningTooLate(DomainError):
    says: ClassVar[str] = "An opening can only be recorded before the first close; {closed_through} is closed."
    closed_through: str


@dataclass(kw_only=True, eq=False)
class OpeningTwice(DomainError):
    says: ClassVar[str] = "Entry {entry} is the opening already; reverse it before recording another."
    entry: int


@dataclass(kw_only=True, eq=False)
class OpeningNotFirstDay(DomainError):
    says: ClassVar[str] = "An opening counts from the day the pool began, {began_on}, not from {effective_on}."
    began_on: str
    effective_on: str


@dataclass(kw_only=True, eq=False)
class CostWithoutCredits(DomainError):
    says: ClassVar[str] = "{holder} would open with a cost of {cost} minor units but without credits."
    holder: str
    cost: int


@dataclass(kw_only=True, eq=False)
class OpeningUnbalanced(DomainError):
    says: ClassVar[str] = (
        "The dues of the opening add up to {dues} minor units, the stock cost {stock_cost}: they must be equal."
    )
    dues: int
    stock_cost: int


# --- the orders ------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class LadderUnlawful(DomainError):
    says: ClassVar[str] = "This can't be a price ladder: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class NoLadder(DomainError):
    says: ClassVar[str] = "The pool has no price ladder that counts on {day}."
    day: str


@dataclass(kw_only=True, eq=False)
class PlanUnfit(DomainError):
    says: ClassVar[str] = "This can't be planned for: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class NeedNotMet(DomainError):
    """most: the credits that the month can have at the most. limits: each of them alone is in the way, or all are
    together."""

    says: ClassVar[str] = (
        "No plan meets the need of {month}, {need} credits: there can be {most} at the most. In the way: {limits}."
    )
    month: str
    need: int
    most: int
    limits: list[str]

    def __str__(self) -> str:
        return self.says.format(**{**self.fields(), "limits": ", ".join(self.limits)})


@dataclass(kw_only=True, eq=False)
class NeedUnfit(DomainError):
    says: ClassVar[str] = "This need can't be stated: {reason}."
    reason: str


# --- the arrangements ------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class TooSoon(DomainError):
    says: ClassVar[str] = "{stated} is not later than {than}."
    stated: str
    than: str


@dataclass(kw_only=True, eq=False)
class RoundOver(DomainError):
    says: ClassVar[str] = "Order round {round} is {state}."
    round: str
    state: str


@dataclass(kw_only=True, eq=False)
class RoundUnanswered(DomainError):
    says: ClassVar[str] = "Members may answer order round {round} until {deadline}, and haven't: {members}."
    round: str
    deadline: str
    members: list[str]

    def __str__(self) -> str:
        return self.says.format(**{**self.fields(), "members": ", ".join(self.members)})


@dataclass(kw_only=True, eq=False)
class RoundEmpty(DomainError):
    says: ClassVar[str] = "Nobody has committed to anything in order round {round}."
    round: str


@dataclass(kw_only=True, eq=False)
class OrderUnpriced(DomainError):
    says: ClassVar[str] = "The price ladder has no price for one order of {quantity} credits on {day}."
    quantity: int
    day: str


@dataclass(kw_only=True, eq=False)
class RequestOver(DomainError):
    says: ClassVar[str] = "Credit request {request} is {state}."
    request: str
    state: str


# --- the catalogue ---------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class CatalogueUnlawful(DomainError):
    says: ClassVar[str] = "This can't be a catalogue: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class NoCatalogue(DomainError):
    says: ClassVar[str] = "The pool has no catalogue that counts on {day}."
    day: str


@dataclass(kw_only=True, eq=False)
class ItemsUnknown(DomainError):
    says: ClassVar[str] = "The catalogue that is valid from {valid_from} has no {items}."
    items: list[str]
    valid_from: str

    def __str__(self) -> str:
        return self.says.format(**{**self.fields(), "items": ", ".join(self.items)})


@dataclass(kw_only=True, eq=False)
class PeriodBackwards(DomainError):
    says: ClassVar[str] = "The months from {first} to {last} run backwards."
    first: str
    last: str


@dataclass(kw_only=True, eq=False)
class TooManyRows(DomainError):
    says: ClassVar[str] = "There are {count} rows by {told_by}, and {most} can be told at once."
    told_by: str
    count: int
    most: int


# --- the files -------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class FileUnreadable(DomainError):
    """Line and column count from 1, in characters, as a text editor shows them."""

    says: ClassVar[str] = "The file can't be read as a table: {reason} (line {line}, column {column})."
    reason: str
    line: int
    column: int


@dataclass(kw_only=True, eq=False)
class FileTooLarge(DomainError):
    says: ClassVar[str] = "The file has more than {most} {what}; line {line} is the first too many."
    what: str
    most: int
    line: int


@dataclass(kw_only=True, eq=False)
class ColumnMissing(DomainError):
    says: ClassVar[str] = "The file lacks columns that are to be read: {missing}; its columns are {present}."
    missing: str
    present: str


@dataclass(kw_only=True, eq=False)
class ProfileUnfit(DomainError):
    says: ClassVar[str] = "The column profile can't be used: {reason}."
    reason: str


# --- the requests ----------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class TermFixed(DomainError):
    says: ClassVar[str] = "The {term} of a pool can't change any more: {reason}."
    term: str
    reason: str


@dataclass(kw_only=True, eq=False)
class AlreadyThere(DomainError):
    says: ClassVar[str] = "There is a {what} {name} already; state the version that is to be replaced."
    what: str
    name: str


@dataclass(kw_only=True, eq=False)
class VersionStale(DomainError):
    says: ClassVar[str] = "The {what} {name} is at version {version} now; read it again before changing it."
    what: str
    name: str
    version: int


@dataclass(kw_only=True, eq=False)
class DaysUnfit(DomainError):
    says: ClassVar[str] = "Nothing can be shown from {first} to {last}."
    first: str
    last: str
    most: int


@dataclass(kw_only=True, eq=False)
class HandleUnknown(DomainError):
    says: ClassVar[str] = "{member} has no vendor account {handle}; state one that it has or had."
    member: str
    handle: str


@dataclass(kw_only=True, eq=False)
class AlreadyDecided(DomainError):
    says: ClassVar[str] = "Difference {difference} is {verdict} already."
    difference: str
    verdict: str


@dataclass(kw_only=True, eq=False)
class NotMendable(DomainError):
    says: ClassVar[str] = "Nothing that could be recorded would mend difference {difference}; dismiss it with a reason."
    difference: str


@dataclass(kw_only=True, eq=False)
class MendIncomplete(DomainError):
    says: ClassVar[str] = "To mend difference {difference}, state in fields: {missing}."
    difference: str
    missing: str


@dataclass(kw_only=True, eq=False)
class MendUnfit(DomainError):
    says: ClassVar[str] = "Difference {difference} can't be mended like this: {reason}."
    difference: str
    reason: str


@dataclass(kw_only=True, eq=False)
class AnswerMissing(DomainError):
    says: ClassVar[str] = "Nobody who has difference {difference} in hand has answered that it should be {verdict}."
    difference: str
    verdict: str


@dataclass(kw_only=True, eq=False)
class NotConfirmable(DomainError):
    says: ClassVar[str] = "These entries and rows can't be confirmed as one movement: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class ReconciliationStale(DomainError):
    says: ClassVar[str] = "Journal and vendor's record of {month} don't come to {seen} any more; look at them again."
    month: str
    seen: str


@dataclass(kw_only=True, eq=False)
class ReconciliationOpen(DomainError):
    says: ClassVar[str] = (
        "{month} has {differences} undecided differences and {matches} matches that nobody has confirmed; decide and "
        "confirm them, or sign off with accept_open."
    )
    month: str
    differences: int
    matches: int


@dataclass(kw_only=True, eq=False)
class ReferenceTaken(DomainError):
    says: ClassVar[str] = "The reference {reference} was used before, by entry {entry}, with other content."
    reference: str
    entry: int


@dataclass(kw_only=True, eq=False)
class KeyReused(DomainError):
    says: ClassVar[str] = "The idempotency key {key} was used before for another request."
    key: str


@dataclass(kw_only=True, eq=False)
class NotOtherSide(DomainError):
    says: ClassVar[str] = "{member} is not the other side of entry {entry}; those who can answer it: {sides}."
    entry: int
    member: str
    sides: str


# --- the callers -----------------------------------------------------------------------------------------------------


# --- the people ------------------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class SignInRefused(DomainError):
    """The same whether there is no such person, the password is another, or the person was shut out."""

    says: ClassVar[str] = "The name or the password is wrong."


@dataclass(kw_only=True, eq=False)
class ConfirmationRequired(DomainError):
    says: ClassVar[str] = "This needs a password that was given within the last {minutes} minutes."
    minutes: int


@dataclass(kw_only=True, eq=False)
class PasswordUnfit(DomainError):
    says: ClassVar[str] = "The password can't be taken: {reason}."
    reason: str


@dataclass(kw_only=True, eq=False)
class NameTaken(DomainError):
    says: ClassVar[str] = "Somebody signs in as {name} already."
    name: str


@dataclass(kw_only=True, eq=False)
class InvitationVoid(DomainError):
    says: ClassVar[str] = "There is no such invitation, or it was used or withdrawn, or it has expired."


@dataclass(kw_only=True, eq=False)
class AcceptanceUnclear(DomainError):
    says: ClassVar[str] = "Somebody new gives a name and a password; who has signed in already gives neither."


@dataclass(kw_only=True, eq=False)
class AlreadyJoined(DomainError):
    says: ClassVar[str] = "{name} belongs to the pool {pool} already."
    name: str
    pool: str


# --- the second factor -----------------------------------------------------------------------------------------------


@dataclass(kw_only=True, eq=False)
class CodeNeeded(DomainError):
    """Said to nobody but who has given the right password. ticket stands for it in the request that brings the code."""

    says: ClassVar[str] = "The password is right; a code of your authenticator app, or a recovery code, is needed too."
    ticket: str


@dataclass(kw_only=True, eq=False)
class CodeRefused(DomainError):
    says: ClassVar[str] = "The code is wrong, too old, or was used before."


@dataclass(kw_only=True, eq=False)
class CodesPaused(DomainError):
    says: ClassVar[str] = (
        "Too many wrong codes came in a row: wait for {seconds} seconds, or give a recovery code, which need not wait."
    )
    seconds: int


@dataclass(kw_only=True, eq=False)
class TicketVoid(DomainError):
    """The same whether there is no such person, or its ticket is another, or too old."""

    says: ClassVar[str] = "The ticket is void: it counts for 5 minutes, and until the password is changed."


@dataclass(kw_only=True, eq=False)
class SecondFactorMissing(DomainError):
    says: ClassVar[str] = "Whoever keeps a book needs a second factor for this, and you have none: set one up first."


@dataclass(kw_only=True, eq=False)
class SecondFactorThere(DomainError):
    says: ClassVar[str] = "You have a second factor already."


@dataclass(kw_only=True, eq=False)
class SecondFactorNotBegun(DomainError):
    says: ClassVar[str] = "There is no second factor to do this with."


@dataclass(kw_only=True, eq=False)
class NotPermitted(DomainError):
    says: ClassVar[str] = "The role {role} may not do this: {reason}."
    role: str
    reason: str


@dataclass(kw_only=True, eq=False)
class KeyEnded(DomainError):
    """key_id: the public part of a key, or a person's id."""

    says: ClassVar[str] = "What {key_id} came with has ended: revoked, expired, signed out, or of another role by now."
    key_id: str


@dataclass(kw_only=True, eq=False)
class NotFound(DomainError):
    says: ClassVar[str] = "There is no {what} {name}."
    what: str
    name: str


@dataclass(kw_only=True, eq=False)
class FigureNotFound(DomainError):
    """near: names of figures that are there."""

    says: ClassVar[str] = "There is no figure {figure} in that month."
    figure: str
    near: list[str]
