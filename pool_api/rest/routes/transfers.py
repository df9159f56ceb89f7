"""Members' bank accounts, and the files that ask a member's bank to transfer what it has to pay."""

from typing import Annotated

from fastapi import Path, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.banking import BankAccount
from pool_api.domain.values import Month
from pool_api.reports.payment_file import account_json, order_json, payment_xml
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatch, IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.media import JSON, XML, Accept, choose
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import also, replaceable
from pool_api.rest.wire import Instant, MemberCode, MoneyText, MonthText, PoolId, ShortText, WireModel
from pool_api.services import transfers

router = gated_router("bookkeeping", "/pools/{pool}")

_ADDRESS = "/members/{member}/bank-account"

IbanText = Annotated[
    str,
    Field(
        pattern="^[A-Z]{2}[0-9]{2}( ?[A-Z0-9]){11,30}$",
        max_length=64,
        examples=["AT80 9990 0000 0000 0001"],
        description="An international bank account number (ISO 13616), with blanks or without.",
    ),
]
BicText = Annotated[
    str,
    Field(
        pattern="^[A-Z]{6}[A-Z0-9]{2}([A-Z0-9]{3})?$",
        max_length=11,
        examples=["INVNATA0"],
        description="A bank's business identifier code (ISO 9362).",
    ),
]


class BankAccountForm(WireModel):
    """Where a member receives money and pays from."""

    holder: ShortText
    iban: IbanText
    bic: BicText | None = None


class BankAccountShown(BankAccountForm):
    """A bank account on file, its number without blanks. One that changed a short while ago is worth a call."""

    member: MemberCode
    changed_at: Instant


class TransferShown(WireModel):
    """What is left to pay of a settlement payment, the account it goes to, and what is written with it."""

    payment: str
    amount: MoneyText
    to: BankAccountShown
    purpose: str


class LeftOutShown(WireModel):
    """A settlement payment that can't be transferred, and why."""

    payment: str
    payee: MemberCode
    amount: MoneyText
    reason: str


class PaymentFileShown(WireModel):
    """What a member's bank may be asked to transfer. The same transfers have the same name, so that none goes twice."""

    name: str = Field(pattern="^CP[0-9A-F]{30}$", examples=["CP" + "0" * 30])
    month: MonthText
    payer: MemberCode
    currency: str
    total: MoneyText
    from_: Annotated[BankAccountShown, Field(alias="from")]
    transfers: list[TransferShown]
    left_out: list[LeftOutShown]
    cautions: list[str]


@router.get(
    _ADDRESS, response_model=BankAccountShown, operation_id="read_bank_account", summary="Read a member's bank account"
)
def read(pool: PoolId, member: MemberCode, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """For the keeper and the member's own clerks. The ETag is what a change has to state."""
    found, version = transfers.read_bank_account(office, caller, pool, member)
    return replies.read(account_json(found), version, copies)


@router.put(
    _ADDRESS,
    response_model=BankAccountShown,
    operation_id="put_bank_account",
    summary="Put a member's bank account on file or change it",
    responses=replaceable(BankAccountShown),
)
def put(
    pool: PoolId,
    member: MemberCode,
    asked: BankAccountForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """Its number is checked for form and check digits only. Members that have to pay this one get to see it."""
    wanted = BankAccount(member=member, holder=asked.holder, iban=asked.iban, bic=asked.bic, changed_at="")
    made, version = transfers.put_bank_account(office, caller, pool, wanted, version_in(tag))
    return replies.put(account_json(made), version, f"/pools/{pool}/members/{member}/bank-account", new=tag is None)


@router.delete(
    _ADDRESS, status_code=204, operation_id="erase_bank_account", summary="Take a member's bank account off file"
)
def erase(pool: PoolId, member: MemberCode, caller: CallerOf, office: OfficeOf, tag: IfMatch) -> Response:
    """Nothing of it is kept. Erasing what is off file already is as good as erasing it."""
    transfers.erase_bank_account(office, caller, pool, member, version_in(tag))
    return Response(status_code=204)


@router.get(
    "/months/{month}/payment-files/{member}",
    response_model=PaymentFileShown,
    operation_id="read_payment_file",
    summary="Read what a member's bank is to transfer for a month",
    responses={200: {"content": {XML: {"schema": {"type": "string"}}}}, **also(406, 409)},
)
def read_payment_file(
    pool: PoolId,
    month: Annotated[MonthText, Path()],
    member: MemberCode,
    caller: CallerOf,
    office: OfficeOf,
    accept: Accept = None,
) -> Response:
    """What is left of the payments that a closed month asks the member for, as JSON, or as an ISO 20022 message
    (pain.001.001.09) for those who accept application/xml. It orders nothing: check names and accounts, then hand it to
    the payer's bank. Payments for which an account is missing are left out, and named with the reason."""
    wanted = choose(accept, (JSON, XML))
    order = transfers.order_of(office, caller, pool, Month.parse(month), member)
    terms = office.directory(pool).pool
    if wanted == JSON:
        return JSONResponse(order_json(order, terms), headers={"Vary": "Accept"})
    name = f"payments-{pool}-{member}-{month}.xml"
    headers = {"Vary": "Accept", "Content-Disposition": f'attachment; filename="{name}"'}
    content = payment_xml(order, terms, made_at=office.now(), on=office.pool_today(pool))
    return Response(content, media_type=f"{XML}; charset=utf-8", headers=headers)
