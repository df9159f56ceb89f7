"""One member's statement of one month: a working paper that it can check line by line against the journal.

Promises: opening credits and the lines' credits add up to the closing credits; the lines of the due add up to the due,
and the due is what is carried forward plus what is paid. All figures are the month sheet's. Amounts are minor units
here and become text where the statement is written out.
"""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import Any

from pool_api.domain.book import moves
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
    Draw,
    Entry,
    Json,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Reopening,
    Return,
    Reversal,
    Use,
    WriteOff,
)
from pool_api.domain.layers import Costed
from pool_api.domain.pool import Member, Pool
from pool_api.domain.sheets import Due, Lending, MemberSheet, Sheet
from pool_api.domain.values import STOCK
from pool_api.reports.cautions import SETTLEMENT

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
}
"""Each line of a due in words, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One entry as it concerns the member: credits it gained (negative: gave), and what those credits cost, if known."""

    entry: int
    on: str
    kind: str
    what: str
    credits: int
    cost: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """A payment to make (negative amount) or to expect; id is None in a preview."""

    id: str | None
    other: str
    amount: int
    paid: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What a member is sent. number and hash name the entry of the journal that it rests on."""

    pool: Pool
    member: Member
    month: str
    closed: bool
    number: int
    hash: str
    sheet: MemberSheet
    opening_held: int
    closing_held: int
    lines: tuple[Line, ...]
    loans: tuple[Lending, ...]
    carried: int
    small: int
    transfers: tuple[Transfer, ...]
    cautions: tuple[str, ...]


def statement(
    *,
    pool: Pool,
    member: Member,
    sheet: Sheet,
    settlement: Json,
    payments: Sequence[tuple[str | None, int]],
    closed: bool,
    entries: Sequence[Entry],
    targets: Mapping[int, Entry],
    held_before: int,
    number: int,
    hash_: str,
) -> Statement:
    """Make a statement.

    Takes:   settlement — as a close freezes it; payments — for each payment of its plan, the id (None in a preview) and
             what is paid of it; entries — the month's, in order; targets — what their reversals reverse; held_before —
             the member's credits before the month."""
    code = member.code
    own = next((each for each in sheet.members if each.member == code), None) or _empty(code)
    lines = tuple(_lines(code, sheet, entries, targets))
    return Statement(
        pool=pool,
        member=member,
        month=str(sheet.month),
        closed=closed,
        number=number,
        hash=hash_,
        sheet=own,
        opening_held=held_before,
        closing_held=held_before + sum(line.credits for line in lines),
        lines=lines,
        loans=tuple(
            each for each in (*sheet.loans_settled, *sheet.loans_agreed) if code in (each.lender, each.borrower)
        ),
        carried=_of(settlement["carried"], code),
        small=_of(settlement["small"], code),
        transfers=tuple(_transfers(code, settlement["payments"], payments)),
        cautions=SETTLEMENT,
    )


def _empty(code: str) -> MemberSheet:
    nothing = {field.name: Costed() for field in fields(MemberSheet) if field.type is Costed or field.type == "Costed"}
    return MemberSheet(member=code, unit_cost=None, lending_gain=0, difference=0, due=Due(), **nothing)


def _of(amounts: Sequence[Json], code: str) -> int:
    return sum(int(each["amount"]) for each in amounts if each["member"] == code)


def _transfers(code: str, planned: Sequence[Json], payments: Sequence[tuple[str | None, int]]) -> list[Transfer]:
    found = []
    for each, (name, paid) in zip(planned, payments, strict=True):
        if code == each["payer"]:
            found.append(Transfer(id=name, other=each["payee"], amount=-each["amount"], paid=paid))
        elif code == each["payee"]:
            found.append(Transfer(id=name, other=each["payer"], amount=each["amount"], paid=paid))
    return found


def _lines(code: str, sheet: Sheet, entries: Sequence[Entry], targets: Mapping[int, Entry]) -> list[Line]:
    found = []
    for entry in entries:
        target = targets.get(entry.body.entry) if isinstance(entry.body, Reversal) else None
        if isinstance(entry.body, Acknowledgement | Close | Reopening):
            continue
        body = entry.body if target is None else target.body
        credits = sum(move.change for move in moves(entry, target) if move.member == code and move.borrower is None)
        if credits == 0 and not _concerns(code, body):
            continue
        what = _what(code, body)
        found.append(
            Line(
                entry=entry.number,
                on=entry.effective_on.isoformat(),
                kind=entry.kind,
                what=what if target is None else f"reversal of entry {target.number}: {what}",
                credits=credits,
                cost=_cost(sheet, entry),
            )
        )
    return found


def _concerns(code: str, body: Body) -> bool:
    match body:
        case Purchase():
            return code in (body.paid_by, body.into)
        case Charge() | Payment():
            return code in (body.from_member, body.to_member)
        case WriteOff():
            return body.holder == STOCK
        case Opening():
            return any(each.member == code for each in body.members)
        case _:
            return False


def _cost(sheet: Sheet, entry: Entry) -> int | None:
    if isinstance(entry.body, Purchase | Charge | Payment):
        return entry.body.amount
    return sheet.costs.get(entry.number)


def _what(code: str, body: Body) -> str:
    match body:
        case Purchase():
            into = "stock" if body.into == STOCK else body.into
            return f"purchase of {body.quantity} into {into}, paid by {body.paid_by}"
        case Draw():
            return "draw from stock"
        case Loan():
            other = f"to {body.borrower}" if code == body.lender else f"from {body.lender}"
            return f"loan {other}" + (f" at an agreed {body.unit_price}" if body.unit_price else "")
        case Return():
            return f"return to {body.lender}" if code == body.borrower else f"return from {body.borrower}"
        case Use():
            return f"use of {body.item} on job {body.job}"
        case WriteOff():
            return f"write-off ({body.reason.replace('_', ' ')})"
        case Outside():
            return f"{'from' if body.direction == 'in' else 'to'} {body.party}, outside the pool"
        case Charge():
            return f"charge from {body.from_member} to {body.to_member}: {body.reason}"
        case Payment():
            return f"payment from {body.from_member} to {body.to_member}"
        case _:
            return body.kind


# --- written out -----------------------------------------------------------------------------------------------------


def statement_json(made: Statement) -> Json:
    """Give a statement as a JSON object, amounts as decimal text."""
    text = made.pool.currency.text
    sheet = made.sheet
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
        "lines": [
            {
                "entry": line.entry,
                "on": line.on,
                "kind": line.kind,
                "what": line.what,
                "credits": line.credits,
                **({} if line.cost is None else {"cost": text(line.cost)}),
            }
            for line in made.lines
        ],
        "closing": {"held": made.closing_held, "own": _costed(sheet.closing, text)},
        "blended": _blended(made),
        "loans": [
            {
                "lender": each.lender,
                "borrower": each.borrower,
                "quantity": each.quantity,
                "amount": text(each.amount),
                **({} if each.unit_price is None else {"unit_price": _unit(made, each.unit_price)}),
            }
            for each in made.loans
        ],
        "lending_gain": text(sheet.lending_gain),
        "difference": text(sheet.difference),
        "due": [
            {"line": name, "words": words, "amount": text(getattr(sheet.due, name))}
            for name, words in DUE_WORDS.items()
        ],
        "due_total": text(sheet.due.total),
        "carried_forward": text(made.carried),
        "too_small_to_pay": text(made.small),
        "payments": [
            {
                **({} if each.id is None else {"id": each.id}),
                "other": each.other,
                "direction": "to make" if each.amount < 0 else "to expect",
                "amount": text(abs(each.amount)),
                "paid": text(each.paid),
            }
            for each in made.transfers
        ],
        "cautions": list(made.cautions),
    }


def _costed(value: Costed, text: Callable[[int], str]) -> Json:
    return {"quantity": value.quantity, "cost": text(value.cost)}


def _unit(made: Statement, price: Fraction) -> str:
    return made.pool.currency.unit_text(price)


def _blended(made: Statement) -> Json:
    """Give the blended unit cost with the credits and costs that it came from."""
    text, sheet = made.pool.currency.text, made.sheet
    parts = {
        "opening": sheet.opening,
        "draws": sheet.draws,
        "purchases": sheet.purchases,
        "outside_in": sheet.outside_in,
        "loans_to_it": sheet.loans_to_it,
        "reversals_in": sheet.reversals_in,
        "reversals_out": sheet.reversals_out,
    }
    shown: Json = {
        "from": {name: _costed(part, text) for name, part in parts.items() if any(part)},
        "available": _costed(sheet.available, text),
        "uses": _costed(sheet.uses, text),
    }
    if sheet.unit_cost is not None:
        shown["unit_cost"] = _unit(made, sheet.unit_cost)
    return shown


def statement_csv(made: Statement) -> str:
    """Give a statement as CSV (RFC 4180): section, entry, day, kind, what, credits, amount. Text is neutralised."""
    said = statement_json(made)
    rows: list[list[Any]] = [["section", "entry", "day", "kind", "what", "credits", "amount"]]
    add = rows.append
    add(
        [
            "opening",
            "",
            "",
            "",
            _safe(f"{said['member']} {said['month']}"),
            made.opening_held,
            said["opening"]["own"]["cost"],
        ]
    )
    for line in said["lines"]:
        add(
            [
                "line",
                line["entry"],
                line["on"],
                line["kind"],
                _safe(line["what"]),
                line["credits"],
                line.get("cost", ""),
            ]
        )
    add(["closing", "", "", "", "", made.closing_held, said["closing"]["own"]["cost"]])
    for name, part in said["blended"]["from"].items():
        add(["blended", "", "", name, "", part["quantity"], part["cost"]])
    available = said["blended"]["available"]
    add(
        ["blended", "", "", "available", said["blended"].get("unit_cost", ""), available["quantity"], available["cost"]]
    )
    for loan in said["loans"]:
        add(["loan", "", "", "", f"{loan['lender']} to {loan['borrower']}", loan["quantity"], loan["amount"]])
    for due in said["due"]:
        add(["due", "", "", due["line"], due["words"], "", due["amount"]])
    add(["due", "", "", "total", "", "", said["due_total"]])
    add(["carried", "", "", "forward", "", "", said["carried_forward"]])
    add(["carried", "", "", "too small to pay", "", "", said["too_small_to_pay"]])
    for each in said["payments"]:
        add(["payment", "", "", each["direction"], each["other"], "", each["amount"]])
    add(["rests on", said["rests_on"]["number"], "", "", said["rests_on"]["hash"], "", ""])
    for caution in said["cautions"]:
        add(["caution", "", "", "", _safe(caution), "", ""])
    written = io.StringIO()
    csv.writer(written, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n").writerows(rows)
    return written.getvalue()


_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")


def _safe(text: str) -> str:
    """Give text that no spreadsheet takes for a formula (OWASP, "CSV Injection"): a leading quote mark where it could."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text
