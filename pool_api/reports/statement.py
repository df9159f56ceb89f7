"""One member's statement of one month: a working paper that it can check line by line against the journal.

Promises: opening credits and the lines' credits add up to the closing credits; the lines of the due add up to the due,
and the due is what is carried forward plus what is paid. All figures are the month sheet's. Amounts are minor units
here and become text where the statement is written out.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from functools import lru_cache
from typing import Any

from msgspec import Struct
from msgspec.structs import replace as with_other

from pool_api.domain.book import held_change
from pool_api.domain.entries import (
    Body,
    Charge,
    Draw,
    Json,
    Loan,
    Opening,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Return,
    Reversal,
    Use,
    WriteOff,
)
from pool_api.domain.layers import Costed
from pool_api.domain.pool import Member, Pool
from pool_api.domain.reversals import Fact
from pool_api.domain.sheets import Due, Lending, MemberLoans, MemberSheet, OpenLoan, Sheet
from pool_api.domain.values import STOCK, Currency
from pool_api.reports.cautions import ROAD_USE, SETTLEMENT


class Line(Struct, frozen=True, gc=False):
    """One entry as it concerns the member: credits it gained (negative: gave), and what they cost, if known."""

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
    """What a member is sent. number and hash name the entry of the journal that it rests on; loans are those that the
    month settles, the fields after them those of sheets.Sheet with like names."""

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
    loans_carried: tuple[Lending, ...]
    loans_returned: tuple[Lending, ...]
    carried_settled: tuple[OpenLoan, ...]
    open_loans: tuple[OpenLoan, ...]
    carried: int
    small: int
    transfers: tuple[Transfer, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthFacts:
    """What a statement of one month is made from.

    loans are the sheet's by member; settlement is as a close freezes it; payments gives, for each payment of its plan,
    the id (None in a preview) and what is paid of it; entries are those of the month that may concern the member, in
    order; targets is what their reversals reverse; number and hash name the entry of the journal that all of it rests
    on; remarks are what has to be said of the month besides."""

    pool: Pool
    sheet: Sheet
    loans: Mapping[str, MemberLoans]
    settlement: Json
    payments: Sequence[tuple[str | None, int]]
    closed: bool
    entries: Sequence[Fact]
    targets: Mapping[int, Fact]
    number: int
    hash: str
    remarks: tuple[str, ...] = ()


def statement(facts: MonthFacts, member: Member, held_before: int) -> Statement:
    """Make a member's statement. held_before is its credits when the month began."""
    code, sheet = member.code, facts.sheet
    own = next((each for each in sheet.members if each.member == code), None) or _empty(code)
    lines, loans = tuple(_lines(code, facts)), facts.loans.get(code, _NO_LOANS)
    road_use = (ROAD_USE,) if any(line.kind == Use.kind for line in lines) else ()
    return Statement(
        pool=facts.pool,
        member=member,
        month=str(sheet.month),
        closed=facts.closed,
        number=facts.number,
        hash=facts.hash,
        sheet=own,
        opening_held=held_before,
        closing_held=held_before + sum(line.credits for line in lines),
        lines=lines,
        loans=loans.settled,
        loans_carried=loans.carried,
        loans_returned=loans.returned,
        carried_settled=loans.carried_settled,
        open_loans=loans.open,
        carried=_of(facts.settlement["carried"], code),
        small=_of(facts.settlement["small"], code),
        transfers=tuple(_transfers(code, facts)),
        cautions=(*facts.remarks, *SETTLEMENT, *road_use),
    )


_NO_LOANS = MemberLoans()


def shortened(made: Statement, most: int) -> Statement:
    """Give a statement with at most `most` lines, or else with one line for each day and kind, in order; the line has
    the number of its first entry, and its credits and costs are sums."""
    if len(made.lines) <= most:
        return made
    groups: dict[tuple[str, str], list[Line]] = {}
    for line in made.lines:
        groups.setdefault((line.on, line.kind), []).append(line)
    return replace(made, lines=tuple(_together(group) for group in groups.values()))


def _together(lines: Sequence[Line]) -> Line:
    first, costs = lines[0], [line.cost for line in lines if line.cost is not None]
    if len(lines) == 1:
        return first
    return with_other(
        first,
        what=f"{len(lines)} entries from {first.entry} on: {first.kind.replace('_', ' ')}",
        credits=sum(line.credits for line in lines),
        cost=sum(costs) if costs else None,
    )


def _empty(code: str) -> MemberSheet:
    nothing = {field.name: Costed() for field in fields(MemberSheet) if field.type is Costed}
    return MemberSheet(member=code, unit_cost=None, lending_gain=0, difference=0, due=Due(), **nothing)


def _of(amounts: Sequence[Json], code: str) -> int:
    return sum(int(each["amount"]) for each in amounts if each["member"] == code)


def _transfers(code: str, facts: MonthFacts) -> list[Transfer]:
    found = []
    for each, (name, paid) in zip(facts.settlement["payments"], facts.payments, strict=True):
        if code == each["payer"]:
            found.append(Transfer(id=name, other=each["payee"], amount=-each["amount"], paid=paid))
        elif code == each["payee"]:
            found.append(Transfer(id=name, other=each["payer"], amount=each["amount"], paid=paid))
    return found


def _lines(code: str, facts: MonthFacts) -> list[Line]:
    found, costs, currency = list[Line](), facts.sheet.costs, facts.pool.currency
    for entry in facts.entries:
        own = body = entry.body
        target, undone = None, ""
        if isinstance(own, Reversal):
            target = facts.targets[own.entry]
            body, undone = target.body, f"reversal of entry {target.number}: "
        words = _WORDS.get(type(body))
        if words is None:
            continue
        credits = held_change(code, entry, target)
        if credits or _concerns(code, body):
            said = undone + words(code, body)
            if isinstance(body, Payment):
                said += _beyond(body, currency)
            cost = own.amount if isinstance(own, _MONEY) else costs.get(entry.number)
            found.append(Line(entry.number, _day_text(entry.effective_on), own.kind, said, credits, cost))
    return found


_day_text = lru_cache(maxsize=400)(date.isoformat)

_MONEY = (Purchase, Charge, Payment)
"""Kinds that state themselves what they cost."""


def _beyond(body: Payment, currency: Currency) -> str:
    return f", {currency.text(body.beyond)} of it beyond what was asked for" if body.beyond else ""


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


_WORDS: dict[type, Callable[[str, Any], str]] = {
    Opening: lambda _code, _body: "opening",
    Purchase: lambda _, body: f"purchase of {body.quantity} into {body.into}, paid by {body.paid_by}",
    Draw: lambda code, body: "draw from stock" if code == body.member else f"draw by {body.member}",
    Loan: lambda code, body: (
        (f"loan to {body.borrower}" if code == body.lender else f"loan from {body.lender}")
        + (f" at an agreed {body.unit_price}" if body.unit_price else "")
    ),
    Return: lambda code, body: f"return to {body.lender}" if code == body.borrower else f"return from {body.borrower}",
    Use: lambda _, body: f"use of {body.item} on job {body.job}",
    WriteOff: lambda _, body: f"{body.holder} wrote off {body.quantity} ({body.reason.replace('_', ' ')})",
    Outside: lambda _, body: f"{'from' if body.direction == 'in' else 'to'} {body.party}, outside the pool",
    Relocation: lambda _, body: f"stock moved from {body.from_member} to {body.to_member}",
    Charge: lambda _, body: f"charge from {body.from_member} to {body.to_member}: {body.reason}",
    Payment: lambda _, body: (
        f"payment from {body.from_member} to {body.to_member}" + (f" for {body.pays}" if body.pays else "")
    ),
}
"""What an entry says in words to one member, or to the stock; the kinds that aren't here say nothing to either."""


def what(code: str, body: Body) -> str:
    """Say in words what an entry is to a member, or to the stock."""
    return _WORDS[type(body)](code, body)
