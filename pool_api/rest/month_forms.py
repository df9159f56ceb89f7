"""How a month is shown on the wire: its sheet, its settlement, and what members have and owe.

Amounts are decimal text of the pool's currency, unit prices decimal text to 4 decimals beside the exact fraction they
were rounded from. What the figures mean is said in the core (domain/sheets.py); nothing is computed here.
"""

from dataclasses import fields
from fractions import Fraction
from typing import Any, Literal

from pydantic import Field

from pool_api.domain.book import payment_id
from pool_api.domain.entries import Close
from pool_api.domain.layers import Costed
from pool_api.domain.sheets import Due, Lending, MemberSheet, OpenLoan
from pool_api.domain.values import Currency
from pool_api.reports.cautions import SETTLEMENT, of_record
from pool_api.rest.saving_forms import SharedSavingShown, show_shared_saving
from pool_api.rest.terms_forms import PolicyShown, show_policy
from pool_api.rest.wire import (
    DIGEST_PATTERN,
    CreditChange,
    Day,
    EntryNumber,
    Holder,
    MemberCode,
    MoneyText,
    MonthText,
    WireModel,
    stated,
)
from pool_api.services.costs import CostedMonth

Json = dict[str, Any]


class UnitCostShown(WireModel):
    """A price per credit: decimal text to 4 decimals, and exactly, as minor units over credits."""

    shown: str = Field(pattern=r"^-?[0-9]+\.[0-9]{4}$", examples=["7.0667"])
    exact: str = Field(pattern=r"^-?[0-9]+/[0-9]+$", examples=["2120/3"])


class CostedShown(WireModel):
    """Credits together with their cost."""

    quantity: CreditChange
    cost: MoneyText


class LendingShown(WireModel):
    """Credits passed from one member to another for an amount; entry is the loan with an agreed price, absent for what
    went between two members on balance over the month. unit_price is absent where there is none yet."""

    lender: MemberCode
    borrower: MemberCode
    quantity: CreditChange
    unit_price: UnitCostShown | None = None
    amount: MoneyText
    cost: MoneyText
    entry: EntryNumber | None = None


class OpenLoanShown(WireModel):
    """Credits that stay open between two members over a close, with the value that they are carried on at."""

    lender: MemberCode
    borrower: MemberCode
    quantity: CreditChange
    value: MoneyText


class ObstacleShown(WireModel):
    """What keeps a month from being closed: the code of the refusal that a close would meet, and its sentence."""

    code: str
    detail: str


class DueShown(WireModel):
    """A member's due line by line, signed so that the lines add up to the total: positive is owed to it."""

    brought_forward: MoneyText
    purchases_paid: MoneyText
    purchases_for_it: MoneyText
    draws: MoneyText
    loans_from_it: MoneyText
    loans_to_it: MoneyText
    charges_to_it: MoneyText
    charges_from_it: MoneyText
    stock_write_offs: MoneyText
    payments_received: MoneyText
    payments_made: MoneyText
    reversals: MoneyText
    saving_shared: MoneyText
    total: MoneyText


class MemberSheetShown(WireModel):
    """One member's month: from opening to reversals_in makes up available, less reversals_out; the rest comes out."""

    member: MemberCode
    opening: CostedShown
    draws: CostedShown
    purchases: CostedShown
    outside_in: CostedShown
    loans_to_it: CostedShown
    reversals_in: CostedShown
    reversals_out: CostedShown
    available: CostedShown
    blended_unit_cost: UnitCostShown | None = None
    made_up: CostedShown
    loans_from_it: CostedShown
    uses: CostedShown
    outside_out: CostedShown
    given_back: CostedShown
    write_offs: CostedShown
    closing: CostedShown
    lending_gain: MoneyText
    difference: MoneyText
    due: DueShown


class StockShown(WireModel):
    """The stock's month."""

    opening: CostedShown
    bought: CostedShown
    back: CostedShown
    withdrawn: CostedShown
    available: CostedShown
    closing: CostedShown


class WarningShown(WireModel):
    """Something that is missing or dated wrong."""

    rule: Literal["below_zero", "stock_cost_impossible"]
    on: Day
    holder: Holder
    size: int


class EntryCostShown(WireModel):
    """What the credits of one entry had cost: a draw, use, write-off or outside entry out."""

    entry: EntryNumber
    cost: MoneyText


class SheetShown(WireModel):
    """The costing of one month; of an open one as far as it has come. What single entries cost is listed apart.

    loans_settled is what the close settles of the month's loans without an agreed price, loans_carried what it carries
    on; loans_returned are credits given back of loans carried on before (the lender is who gave them back),
    carried_settled such loans that the close settles; open_loans stay open. saving is absent where the policy leaves it
    at one unit price, and where nothing was drawn. obstacle is absent when nothing keeps the month from being
    closed."""

    month: MonthText
    state: Literal["open", "closed"]
    computed_at: int = Field(ge=0, description="The number of the entry up to which the journal was read.")
    policy: PolicyShown
    pool_price: UnitCostShown | None = None
    stock: StockShown
    loans_settled: list[LendingShown]
    loans_carried: list[LendingShown]
    loans_returned: list[LendingShown]
    loans_agreed: list[LendingShown]
    carried_settled: list[OpenLoanShown]
    open_loans: list[OpenLoanShown]
    obstacle: ObstacleShown | None = None
    members: list[MemberSheetShown]
    saving: SharedSavingShown | None = None
    warnings: list[WarningShown]


class MemberAmount(WireModel):
    """An amount of one member."""

    member: MemberCode
    amount: MoneyText


class PlannedPaymentShown(WireModel):
    """A payment that settles a month; id and paid once the month is closed."""

    id: str | None = None
    payer: MemberCode
    payee: MemberCode
    amount: MoneyText
    paid: MoneyText | None = None


class SettlementShown(WireModel):
    """How a month is settled: what is carried forward, the nets, and the payments that clear them."""

    month: MonthText
    state: Literal["preview", "closed"]
    digest: str = Field(pattern=DIGEST_PATTERN, description="What a close has to state.")
    computed_at: int = Field(ge=0)
    carried: list[MemberAmount]
    small: list[MemberAmount]
    nets: list[MemberAmount]
    payments: list[PlannedPaymentShown]
    go_betweens: list[MemberCode] = Field(description="Members that both pay and receive.")
    unpayable: list[MemberCode] = Field(
        description="Members that can't pay or be paid as the pool's pairs stand, so that no payments are planned."
    )
    lower_bound: int = Field(ge=0, description="No plan has fewer payments than this.")
    proven: bool = Field(description="Whether no plan has fewer payments than this one.")
    warnings: int = Field(ge=0)
    accepted_differences: int = Field(ge=0, description="Differences that nobody had decided when it was closed.")
    accepted_suggestions: int = Field(ge=0, description="Matches that nobody had confirmed when it was closed.")
    sign_off: EntryNumber | None = Field(default=None, description="What had signed the vendor's record off by then.")
    cautions: list[str]


def show_unit_cost(price: Fraction, currency: Currency) -> Json:
    """Give a unit price as it is shown."""
    return {"shown": currency.unit_text(price), "exact": f"{price.numerator}/{price.denominator}"}


def _costed(value: Costed, currency: Currency) -> Json:
    return {"quantity": value.quantity, "cost": currency.text(value.cost)}


def _lending(value: Lending, currency: Currency) -> Json:
    shown: Json = {
        "lender": value.lender,
        "borrower": value.borrower,
        "quantity": value.quantity,
        "amount": currency.text(value.amount),
        "cost": currency.text(value.cost),
    }
    if value.unit_price is not None:
        shown["unit_price"] = show_unit_cost(value.unit_price, currency)
    if value.entry is not None:
        shown["entry"] = value.entry
    return shown


def _open_loan(value: OpenLoan, currency: Currency) -> Json:
    return {
        "lender": value.lender,
        "borrower": value.borrower,
        "quantity": value.quantity,
        "value": currency.text(value.value or 0),
    }


def show_due(due: Due, currency: Currency) -> Json:
    """Give a due line by line, with its total."""
    lines = {field.name: currency.text(getattr(due, field.name)) for field in fields(due)}
    return {**lines, "total": currency.text(due.total)}


def show_member(sheet: MemberSheet, currency: Currency) -> Json:
    """Give a member's month."""
    shown: Json = {"member": sheet.member}
    for field in fields(sheet):
        value = getattr(sheet, field.name)
        if isinstance(value, Costed):
            shown[field.name] = _costed(value, currency)
    if sheet.unit_cost is not None:
        shown["blended_unit_cost"] = show_unit_cost(sheet.unit_cost, currency)
    shown["lending_gain"] = currency.text(sheet.lending_gain)
    shown["difference"] = currency.text(sheet.difference)
    shown["due"] = show_due(sheet.due, currency)
    return shown


_LENDINGS = ("loans_settled", "loans_carried", "loans_returned", "loans_agreed")


def show_sheet(month: CostedMonth, currency: Currency) -> Json:
    """Give a month's sheet."""
    sheet = month.sheet
    stock = sheet.stock
    shown: Json = {
        "month": str(month.month),
        "state": "open" if month.close is None else "closed",
        "computed_at": month.computed_at,
        "policy": show_policy(sheet.policy, currency),
        "stock": {
            "opening": _costed(Costed(stock.opening.quantity, stock.opening.cost), currency),
            "bought": _costed(stock.bought, currency),
            "back": _costed(stock.back, currency),
            "withdrawn": _costed(stock.withdrawn, currency),
            "available": _costed(stock.available, currency),
            "closing": _costed(Costed(stock.closing.quantity, stock.closing.cost), currency),
        },
        **{name: [_lending(each, currency) for each in getattr(sheet, name)] for name in _LENDINGS},
        "carried_settled": [_open_loan(each, currency) for each in sheet.carried_settled],
        "open_loans": [_open_loan(each, currency) for each in sheet.open_loans],
        "members": [show_member(each, currency) for each in sheet.members],
        "warnings": [
            {"rule": each.rule, "on": each.on.isoformat(), "holder": each.holder, "size": each.size}
            for each in sheet.warnings
        ],
    }
    if sheet.saving is not None:
        shown["saving"] = show_shared_saving(sheet.saving, currency)
    if sheet.price is not None:
        shown["pool_price"] = show_unit_cost(sheet.price, currency)
    if sheet.obstacle is not None:
        shown["obstacle"] = {"code": sheet.obstacle.code, "detail": str(sheet.obstacle)}
    return shown


def show_settlement(month: CostedMonth, paid: dict[str, int], currency: Currency) -> Json:
    """Give a month's settlement. paid holds what is paid of each settlement payment, by id."""
    settlement, close = month.settlement, month.close
    frozen = close.body if close and isinstance(close.body, Close) else None

    def amounts(name: str) -> list[Json]:
        return [{"member": each["member"], "amount": currency.text(each["amount"])} for each in settlement[name]]

    shown = {
        "month": str(month.month),
        "state": "preview" if close is None else "closed",
        "digest": month.digest,
        "computed_at": month.computed_at,
        "carried": amounts("carried"),
        "small": amounts("small"),
        "nets": amounts("nets"),
        "payments": [
            {
                "payer": each["payer"],
                "payee": each["payee"],
                "amount": currency.text(each["amount"]),
                **({} if close is None else {"id": name, "paid": currency.text(paid.get(name, 0))}),
            }
            for name, each in payment_names(month)
        ],
        "go_betweens": settlement.get("go_betweens", []),
        "unpayable": settlement.get("unpayable", []),
        "lower_bound": settlement["lower_bound"],
        "proven": settlement["proven"],
        "warnings": len(month.sheet.warnings),
        "accepted_differences": frozen.accepted_differences if frozen else 0,
        "accepted_suggestions": frozen.accepted_suggestions if frozen else 0,
        "sign_off": frozen.sign_off if frozen else None,
        "cautions": [*of_record(frozen), *SETTLEMENT],
    }
    return stated(shown)


def payment_names(month: CostedMonth) -> list[tuple[str, Json]]:
    """Give the planned payments with the names they have once the month is closed."""
    planned, named = enumerate(month.settlement["payments"], start=1), str(month.month)
    return [(payment_id(named, place), each) for place, each in planned]
