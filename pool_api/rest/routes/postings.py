"""For bookkeepers: a holder's month as double entry, and the codes that its accounts have in its own books."""

from typing import Annotated, Any, Literal

from fastapi import Path, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.bookkeeping import AccountCodes, Reason, Role
from pool_api.domain.values import Month
from pool_api.reports.postings import postings_csv, postings_json
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.media import CSV, JSON, Accept, choose
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import also, replaceable
from pool_api.rest.wire import Day, Digest, EntryNumber, Holder, MoneyText, MonthText, PoolId, WireModel
from pool_api.services import postings

router = gated_router("bookkeeping", "/pools/{pool}")

USUAL = AccountCodes()

AccountCode = Annotated[
    str,
    Field(
        pattern="^[0-9A-Za-z][0-9A-Za-z./-]{0,19}$",
        max_length=20,
        examples=["1400"],
        description="The code of an account in the holder's own books.",
    ),
]


class AccountCodesForm(WireModel):
    """The account for each role; what is left out has the usual code, a word. Several roles may share an account."""

    credits: AccountCode = USUAL.credits
    pool: AccountCode = USUAL.pool
    settlement: AccountCode = USUAL.settlement
    loans: AccountCode = USUAL.loans
    bank: AccountCode = USUAL.bank
    opening: AccountCode = USUAL.opening
    used: AccountCode = USUAL.used
    written_off: AccountCode = USUAL.written_off
    stock_loss: AccountCode = USUAL.stock_loss
    passed_on: AccountCode = USUAL.passed_on
    proceeds: AccountCode = USUAL.proceeds
    lending: AccountCode = USUAL.lending
    charges: AccountCode = USUAL.charges
    differences: AccountCode = USUAL.differences


class AccountCodesShown(AccountCodesForm):
    """The account for each role."""

    holder: Holder


class RestsOnShown(WireModel):
    """The entry of the journal that a document rests on."""

    number: int = Field(ge=0)
    hash: Digest


class PostingShown(WireModel):
    """One side of a transaction: debit or credit."""

    role: Role
    account: AccountCode
    debit: MoneyText | None = None
    credit: MoneyText | None = None


class TransactionShown(WireModel):
    """Something booked; its debits equal its credits. entry is absent at the month's end."""

    on: Day
    entry: EntryNumber | None = None
    reason: Reason
    text: str
    postings: list[PostingShown]


class AccountMoved(WireModel):
    """What an account moved by in the month."""

    role: Role
    account: AccountCode
    debit: MoneyText
    credit: MoneyText


class PostingsShown(WireModel):
    """A holder's month as double entry; of an open month as far as it has come, without its settlement."""

    pool: PoolId
    holder: Holder
    month: MonthText
    state: Literal["open", "closed"]
    currency: str
    rests_on: RestsOnShown
    transactions: list[TransactionShown]
    accounts: list[AccountMoved]
    cautions: list[str]


def _show(holder: str, codes: AccountCodes) -> dict[str, Any]:
    return {"holder": holder, **codes.as_json()}


@router.get(
    "/account-codes/{holder}",
    response_model=AccountCodesShown,
    operation_id="read_account_codes",
    summary="Read a holder's account codes",
)
def read_codes(
    pool: PoolId, holder: Holder, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """As it has stated them; one that never did has the usual ones. The ETag is what a change has to state."""
    found, version = postings.read_codes(office, caller, pool, holder)
    return replies.read(_show(holder, found), version, copies)


@router.put(
    "/account-codes/{holder}",
    response_model=AccountCodesShown,
    operation_id="put_account_codes",
    summary="State or change a holder's account codes",
    responses=replaceable(AccountCodesShown),
)
def put_codes(
    pool: PoolId, holder: Holder, asked: AccountCodesForm, caller: CallerOf, office: OfficeOf, tag: IfMatchOrNew = None
) -> Response:
    """Of a member, or of the stock, whose book is the pool's own. They count for every month that is read from now
    on."""
    wanted = AccountCodes(**asked.model_dump())
    version = postings.put_codes(office, caller, pool, holder, wanted, version=version_in(tag))
    return replies.put(_show(holder, wanted), version, f"/pools/{pool}/account-codes/{holder}", new=tag is None)


@router.get(
    "/months/{month}/postings/{holder}",
    response_model=PostingsShown,
    operation_id="read_postings",
    summary="Read a holder's month as double entry",
    responses={200: {"content": {CSV: {"schema": {"type": "string"}}}}, **also(406)},
)
def read(
    pool: PoolId,
    month: Annotated[MonthText, Path()],
    holder: Holder,
    caller: CallerOf,
    office: OfficeOf,
    accept: Accept = None,
) -> Response:
    """As JSON, or as CSV for those who accept text/csv. The account of the credits moves to the statement's closing
    credits at cost, that of the pool to the due that is carried forward."""
    wanted = choose(accept, (JSON, CSV))
    books = postings.books_of(office, caller, pool, Month.parse(month), holder)
    if wanted == JSON:
        return JSONResponse(postings_json(books), headers={"Vary": "Accept"})
    name = f"postings-{pool}-{holder}-{month}.csv"
    headers = {"Vary": "Accept", "Content-Disposition": f'attachment; filename="{name}"'}
    return Response(postings_csv(books), media_type=f"{CSV}; charset=utf-8", headers=headers)
