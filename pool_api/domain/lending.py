"""What becomes of the loans between members in one month: how they are priced, what is returned, settled, carried on.

Promises: what one member is owed for a loan, another owes; credits that are carried on keep the value that they were
carried on at, until they are returned for it or settled for it.

Of two members only what they lent each other on balance is priced. Where loans are carried on, what is open is credits
with a value: the value was the cost of the credits for the borrower, and is what they cost the lender when they come
back. All rules are own rules. Amounts are minor units, unit prices exact; what a loan had cost the lender is found in
blending.py.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NamedTuple

from pool_api.domain.blending import available
from pool_api.domain.effects import Tallies, plus
from pool_api.domain.entries import Loan
from pool_api.domain.layers import NOTHING, Costed
from pool_api.domain.pool import LoanPrice, LoansAtClose, Policy
from pool_api.domain.reciprocal import solve
from pool_api.domain.reversals import Divisible, Standing
from pool_api.domain.sheets import Lending, OpenLoan
from pool_api.domain.values import Currency, half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthLoans:
    """The loans of one month: what was returned of open loans at their value (the lender is who gave credits back),
    what was lent anew and is settled or carried on, what had an agreed price; what the close settles of earlier months'
    loans, what it leaves open; and lenders that no supply reaches (see reciprocal.py)."""

    returned: tuple[Lending, ...]
    settled: tuple[Lending, ...]
    carried: tuple[Lending, ...]
    agreed: tuple[Lending, ...]
    carried_settled: tuple[OpenLoan, ...]
    open: tuple[OpenLoan, ...]
    without_supply: tuple[str, ...]

    @property
    def moved(self) -> tuple[Lending, ...]:
        """All that moved credits."""
        return (*self.returned, *self.settled, *self.carried, *self.agreed)

    def at_cost(self, costs: Iterable[int]) -> "MonthLoans":
        """Give the loans with what the credits of each that moved had cost, in their order."""
        each_cost = iter(costs)
        returned, settled, carried, agreed = (
            tuple(replace(each, cost=next(each_cost)) for each in part)
            for part in (self.returned, self.settled, self.carried, self.agreed)
        )
        return replace(self, returned=returned, settled=settled, carried=carried, agreed=agreed)


def month_loans(tallies: Tallies, policy: Policy, price: Fraction | None, currency: Currency) -> MonthLoans:
    """Price, return, settle and carry on the loans of a month.

    Takes:   tallies, complete but for loans; price, the month's pool price or the last known, None when there never was
             one.
    Gives:   the loans in order of (lender, borrower), those with an agreed price of (effective_on, number); where there
             is no price, the amount is 0."""
    pairs = _pairs(tallies)
    returned = tuple(_returned(pairs))
    agreed = tuple(_agreed(tallies.agreed, currency))
    new = {(giver, receiver): q for giver, receiver, q, _ in _directed((pair, at.new) for pair, at in pairs.items())}
    prices: Mapping[str, Fraction | None] = {lender: price for lender, _ in new}
    without_supply: tuple[str, ...] = ()
    if policy.loan_price is LoanPrice.LENDER:
        solution = solve(_own(tallies, (*returned, *agreed)), new)
        prices, without_supply = solution.unit_costs, solution.without_supply
    lent = tuple(_lent(lender, borrower, q, prices.get(lender)) for (lender, borrower), q in new.items())
    left = [(pair, at.left) for pair, at in pairs.items()]
    carries = policy.loans_at_close is LoansAtClose.CARRY
    if carries:
        left += [((each.lender, each.borrower), Open(each.quantity, each.amount)) for each in lent]
    open_ = tuple(
        OpenLoan(lender=lender, borrower=borrower, quantity=quantity, value=value)
        for lender, borrower, quantity, value in _directed(left)
    )
    return MonthLoans(
        returned=returned,
        settled=() if carries else lent,
        carried=lent if carries else (),
        agreed=agreed,
        carried_settled=() if carries else open_,
        open=open_ if carries else (),
        without_supply=without_supply,
    )


class Open(NamedTuple):
    """Credits between two members and their value: above 0 from the first to the second, below 0 the other way."""

    quantity: int = 0
    value: int = 0

    def changed(self, quantity: int, value: int) -> "Open":
        """Give what is open after a change at a value of its own. What is taken from a loan takes its value along, as
        far as the loan has it; what is taken beyond the loan is open the other way."""
        there, left = self.quantity + quantity, self.value + value
        if self.quantity * quantity >= 0:
            return Open(there, left)
        if self.quantity * there > 0:
            return Open(there, left if left * there >= 0 else 0)
        return Open(there, half_up(Fraction(value * there, quantity)))


@dataclass(slots=True)
class _Pair:
    """Two members' month: what is open from before, and what moved on balance in the month."""

    open: Open = field(default_factory=Open)
    moved: int = 0

    @property
    def returned(self) -> Open:
        """What of the month's balance gives back what was open; its value pro rata, half up, the last part the rest."""
        if self.open.quantity * self.moved >= 0:
            return Open()
        sign = 1 if self.moved > 0 else -1
        quantity = min(abs(self.moved), abs(self.open.quantity))
        whole = Divisible(quantity=abs(self.open.quantity), amount=-sign * self.open.value)
        return Open(sign * quantity, sign * whole.part(quantity))

    @property
    def left(self) -> Open:
        """What is still open from before."""
        returned = self.returned
        return Open(self.open.quantity + returned.quantity, self.open.value + returned.value)

    @property
    def new(self) -> Open:
        """What of the month's balance is lent anew."""
        return Open(self.moved - self.returned.quantity)


def _pairs(tallies: Tallies) -> dict[tuple[str, str], _Pair]:
    """Give each two members, in order of code, between whom something is open or was moved."""
    found: dict[tuple[str, str], _Pair] = {}

    def signed(lender: str, borrower: str) -> tuple[_Pair, int]:
        pair = (min(lender, borrower), max(lender, borrower))
        return found.setdefault(pair, _Pair()), 1 if pair[0] == lender else -1

    for change in tallies.carried:
        pair, sign = signed(change.lender, change.borrower)
        pair.open = pair.open.changed(sign * change.quantity, sign * change.value)
    for (lender, borrower), quantity in tallies.open.items():
        pair, sign = signed(lender, borrower)
        pair.moved += sign * quantity
    return found


def _directed(pairs: Iterable[tuple[tuple[str, str], Open]]) -> list[tuple[str, str, int, int]]:
    """Give (giver, receiver, credits above 0, their value) in order; what is given in two parts together."""
    found: dict[tuple[str, str], Open] = {}
    for (one, two), (quantity, value) in pairs:
        way, sign = ((one, two), 1) if quantity > 0 else ((two, one), -1)
        there = found.get(way, Open())
        found[way] = Open(there.quantity + sign * quantity, there.value + sign * value)
    return [(*way, *there) for way, there in sorted(found.items()) if there.quantity]


def _returned(pairs: Mapping[tuple[str, str], _Pair]) -> Iterator[Lending]:
    for giver, receiver, quantity, value in _directed((pair, at.returned) for pair, at in pairs.items()):
        yield Lending(
            lender=giver, borrower=receiver, quantity=quantity, unit_price=Fraction(value, quantity), amount=value
        )


def _lent(lender: str, borrower: str, quantity: int, price: Fraction | None, entry: int | None = None) -> Lending:
    amount = 0 if price is None else half_up(price * quantity)
    return Lending(lender=lender, borrower=borrower, quantity=quantity, unit_price=price, amount=amount, entry=entry)


def _agreed(loans: Iterable[Standing], currency: Currency) -> Iterator[Lending]:
    """Settle the loans that have a price of their own; in the order in which they took effect."""
    for entry, quantity, _ in loans:
        if isinstance(entry.body, Loan) and entry.body.unit_price is not None:
            price = currency.unit_price(entry.body.unit_price)
            yield _lent(entry.body.lender, entry.body.borrower, quantity, price, entry.number)


def _own(tallies: Tallies, priced: Iterable[Lending]) -> dict[str, Costed]:
    """Give what each member has available apart from loans whose price is to be found."""
    received: dict[str, Costed] = {}
    for each in priced:
        received[each.borrower] = plus(received.get(each.borrower, NOTHING), each.quantity, each.amount)
    return {code: available(tally, received.get(code, NOTHING))[0] for code, tally in tallies.members.items()}
