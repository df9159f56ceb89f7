"""What a month's sheet says, what one month hands to the next, and how both are written down as JSON.

Plain facts: how they are found stands in costing.py. Credits are whole credits, amounts minor units, unit prices exact
fractions of minor units per credit. In JSON, fractions are text "n/d" and there is no float, so that a digest of it
means something.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from enum import Enum
from fractions import Fraction
from typing import Any, NamedTuple

from pool_api.domain.entries import Json, OpeningMember
from pool_api.domain.errors import DomainError, NoLadder, NoPrice, NoSupply
from pool_api.domain.layers import EMPTY, Costed, Layer, StockState, Waiting
from pool_api.domain.pool import Policy, SavingRule
from pool_api.domain.reversals import Part
from pool_api.domain.sharing import SharedSaving
from pool_api.domain.stock import StockMonth
from pool_api.domain.values import Month

_BY_ENTRY = ("costs", "shares", "outflows")
"""Fields of a sheet and of its stock that have a figure for each of many entries."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenLoan:
    """Credits that stay open between two members over a close, with the value that they were carried on at. None for a
    loan of the old books, which has no value yet: its credits' cost is still the lender's."""

    lender: str
    borrower: str
    quantity: int
    value: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """What one month hands to the next. A position says the same as an opening entry, and with the same words.

    members in order of code, each at most once; a member that is absent has nothing. held is below zero when a member
    passed on credits before it had them; cost is that of credits it lent or borrowed while the loan has no value.
    loans are those still open; price is the last known pool price, None when there never was one."""

    members: tuple[OpeningMember, ...] = ()
    loans: tuple[OpenLoan, ...] = ()
    stock: StockState = EMPTY
    price: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Lending:
    """Credits passed from one member to another for an amount. entry is the loan with an agreed price, None for what
    went between two members on balance over the month; cost is what the credits had cost who gave them. What has no
    price has unit_price None and amount 0: such a month can't be closed."""

    lender: str
    borrower: str
    quantity: int
    unit_price: Fraction | None
    amount: int
    cost: int = 0
    entry: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberLoans:
    """What one member passed to others or got from them in a month, as in Sheet's fields; settled are both those of
    the month's balances and those with an agreed price."""

    settled: tuple[Lending, ...] = ()
    carried: tuple[Lending, ...] = ()
    returned: tuple[Lending, ...] = ()
    carried_settled: tuple[OpenLoan, ...] = ()
    open: tuple[OpenLoan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A member's due line by line, signed so that the lines add up: positive is owed to it."""

    brought_forward: int = 0
    purchases_paid: int = 0
    purchases_for_it: int = 0
    draws: int = 0
    loans_from_it: int = 0
    loans_to_it: int = 0
    charges_to_it: int = 0
    charges_from_it: int = 0
    stock_write_offs: int = 0
    payments_received: int = 0
    payments_made: int = 0
    reversals: int = 0
    saving_shared: int = 0

    @property
    def total(self) -> int:
        """What the pool's members owe this member; negative when it owes."""
        return sum(getattr(self, field.name) for field in fields(self))


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberSheet:
    """One member's month. Everything from opening to reversals_in makes up available, less reversals_out; everything
    from made_up to closing comes out of it.

    opening counts the credits that are the member's own: held, but while a loan of the old books has no value, more
    what it had lent and less what it had borrowed. loans_to_it and loans_from_it are all credits that went between
    members, returns too, at the amounts of their Lending. reversals_in and reversals_out are movements of earlier
    months' entries at their original amounts; made_up is for credits that it passed on in earlier months before it had
    them; given_back are reversals that its available could not bear at the original amount. lending_gain is what it got
    for loans less what those credits had cost; difference is the same for what it gave back, less cost that came
    without any credits to carry it."""

    member: str
    opening: Costed
    draws: Costed
    purchases: Costed
    outside_in: Costed
    loans_to_it: Costed
    reversals_in: Costed
    reversals_out: Costed
    available: Costed
    unit_cost: Fraction | None
    made_up: Costed
    loans_from_it: Costed
    uses: Costed
    outside_out: Costed
    given_back: Costed
    write_offs: Costed
    closing: Costed
    lending_gain: int
    difference: int
    due: Due


class SheetWarning(NamedTuple):
    """Something that is missing or dated wrong. rule is below_zero (size credits were missing at the worst, from a day
    on) or stock_cost_impossible (size is the stock's cost after a reversal); holder is a member or the stock."""

    rule: str
    on: date
    holder: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The costing of one month.

    weights are the shares of the members that there were, member_days the day that each joined on and the one, if any,
    that it left on; opening includes an opening entry of the month; price is the month's pool price, or else the last
    known.
    loans_settled is what members lent on balance and the close settles, loans_carried the same where the policy carries
    loans on; loans_returned are credits given back of earlier months' loans, for their value (the lender is who gave
    them back), carried_settled earlier months' loans that the close settles for their value, open_loans all that stays
    open. without_supply names lenders for whose price there is no solution (see reciprocal.py). All these in order of
    (lender, borrower), loans_agreed of (effective_on, number), members of code, costs of number: the cost of each draw,
    use, write-off and outside entry out; shares tells who bears each write-off of stock; reversed tells, by the number
    of each reversal of an earlier month's entry, the part that it took of the original amounts; warnings in order of
    (on, holder). saving is how what was drawn is shared as one order where the policy asks for it, None where nothing
    was drawn, where the policy leaves it at one unit price, and without a ladder."""

    month: Month
    policy: Policy
    weights: Mapping[str, int]
    member_days: Mapping[str, tuple[date, date | None]]
    opening: Position
    price: Fraction | None
    stock: StockMonth
    loans_settled: tuple[Lending, ...]
    loans_carried: tuple[Lending, ...]
    loans_returned: tuple[Lending, ...]
    loans_agreed: tuple[Lending, ...]
    carried_settled: tuple[OpenLoan, ...]
    open_loans: tuple[OpenLoan, ...]
    without_supply: tuple[str, ...]
    members: tuple[MemberSheet, ...]
    costs: Mapping[int, int]
    shares: Mapping[int, Mapping[str, int]]
    reversed: Mapping[int, Part]
    warnings: tuple[SheetWarning, ...]
    saving: SharedSaving | None = None

    @property
    def obstacle(self) -> DomainError | None:
        """The refusal that a close meets while some loan has no price, or a saving can't be shared."""
        if self.saving is None and self._shares_saving:
            return NoLadder(day=self.month.last.isoformat())
        if all(each.unit_price is not None for each in (*self.loans_settled, *self.loans_carried)):
            return None
        if self.without_supply:
            again = self.without_supply[:1] if len(self.without_supply) > 1 else ()
            return NoSupply(month=str(self.month), lenders=" to ".join((*self.without_supply, *again)))
        return NoPrice(month=str(self.month))

    @property
    def _shares_saving(self) -> bool:
        rule = self.policy.saving_rule
        return rule is not SavingRule.UNIT_PRICE and any(each.draws.quantity > 0 for each in self.members)

    @property
    def dues(self) -> dict[str, int]:
        """Each member's due, in order of code; their sum is the cost of the closing stock."""
        return {each.member: each.due.total for each in self.members}


def loans_by_member(sheet: Sheet) -> dict[str, MemberLoans]:
    """Give the loans of each member that is a side of any, in the order of the sheet."""
    found: dict[str, dict[str, list[Any]]] = {}
    lists: dict[str, Iterable[Lending | OpenLoan]] = {
        "settled": (*sheet.loans_settled, *sheet.loans_agreed),
        "carried": sheet.loans_carried,
        "returned": sheet.loans_returned,
        "carried_settled": sheet.carried_settled,
        "open": sheet.open_loans,
    }
    for name, loans in lists.items():
        for each in loans:
            for side in (each.lender, each.borrower):
                found.setdefault(side, {}).setdefault(name, []).append(each)
    return {code: MemberLoans(**{name: tuple(own) for name, own in of.items()}) for code, of in found.items()}


def closing(sheet: Sheet, dues: Mapping[str, int]) -> Position:
    """Give what a month hands to the next, with the dues that remain after settling (0 for a member not named)."""
    return Position(
        members=tuple(
            OpeningMember(
                member=each.member,
                held=each.closing.quantity,
                cost=each.closing.cost,
                due=dues.get(each.member, 0),
            )
            for each in sheet.members
            if any(each.closing) or dues.get(each.member)
        ),
        loans=sheet.open_loans,
        stock=sheet.stock.closing,
        price=sheet.price,
    )


def sheet_json(sheet: Sheet) -> Json:
    """Give a sheet as a JSON object, every field stated but for the figures of single entries, which would make it as
    long as the month, and for a saving that isn't shared, so that older digests hold."""
    found: Json = {
        field.name: _plain(getattr(sheet, field.name)) for field in fields(sheet) if field.name not in _BY_ENTRY
    }
    if sheet.saving is None:
        del found["saving"]
    found["stock"] = {
        field.name: _plain(getattr(sheet.stock, field.name))
        for field in fields(sheet.stock)
        if field.name not in _BY_ENTRY
    }
    for member, written in zip(sheet.members, found["members"], strict=True):
        written["due"]["total"] = member.due.total
    return found


def costs_json(sheet: Sheet) -> Json:
    """Give what the credits of each entry had cost as a JSON object, by entry."""
    return {str(entry): cost for entry, cost in sheet.costs.items()}


def position_json(position: Position) -> Json:
    """Give a position as a JSON object: position_from(position_json(p)) == p."""
    found: Json = _plain(position)
    return found


def position_from(stored: Json) -> Position:
    """Read a position back from its JSON object."""
    layers = (Layer(**layer) for layer in stored["stock"]["layers"])
    waiting = ({**each, "on": date.fromisoformat(each["on"])} for each in stored["stock"]["waiting"])
    return Position(
        members=tuple(OpeningMember(**each) for each in stored["members"]),
        loans=tuple(OpenLoan(**each) for each in stored["loans"]),
        stock=StockState(layers=tuple(layers), waiting=tuple(Waiting(**each) for each in waiting)),
        price=None if stored["price"] is None else Fraction(stored["price"]),
    )


def _plain(value: Any) -> Any:
    """Write a value of this module as JSON; named tuples are objects like other facts."""
    if value is None or isinstance(value, int) or type(value) is str:
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, tuple):
        return _plain(value._asdict()) if hasattr(value, "_asdict") else [_plain(each) for each in value]
    if is_dataclass(value) and not isinstance(value, Month):
        return {name: _plain(getattr(value, name)) for name in value.__dataclass_fields__}
    return _text(value)


def _text(value: Any) -> Any:
    if isinstance(value, Fraction):
        return f"{value.numerator}/{value.denominator}"
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | Month):
        return str(value)
    return value
