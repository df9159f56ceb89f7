"""A statement written out: as a JSON object and as CSV, the same figures in both, amounts as decimal text."""

from collections.abc import Callable
from typing import Any

from msgspec import Struct

from pool_api.domain.entries import Json
from pool_api.domain.layers import Costed
from pool_api.domain.sheets import Lending, MemberSheet, OpenLoan
from pool_api.reports.cells import csv_text
from pool_api.reports.statement import Line, Statement, Transfer

DUE_WORDS = {
    "brought_forward": "brought forward",
    "purchases_paid": "purchases it paid",
    "purchases_for_it": "purchases paid for it",
    "draws": "draws from stock",
    "loans_from_it": "loans settled from it",
    "loans_to_it": "loans settled to it",
    "charges_to_it": "charges to it",
    "charges_from_it": "charges from it",
    "stock_write_offs": "its share of stock written off",
    "payments_received": "payments received",
    "payments_made": "payments made",
    "reversals": "reversals of earlier months",
    "saving_shared": "its share of the saving by ordering together",
}
"""Each line of a due in words, in order."""

GAINED = {
    "opening": "its own when the month began",
    "draws": "drawn from stock",
    "purchases": "bought",
    "outside_in": "come from outside the pool",
    "loans_to_it": "come from other members by loans",
    "reversals_in": "come back by reversals of earlier months",
    "reversals_out": "taken back by reversals of earlier months",
}
"""Each part of a member's month that makes up what it had available, in words, in order; the last is taken off."""

PASSED_ON = {
    "made_up": "made up for what it had passed on before",
    "loans_from_it": "gone to other members by loans",
    "uses": "used on jobs",
    "outside_out": "gone to outside the pool",
    "given_back": "given back by reversals of earlier months",
    "write_offs": "written off",
    "closing": "its own when the month ended",
}
"""Each part that comes out of what was available, in words, in order."""

LOANS = {
    "loans": "settled",
    "loans_carried": "carried on",
    "loans_returned": "returned",
    "carried_settled": "settled of earlier months",
    "open_loans": "open",
}
"""The lists of loans in a statement, with what became of those in it."""

Text = Callable[[int], str]


def gained(sheet: MemberSheet) -> dict[str, Costed]:
    """Give the parts that make up what a member had available, by the names of GAINED, so that they add up to it: what
    reversals took back is below zero, and credits that it owed from before don't count (see MemberSheet.made_up)."""
    found = {name: getattr(sheet, name) for name in GAINED}
    opening, back = sheet.opening, sheet.reversals_out
    return {
        **found,
        "opening": Costed(max(opening.quantity, 0), opening.cost),
        "reversals_out": Costed(-back.quantity, -back.cost),
    }


def statement_json(made: Statement) -> Json:
    """Give a statement as a JSON object for msgspec to write."""
    text, sheet = made.pool.currency.text, made.sheet
    return {
        "pool": made.pool.id,
        "pool_name": made.pool.name,
        "vendor": made.pool.vendor,
        "currency": made.pool.currency.code,
        "member": made.member.code,
        "member_name": made.member.name,
        "month": made.month,
        "state": "closed" if made.closed else "open",
        "rests_on": {"number": made.number, "hash": made.hash},
        "opening": {"held": made.opening_held, "own": _costed(sheet.opening, text)},
        "lines": [_line(line, text) for line in made.lines],
        "closing": {"held": made.closing_held, "own": _costed(sheet.closing, text)},
        "blended": _blended(made),
        "loans": [_loan(made, each) for each in made.loans],
        "loans_carried": [_loan(made, each) for each in made.loans_carried],
        "loans_returned": [_loan(made, each) for each in made.loans_returned],
        "carried_settled": [_open(each, text) for each in made.carried_settled],
        "open_loans": [_open(each, text) for each in made.open_loans],
        "lending_gain": text(sheet.lending_gain),
        "difference": text(sheet.difference),
        "due": [
            {"line": name, "words": words, "amount": text(getattr(sheet.due, name))}
            for name, words in DUE_WORDS.items()
        ],
        "due_total": text(sheet.due.total),
        "carried_forward": text(made.carried),
        "too_small_to_pay": text(made.small),
        "payments": [_transfer(each, text) for each in made.transfers],
        "cautions": list(made.cautions),
    }


class _Line(Struct, frozen=True, omit_defaults=True, gc=False):
    """A line as it is written: a dictionary for each of a million would take twice as long."""

    entry: int
    on: str
    kind: str
    what: str
    credits: int
    cost: str | None = None


def _line(line: Line, text: Text) -> _Line:
    cost = line.cost
    return _Line(line.entry, line.on, line.kind, line.what, line.credits, None if cost is None else text(cost))


def _loan(made: Statement, each: Lending) -> Json:
    currency = made.pool.currency
    shown: Json = {
        "lender": each.lender,
        "borrower": each.borrower,
        "quantity": each.quantity,
        "amount": currency.text(each.amount),
    }
    return shown if each.unit_price is None else {**shown, "unit_price": currency.unit_text(each.unit_price)}


def _open(each: OpenLoan, text: Text) -> Json:
    value = text(amount_of(each))
    return {"lender": each.lender, "borrower": each.borrower, "quantity": each.quantity, "amount": value}


def amount_of(loan: Lending | OpenLoan) -> int:
    """Give what a loan amounts to in minor units: settled for, or carried on at."""
    return loan.amount if isinstance(loan, Lending) else loan.value or 0


def _transfer(each: Transfer, text: Text) -> Json:
    shown: Json = {
        "other": each.other,
        "direction": "to make" if each.amount < 0 else "to expect",
        "amount": text(abs(each.amount)),
        "paid": text(each.paid),
    }
    return shown if each.id is None else {"id": each.id, **shown}


def _costed(value: Costed, text: Text) -> Json:
    return {"quantity": value.quantity, "cost": text(value.cost)}


def _blended(made: Statement) -> Json:
    """Give the blended unit cost with the credits and costs that it came from."""
    currency, sheet = made.pool.currency, made.sheet
    parts = {name: getattr(sheet, name) for name in GAINED}
    shown: Json = {
        "from": {name: _costed(part, currency.text) for name, part in parts.items() if any(part)},
        "available": _costed(sheet.available, currency.text),
        "uses": _costed(sheet.uses, currency.text),
    }
    return shown if sheet.unit_cost is None else {**shown, "unit_cost": currency.unit_text(sheet.unit_cost)}


def statement_csv(made: Statement) -> str:
    """Give a statement as CSV (RFC 4180), in columns section, entry, day, kind, what, credits, amount."""
    said = statement_json(made)
    blended, rests_on = said["blended"], said["rests_on"]
    title = f"{said['member']} {said['month']}"
    available = blended["available"]
    rows: list[tuple[Any, ...]] = [
        ("section", "entry", "day", "kind", "what", "credits", "amount"),
        ("opening", "", "", "", title, made.opening_held, said["opening"]["own"]["cost"]),
        *(
            ("line", line.entry, line.on, line.kind, line.what, line.credits, "" if line.cost is None else line.cost)
            for line in said["lines"]
        ),
        ("closing", "", "", "", "", made.closing_held, said["closing"]["own"]["cost"]),
        *(("blended", "", "", name, "", part["quantity"], part["cost"]) for name, part in blended["from"].items()),
        ("blended", "", "", "available", blended.get("unit_cost", ""), available["quantity"], available["cost"]),
        *(
            ("loan", "", "", kind, f"{loan['lender']} to {loan['borrower']}", loan["quantity"], loan["amount"])
            for name, kind in LOANS.items()
            for loan in said[name]
        ),
        *(("due", "", "", due["line"], due["words"], "", due["amount"]) for due in said["due"]),
        ("due", "", "", "total", "", "", said["due_total"]),
        ("carried", "", "", "forward", "", "", said["carried_forward"]),
        ("carried", "", "", "too small to pay", "", "", said["too_small_to_pay"]),
        *(("payment", "", "", each["direction"], each["other"], "", each["amount"]) for each in said["payments"]),
        ("rests on", rests_on["number"], "", "", rests_on["hash"], "", ""),
        *(("caution", "", "", "", caution, "", "") for caution in said["cautions"]),
    ]
    return csv_text(rows, free=4)
