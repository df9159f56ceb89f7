"""The table of problem types: each error class with the status, the title and the advice that its problem document has.

A refusal has a code, a code has one page, one status and one title. A class that is missing here, a code that stands
twice or a title that varies is found by tests/rest/test_problems.py. How a document is rendered stands in problems.py.

Statuses: 422 where the content contradicts itself or the pool's fixed terms, whatever the book says; 409 where the book
or the directory as it stands says no, so that the same request may pass another time; 412 where the caller looked at
something that has moved since.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pool_api.domain import errors as rules
from pool_api.domain.errors import DomainError, every_refusal
from pool_api.rest import errors as requests
from pool_api.rest.errors import RequestError
from pool_api.store import errors as store
from pool_api.store.errors import StoreError

PROBLEMS_PATH = "/problems"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemType:
    """What is the same in every problem document of one code. advice is what the reader can do about it."""

    code: str
    status: int
    title: str
    advice: str
    headers: Mapping[str, str]

    @property
    def uri(self) -> str:
        """The type's URI, which is the address of its page on this service."""
        return f"{PROBLEMS_PATH}/{self.code}"


Row = tuple[type[DomainError | RequestError | StoreError], int, str, str]

_FIGURES: tuple[Row, ...] = (
    (rules.AmountTooPrecise, 422, "Amount too precise", "Round the amount to the decimals of the pool's currency."),
    (rules.AmountOutOfRange, 422, "Amount out of range", "Check the amount; split it if it is really that large."),
    (rules.QuantityOutOfRange, 422, "Quantity out of range", "Give whole credits from 1 to 1,000,000,000."),
    (rules.UnknownCurrency, 422, "Unknown currency", "Give a code of ISO 4217 in capitals, such as EUR."),
    (rules.UnknownTimeZone, 422, "Unknown time zone", "Give a name of the IANA database, such as Europe/Vienna."),
)

_PARTIES: tuple[Row, ...] = (
    (rules.UnknownMember, 409, "Unknown member", "List the pool's members; add the shop first if it is new."),
    (rules.MemberLeft, 409, "Member has left", "Check the day; a member that comes back is added again."),
    (rules.MemberNotYetJoined, 409, "Member has not joined yet", "Check the day, or the day on which the shop joined."),
    (rules.MemberNotClear, 409, "Member not clear", "Return, settle and pay what is open; then let the member leave."),
    (rules.HandleTaken, 409, "Vendor account taken", "Check whose account it is on that day."),
    (rules.SameMember, 422, "Same member on both sides", "Name two different members."),
    (rules.HandleUnknown, 409, "Unknown vendor account", "State the account, or add it to the member first."),
    (rules.NotCustodian, 409, "Not the custodian", "Name the present custodian as the one who hands over."),
)

_CREDITS: tuple[Row, ...] = (
    (rules.NotEnoughHeld, 409, "Not enough credits held", "Draw or borrow first, or record a smaller quantity."),
    (rules.NotEnoughInStock, 409, "Not enough credits in stock", "Record the purchase first, or take fewer."),
    (rules.NotEnoughOpen, 409, "Not enough credits open", "Look at the open loans of the two; lend the rest."),
)

_DAYS: tuple[Row, ...] = (
    (rules.MonthClosed, 409, "Month closed", "Record it on a day of an open month, or reopen the month first."),
    (rules.BeforePoolBegan, 409, "Before the pool began", "Give a day on or after the pool's first."),
    (rules.TooFarAhead, 409, "Too far ahead", "Record it when the day has come."),
    (
        rules.DaysUnfit,
        422,
        "Days unfit",
        "Give a first day that isn't after the last, and as many days as `most` says.",
    ),
)

_REVERSALS: tuple[Row, ...] = (
    (rules.EntryNotFound, 404, "Entry not found", "Check the number in the journal."),
    (rules.NotReversible, 409, "Not reversible", "Record an entry that says the opposite instead."),
    (rules.NotDivisible, 409, "Not divisible", "Leave the quantity out to reverse the entry as a whole."),
    (rules.MoreThanLeft, 409, "More than is left", "Look at the entry: a part of it is reversed already."),
    (rules.ReversalBeforeEntry, 409, "Reversal before its entry", "Give the day of the entry, or a later one."),
    (rules.StockCostImpossible, 409, "Impossible stock cost", "Reverse what was drawn from it first, or less."),
)

_PAYMENTS: tuple[Row, ...] = (
    (rules.UnknownSettlementPayment, 409, "Unknown settlement payment", "List the month's open settlement payments."),
    (rules.PaymentMismatch, 409, "Payment mismatch", "Name the payer and the payee of the settlement payment."),
    (rules.BankAccountInvalid, 422, "Invalid bank account", "Compare it with the account's own papers."),
    (rules.NothingToTransfer, 409, "Nothing to transfer", "Put the missing accounts on file, or pay in another way."),
    (rules.MoreThanUnpaid, 409, "More than is unpaid", "Check the amount; accept the overpayment if it was made."),
    (
        rules.PaidInFull,
        409,
        "Paid in full",
        "Look whether it was recorded already; a payment of its own counts in dues.",
    ),
)

_MONTHS: tuple[Row, ...] = (
    (rules.MonthNotReached, 409, "Month not over", "Close the month once it is over."),
    (rules.MonthsOutOfOrder, 409, "Months out of order", "Close the earlier month first."),
    (rules.PreviewStale, 412, "Preview out of date", "Look at the preview again and close with its digest."),
    (rules.MonthHasWarnings, 409, "Month has warnings", "Mend what the warnings name, or accept them when closing."),
    (rules.MonthHasDifferences, 409, "Month has differences", "Mend or dismiss them, or accept them when closing."),
    (rules.MonthNotClosed, 409, "Month not closed", "Only a closed month has a final settlement and can be reopened."),
    (rules.NotLastClosed, 409, "Not the last closed month", "Reopen the later months first, last one first."),
    (rules.PaymentsRecorded, 409, "Payments recorded", "Reverse the payments of the month's settlement first."),
    (rules.NoPrice, 409, "No price", "Record a purchase into the stock, or agree a price on the loans."),
    (rules.NoSupply, 409, "No supply", "Record the draw or purchase that is missing, or agree a price on the loans."),
    (rules.PolicyFrozen, 409, "Policy frozen", "Let the change begin with an open month, or reopen the month first."),
    (rules.NoHub, 409, "No hub", "Name the keeper's member in the pool's terms, or pay by the fewest payments."),
    (
        rules.NoPaymentPlan,
        409,
        "No payment plan",
        "Let one of the pairs pay, or name a keeper's member whom all can pay.",
    ),
    (rules.OpeningTooLate, 409, "Opening too late", "Correct single figures by entries instead."),
    (rules.OpeningTwice, 409, "Opening recorded already", "Reverse the opening that stands first."),
    (rules.OpeningNotFirstDay, 409, "Opening not on the first day", "Date the opening on the pool's first day."),
    (rules.OpeningUnbalanced, 422, "Opening unbalanced", "Make the dues add up to the cost of the stock."),
    (rules.CostWithoutCredits, 422, "Cost without credits", "Give the credits that the cost belongs to, or no cost."),
)

_ORDERS: tuple[Row, ...] = (
    (
        rules.LadderUnlawful,
        422,
        "Unlawful price ladder",
        "Let quantities rise from tier to tier; no price is below 0.",
    ),
    (rules.NoLadder, 409, "No price ladder", "Enter the vendor's price ladder, valid from that day or an earlier one."),
    (rules.PlanUnfit, 422, "Plan unfit", "Correct the needs and costs; state the same months for every member."),
    (rules.NeedUnfit, 422, "Need unfit", "State the present month or a later one, in which the member is in the pool."),
    (rules.NeedNotMet, 409, "Need not met", "Raise the limits named, or lower the need of that month."),
)

_ARRANGEMENTS: tuple[Row, ...] = (
    (rules.TooSoon, 422, "Too soon", "State a later instant."),
    (rules.RoundOver, 409, "Round over", "Have the keeper extend it, or open another one."),
    (rules.RoundUnanswered, 409, "Round unanswered", "Wait for them, or close it with accept_unanswered."),
    (rules.RoundEmpty, 409, "Round empty", "Call it off, or record a purchase as one."),
    (rules.OrderUnpriced, 409, "Order without a price", "State the amount that was paid."),
    (rules.RequestOver, 409, "Request over", "Lend the credits without it, or ask anew."),
)

_CATALOGUE: tuple[Row, ...] = (
    (rules.CatalogueUnlawful, 422, "Unlawful catalogue", "Give each code once, with the credits that it costs."),
    (rules.NoCatalogue, 409, "No catalogue", "Enter the vendor's catalogue, valid from that day or an earlier one."),
    (rules.ItemsUnknown, 422, "Unknown items", "Look for the items in the catalogue of that day; codes are exact."),
    (rules.PeriodBackwards, 422, "Period backwards", "State a last month that isn't before the first."),
    (rules.TooManyRows, 422, "Too many rows", "Ask for fewer months, or for one member."),
)

_FILES: tuple[Row, ...] = (
    (rules.FileUnreadable, 422, "File unreadable", "Look at the line and column; export the file again."),
    (rules.FileTooLarge, 422, "File too large", "Split the file, for instance by month."),
    (
        rules.ColumnMissing,
        422,
        "Column missing",
        "Check the file's header; if the vendor has changed it, have a new column profile proposed.",
    ),
    (rules.AlreadyDecided, 409, "Decided already", "A decision stands; record an entry if it was wrong."),
    (rules.NotMendable, 409, "Not mendable", "Record by hand what is right, and dismiss the difference."),
    (rules.MendIncomplete, 422, "Mend incomplete", "State the missing values in fields."),
    (rules.MendUnfit, 422, "Mend unfit", "State what this mend takes, or record by hand what is right."),
    (rules.AnswerMissing, 409, "Answer missing", "Look at the member's answer, or decide without it."),
    (rules.NotConfirmable, 409, "Not confirmable", "Mend what differs first; only what agrees is one movement."),
    (rules.ReconciliationStale, 412, "Reconciliation out of date", "Look at it again and sign it with its digest."),
    (rules.ReconciliationOpen, 409, "Reconciliation open", "Decide on what is open, or sign with accept_open."),
    (rules.ProfileUnfit, 422, "Column profile unfit", "Correct the column profile."),
)

_CLAIMS: tuple[Row, ...] = (
    (rules.TermFixed, 409, "Term fixed", "Make a new pool if the term really has to differ."),
    (rules.AlreadyThere, 428, "There already", "Read it first and send its ETag in If-Match to replace it."),
    (rules.VersionStale, 412, "Version out of date", "Read it again, look at what changed, and try again."),
    (rules.ReferenceTaken, 409, "Reference taken", "Look at the entry named; use a new reference for new content."),
    (rules.KeyReused, 422, "Idempotency key reused", "Make a new key for every new request."),
    (rules.NotOtherSide, 409, "Not the other side", "Only the other side of an entry can confirm or dispute it."),
    (rules.NotPermitted, 403, "Not permitted", "Ask the pool's keeper, or use a key with another role."),
    (rules.KeyEnded, 401, "Key or session ended", "Sign in again, or ask the pool's keeper for a new key."),
    (rules.FigureNotFound, 404, "Figure not found", "Look among the names that are near, or list the month's figures."),
    (rules.NotFound, 404, "Not found", "Check the name; things of other pools can't be seen."),
)

_PEOPLE: tuple[Row, ...] = (
    (rules.SignInRefused, 401, "Sign-in refused", "Check both; whoever has forgotten the password asks the operator."),
    (
        rules.ConfirmationRequired,
        401,
        "Confirmation required",
        "Give the password again: POST /v1/session/confirmation.",
    ),
    (rules.PasswordUnfit, 422, "Password unfit", "Take another one; several words in a row are long and easy to keep."),
    (rules.NameTaken, 409, "Name taken", "Take another name; if it is yours, sign in first and then accept."),
    (rules.InvitationVoid, 409, "Invitation void", "Ask for a new invitation; each can be accepted once in 72 hours."),
    (rules.AcceptanceUnclear, 422, "Acceptance unclear", "Sign in first, or say by what name and password you will."),
    (rules.AlreadyJoined, 409, "Joined already", "Change the person's role instead."),
)

_SECOND_FACTOR: tuple[Row, ...] = (
    (rules.CodeNeeded, 401, "Code needed", "Send name, ticket and a code: POST /v1/session/completion."),
    (
        rules.CodeRefused,
        401,
        "Code refused",
        "Take the code that the app shows now, once; check the phone's clock.",
    ),
    (rules.CodesPaused, 429, "Codes paused", "Wait, or give a recovery code; somebody may know your password."),
    (rules.TicketVoid, 401, "Ticket void", "Sign in again with name and password."),
    (
        rules.SecondFactorMissing,
        403,
        "Second factor missing",
        "Set one up: under your name on the pages, with 'pool begin-second-factor', or by POST /v1/second-factor.",
    ),
    (rules.SecondFactorThere, 409, "Second factor there", "Take it off first if it is to be another."),
    (rules.SecondFactorNotBegun, 409, "No second factor", "Begin one first: POST /v1/second-factor."),
)

_ADDRESSES: tuple[Row, ...] = (
    (requests.UnknownPath, 404, "Unknown address", "Check the address against the API's description."),
    (requests.MethodNotAllowed, 405, "Method not allowed", "Use one of the methods that the header Allow lists."),
    (requests.AddressTooLong, 414, "Address too long", "Shorten the query."),
    (requests.MalformedQuery, 400, "Malformed query", "Percent-encode the query as UTF-8."),
    (requests.UnknownQueryParameter, 400, "Unknown query parameter", "Check the spelling against the known ones."),
    (requests.DuplicateQueryParameter, 400, "Duplicate query parameter", "Give each query parameter once."),
    (requests.CursorInvalid, 400, "Invalid cursor", "Start again without a cursor; keep the filters while paging."),
)

_HEADERS: tuple[Row, ...] = (
    (requests.Unauthenticated, 401, "Not authenticated", "Send a key or token: Authorization: Bearer cp_…"),
    (requests.RateLimited, 429, "Too many requests", "Wait as long as the header Retry-After says."),
    (requests.DuplicateHeader, 400, "Duplicate header", "Send the header once."),
    (requests.IdempotencyKeyMissing, 400, "Idempotency key missing", "Make a key once and send it with every try."),
    (requests.IdempotencyKeyMalformed, 400, "Malformed idempotency key", "Use 8 to 64 letters, digits, - or _."),
    (requests.PreconditionRequired, 428, "Precondition required", "Read it first and send its ETag in If-Match."),
    (requests.PreconditionFailed, 412, "Precondition failed", "Send the ETag as it was read, strong and alone."),
    (requests.NotAcceptable, 406, "Not acceptable", "Accept one of the offered media types."),
)

_BODIES: tuple[Row, ...] = (
    (requests.UnsupportedMediaType, 415, "Unsupported media type", "Send the body as one of the supported types."),
    (requests.BodyTooLarge, 413, "Body too large", "Split the request."),
    (requests.MalformedJson, 400, "Malformed JSON", "Send one JSON value as UTF-8 text."),
    (requests.DuplicateMember, 400, "Duplicate member", "Give each member of a JSON object once."),
    (requests.InvalidRequest, 422, "Invalid request", "Correct each value that the errors point at."),
)

_SERVICE: tuple[Row, ...] = (
    (requests.ServerFault, 500, "Internal error", "Repeat it with the same key; give the operator the id if it stays."),
    (requests.NotReady, 503, "Not ready", "Wait; the operator sees in the log what is missing."),
    (store.StoreBusy, 503, "Store busy", "Nothing was written; repeat the request with the same idempotency key."),
    (store.StoreConflict, 409, "Store conflict", "Nothing was written; read again what you meant to change."),
    (store.StoreUnavailable, 503, "Store unavailable", "It may stand or not: repeat it with the same idempotency key."),
    (store.StoreDamaged, 503, "Store damaged", "Tell the operator: what is stored contradicts itself."),
    (store.StoreUnfit, 503, "Store unfit", "The operator has to set the database up as the log says."),
)

ROWS: tuple[Row, ...] = (
    *(_FIGURES + _PARTIES + _CREDITS + _DAYS + _REVERSALS + _PAYMENTS + _MONTHS + _ORDERS + _CATALOGUE + _FILES),
    *(_ARRANGEMENTS + _CLAIMS + _PEOPLE + _SECOND_FACTOR + _ADDRESSES + _HEADERS + _BODIES + _SERVICE),
)

_MORE_HEADERS: dict[type[Exception], dict[str, str]] = {
    rules.KeyEnded: {"WWW-Authenticate": 'Bearer realm="credit pool", error="invalid_token"'},
    rules.SignInRefused: {"WWW-Authenticate": 'Bearer realm="credit pool"'},
    rules.CodeNeeded: {"WWW-Authenticate": 'Bearer realm="credit pool"'},
    rules.CodeRefused: {"WWW-Authenticate": 'Bearer realm="credit pool"'},
    rules.TicketVoid: {"WWW-Authenticate": 'Bearer realm="credit pool"'},
    rules.ConfirmationRequired: {
        # RFC 9470, 3: who calls is known, but the password was given too long ago
        "WWW-Authenticate": 'Bearer realm="credit pool", error="insufficient_user_authentication"'
    },
    store.StoreBusy: {"Retry-After": "1"},
    store.StoreUnavailable: {"Retry-After": "5"},
    store.StoreDamaged: {"Retry-After": "60"},
    store.StoreUnfit: {"Retry-After": "60"},
}


def store_code(cls: type[StoreError]) -> str:
    """Give the code of a store error: its class name in kebab case."""
    return "store-" + cls.__name__.removeprefix("Store").lower()


def _code(cls: type[DomainError | RequestError | StoreError]) -> str:
    return store_code(cls) if issubclass(cls, StoreError) else cls.code


TYPES: dict[type[Exception], ProblemType] = {
    cls: ProblemType(code=_code(cls), status=status, title=title, advice=advice, headers=_MORE_HEADERS.get(cls, {}))
    for cls, status, title, advice in ROWS
}
"""Each error class's problem type."""

BY_CODE: dict[str, ProblemType] = {found.code: found for found in sorted(TYPES.values(), key=lambda found: found.code)}
"""Each problem type by its code, in order of code."""


def every_error() -> Iterator[type[Exception]]:
    """Give every concrete class of the three trees, whether it has a row or not."""
    yield from every_refusal().values()
    todo: list[type[Exception]] = [*RequestError.__subclasses__(), *StoreError.__subclasses__()]
    while todo:
        cls = todo.pop()
        yield cls
        todo.extend(cls.__subclasses__())
