"""Figures of loans between members: what was passed on, given back, lent anew, and what is open.

Where BIRCH is who passed credits to DOGWOOD on balance, `passed.BIRCH.DOGWOOD.quantity` is that balance of the month.
`open.DOGWOOD.BIRCH` is what DOGWOOD had open from earlier months, reversals of their loans counted, and
`returns.BIRCH.DOGWOOD` what of the balance gives that back; `loans.BIRCH.DOGWOOD` is what is lent anew. `left` is what
stays open or, where the policy settles loans, is settled with them. All four have a quantity and an amount; what a loan
with an agreed price came to is `entries.7.amount`. What lent credits had cost stands with the members, the lender's
price in of_prices.py.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from pool_api.domain.effects import OpenChange
from pool_api.domain.explaining.contributions import Contributions, before, from_entry, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Role, Unit, summed
from pool_api.domain.lending import Open
from pool_api.domain.pool import LoanPrice, LoansAtClose
from pool_api.domain.sheets import Lending, OpenLoan, Sheet

Pair = tuple[str, str]


def passed_on(sheet: Sheet) -> tuple[Lending, ...]:
    """Give all that moved credits between members, in the order that settles ties."""
    return (*sheet.loans_returned, *sheet.loans_settled, *sheet.loans_carried, *sheet.loans_agreed)


def lent_anew(sheet: Sheet) -> tuple[Lending, ...]:
    """Give what pairs of members lent on balance."""
    return (*sheet.loans_settled, *sheet.loans_carried)


def name_of(sheet: Sheet, lending: Lending) -> str:
    """Give the name that the figures of a lending begin with."""
    if lending.entry is not None:
        return f"entries.{lending.entry}"
    kind = "returns" if lending in sheet.loans_returned else "loans"
    return f"{kind}.{lending.lender}.{lending.borrower}"


def quantity_of(figures: Figures, sheet: Sheet, lending: Lending) -> Operand:
    """Give the credits of a lending as an operand."""
    if lending.entry is None:
        return figures.operand(Role.PLUS, f"{name_of(sheet, lending)}.quantity")
    return from_entry(figures, lending.entry, "quantity", lending.quantity, Unit.CREDITS)


def add_loans(figures: Figures, sheet: Sheet, found: Contributions) -> None:
    """Add credits and amounts of all that moved between members, and of what is open."""
    _Open(figures, sheet, found).add()
    _add_passed(figures, sheet, found)
    for each in sheet.loans_returned:
        _add_return(figures, each)
    for each in lent_anew(sheet):
        _add_loan(figures, sheet, each)
    for agreed in sheet.loans_agreed:
        derive = partial(_agreed, figures, agreed)
        name = f"entries.{agreed.entry}.amount"
        figures.add(name, agreed.amount, Unit.MONEY, derive, (agreed.lender, agreed.borrower))
    carries = sheet.policy.loans_at_close is LoansAtClose.CARRY
    for left in (*sheet.open_loans, *sheet.carried_settled):
        sides, value = (left.lender, left.borrower), (left.quantity, left.value or 0)
        derives = (partial(_left, figures, sides, what, carries=carries) for what in ("quantity", "amount"))
        _add_both(figures, f"left.{left.lender}.{left.borrower}", value, derives, sides)


def _add_both(
    figures: Figures, name: str, value: tuple[int, int], derives: Iterable[Callable[[], Derivation]], sides: Pair
) -> None:
    quantity, amount = derives
    figures.add(f"{name}.quantity", value[0], Unit.CREDITS, quantity, sides)
    figures.add(f"{name}.amount", value[1], Unit.MONEY, amount, sides)


@dataclass(frozen=True, slots=True)
class _State:
    """What is open between two members, from the lender to the borrower, with the name of its figures."""

    name: str
    pair: Pair
    quantity: int
    amount: int


class _Open:
    """What earlier months left open between members, and what reversals of their loans and returns change of it."""

    def __init__(self, figures: Figures, sheet: Sheet, found: Contributions) -> None:
        self.figures = figures
        self.changes: dict[Pair, list[tuple[OpenChange, int | None]]] = {}
        left = [
            (OpenChange(each.lender, each.borrower, each.quantity, each.value), None)
            for each in sheet.opening.loans
            if each.value is not None
        ]
        for change, entry in (*left, *found.open_changes):
            pair = (min(change.lender, change.borrower), max(change.lender, change.borrower))
            self.changes.setdefault(pair, []).append((change, entry))

    def add(self) -> None:
        """Add what is open after each change; the last has no number."""
        for pair, changes in self.changes.items():
            open_, state = Open(), None
            for place, (change, entry) in enumerate(changes, start=1):
                sign = 1 if change.lender == pair[0] else -1
                open_ = open_.changed(sign * change.quantity, sign * change.value)
                there = open_.quantity or (state.quantity if state and state.pair == pair else -1 if state else sign)
                way = pair if there > 0 else pair[::-1]
                name = f"open.{way[0]}.{way[1]}" + (f".{place}" if place < len(changes) else "")
                now = _State(name, way, abs(open_.quantity), abs(open_.value))
                derives = (
                    partial(self._quantity, state, now, change, entry),
                    partial(self._amount, state, now, change, entry),
                )
                _add_both(self.figures, name, (now.quantity, now.amount), derives, way)
                state = now

    def _quantity(self, state: _State | None, now: _State, change: OpenChange, entry: int | None) -> Derivation:
        return summed([*self._there(state, now, "quantity"), self._change(now, change, entry, "quantity")])

    def _amount(self, state: _State | None, now: _State, change: OpenChange, entry: int | None) -> Derivation:
        """Give the value after a change: what is taken from a loan takes its value along, as far as there is any; of
        what is taken beyond it, the part of the value that goes with it is open the other way."""
        changed = self._change(now, change, entry, "amount")
        way = 1 if (change.lender, change.borrower) == now.pair else -1
        if state is None or not state.quantity or (state.pair == now.pair and way * change.quantity > 0):
            return summed([*self._there(state, now, "amount"), changed])
        if state.pair == now.pair and now.quantity:
            return Formula.ABOVE_ZERO, (*self._there(state, now, "amount"), changed)
        over = said_by(abs(change.quantity), Unit.CREDITS, entry or 0)
        beyond = self.figures.operand(Role.FACTOR, f"{now.name}.quantity")
        return Formula.ROUNDED, (replace(changed, role=Role.FACTOR), beyond, replace(over, role=Role.DIVISOR))

    def _there(self, state: _State | None, now: _State, what: str) -> list[Operand]:
        if state is None:
            return []
        return [self.figures.operand(Role.PLUS if state.pair == now.pair else Role.MINUS, f"{state.name}.{what}")]

    def _change(self, now: _State, change: OpenChange, entry: int | None, what: str) -> Operand:
        """Give what a change adds to what is open from the one to the other."""
        sign = 1 if (change.lender, change.borrower) == now.pair else -1
        value, unit = (change.quantity, Unit.CREDITS) if what == "quantity" else (change.value, Unit.MONEY)
        if entry is None:
            figure = f"left.{change.lender}.{change.borrower}.{what}"
            found = before(value, unit, figure)
            return found if sign > 0 else found.opposite()
        return from_entry(self.figures, entry, "value" if what == "amount" else what, sign * value, unit)


def _add_passed(figures: Figures, sheet: Sheet, found: Contributions) -> None:
    """Add what was passed on balance by each member to each other."""
    net: dict[Pair, list[Operand]] = {}
    for loan, operand in opening_loans(sheet, found):
        net.setdefault((loan.lender, loan.borrower), []).append(operand)
    for pair, contributions in found.passed.items():
        net.setdefault(pair, []).extend(
            from_entry(figures, each.entry, each.source, each.value, Unit.CREDITS) for each in contributions
        )
    for one, two in sorted({(min(pair), max(pair)) for pair in net}):
        there, back = net.get((one, two), []), net.get((two, one), [])
        balance = _total(there) - _total(back)
        if balance:
            way, added, less = ((one, two), there, back) if balance > 0 else ((two, one), back, there)
            derive = partial(summed, [*added, *(each.opposite() for each in less)])
            figures.add(f"passed.{way[0]}.{way[1]}.quantity", abs(balance), Unit.CREDITS, derive, way)


def opening_loans(sheet: Sheet, found: Contributions) -> Iterator[tuple[OpenLoan, Operand]]:
    """Give the loans of the old books, each with its credits as an operand."""
    for loan in sheet.opening.loans:
        if loan.value is None and found.opening:
            yield loan, said_by(loan.quantity, Unit.CREDITS, found.opening[0])


def _total(operands: Iterable[Operand]) -> int:
    return sum(int(each.value) * (1 if each.role is Role.PLUS else -1) for each in operands)


def _add_return(figures: Figures, back: Lending) -> None:
    sides, name = (back.lender, back.borrower), f"returns.{back.lender}.{back.borrower}"
    open_, passed = f"open.{back.borrower}.{back.lender}", f"passed.{back.lender}.{back.borrower}.quantity"

    def quantity() -> Derivation:
        there = figures.operand(Role.PLUS, passed)
        return summed([there if there.value == back.quantity else figures.operand(Role.PLUS, f"{open_}.quantity")])

    def amount() -> Derivation:
        whole = figures.operand(Role.DIVISOR, f"{open_}.quantity")
        if whole.value == back.quantity:
            return summed([figures.operand(Role.PLUS, f"{open_}.amount")])
        part = figures.operand(Role.FACTOR, f"{name}.quantity")
        return Formula.ROUNDED, (figures.operand(Role.FACTOR, f"{open_}.amount"), part, whole)

    _add_both(figures, name, (back.quantity, back.amount), (quantity, amount), sides)


def _add_loan(figures: Figures, sheet: Sheet, loan: Lending) -> None:
    pair = f"{loan.lender}.{loan.borrower}"

    def quantity() -> Derivation:
        found = [figures.operand(Role.PLUS, f"passed.{pair}.quantity")]
        if f"returns.{pair}.quantity" in figures:
            found.append(figures.operand(Role.MINUS, f"returns.{pair}.quantity"))
        return summed(found)

    def amount() -> Derivation:
        """Credits at their price; where there is none yet, nothing can be settled."""
        if loan.unit_price is None:
            return summed(())
        at_lender = sheet.policy.loan_price is LoanPrice.LENDER
        price = figures.operand(Role.FACTOR, f"lending.{loan.lender}.price" if at_lender else "price")
        return Formula.ROUNDED, (price, figures.operand(Role.FACTOR, f"loans.{pair}.quantity"))

    _add_both(figures, f"loans.{pair}", (loan.quantity, loan.amount), (quantity, amount), (loan.lender, loan.borrower))


def _agreed(figures: Figures, loan: Lending) -> Derivation:
    number = loan.entry or 0
    price = replace(said_by(loan.unit_price or 0, Unit.UNIT_PRICE, number), role=Role.FACTOR)
    quantity = from_entry(figures, number, "quantity", loan.quantity, Unit.CREDITS)
    return Formula.ROUNDED, (price, replace(quantity, role=Role.FACTOR))


def _left(figures: Figures, pair: Pair, what: str, *, carries: bool) -> Derivation:
    """Give what of earlier months' loans is open still, and where loans are carried on, what was lent anew."""
    lender, borrower = pair
    wanted = {f"open.{lender}.{borrower}": Role.PLUS, f"returns.{borrower}.{lender}": Role.MINUS}
    wanted |= {f"loans.{lender}.{borrower}": Role.PLUS} if carries else {}
    names = {f"{name}.{what}": role for name, role in wanted.items()}
    return summed(figures.operand(role, name) for name, role in names.items() if name in figures)
