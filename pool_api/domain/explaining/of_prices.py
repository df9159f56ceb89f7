"""Figures of the lender's price: each lender's unit cost is one of the month's simultaneous equations.

`lending.BIRCH.price` is `lending.BIRCH.cost` over `lending.BIRCH.quantity`: what BIRCH has of its own, and what was
lent to it at the prices of those who lent it, `lending.ALDER.BIRCH.cost`. Their prices may rest on BIRCH's in turn; all
fit each other exactly, nothing is rounded. The costs here are exact fractions of minor units.
"""

from functools import partial

from pool_api.domain.blending import available
from pool_api.domain.effects import Tally
from pool_api.domain.explaining.contributions import Contributions
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Role, Unit, summed
from pool_api.domain.explaining.of_loans import lent_anew, name_of, quantity_of
from pool_api.domain.layers import Costed
from pool_api.domain.pool import LoanPrice
from pool_api.domain.sheets import Lending, Sheet

_OWN = ("opening", "draws", "purchases", "outside_in", "reversals_in")


def add_prices(figures: Figures, sheet: Sheet, found: Contributions) -> None:
    """Add the equation of each lender that credits reach from a supply, where loans are at the lender's price."""
    if sheet.policy.loan_price is not LoanPrice.LENDER:
        return
    prices = {each.lender: each.unit_price for each in lent_anew(sheet) if each.unit_price is not None}
    for code, price in prices.items():
        own, bears = _own(sheet, found, code)
        lent = [each for each in lent_anew(sheet) if each.borrower == code]
        name = f"lending.{code}"
        quantity = own.quantity + sum(each.quantity for each in lent)
        for what, value, unit in (("quantity", own.quantity, Unit.CREDITS), ("cost", own.cost, Unit.MONEY)):
            derive = partial(_own_derived, figures, sheet, found, code, what, bears=bears)
            figures.add(f"{name}.own.{what}", value, unit, derive, (code,))
        for each in lent:
            if each.lender in prices:
                lent_cost = prices[each.lender] * each.quantity
                derive = partial(_lent_cost, figures, each)
                figures.add(f"lending.{each.lender}.{code}.cost", lent_cost, Unit.MONEY, derive, (each.lender, code))
        figures.add(f"{name}.quantity", quantity, Unit.CREDITS, partial(_quantity, figures, code, lent), (code,))
        figures.add(f"{name}.cost", price * quantity, Unit.MONEY, partial(_cost, figures, code, lent), (code,))
        figures.add(f"{name}.price", price, Unit.UNIT_PRICE, partial(_price, figures, name), (code,))


def _received(sheet: Sheet, code: str) -> list[Lending]:
    """Give what a member received whose price needn't be found."""
    return [each for each in (*sheet.loans_returned, *sheet.loans_agreed) if each.borrower == code]


def _back(found: Contributions, code: str) -> Costed:
    """Give what reversals take back of a member."""
    parts = (found.by_figure.get(f"members.{code}.reversals_out.{what}", ()) for what in ("quantity", "cost"))
    return Costed(*(sum(each.value for each in part) for part in parts))


def _own(sheet: Sheet, found: Contributions, code: str) -> tuple[Costed, bool]:
    """Give what a member has apart from loans whose price is to be found, and whether that bears what reversals take
    back."""
    member = next(each for each in sheet.members if each.member == code)
    back = _back(found, code)
    tally = Tally(**{part: getattr(member, part) for part in _OWN}, reversals_out=back)
    received = _received(sheet, code)
    loans = Costed(sum(each.quantity for each in received), sum(each.amount for each in received))
    own, taken = available(tally, loans)
    return own, taken == back


def _own_derived(
    figures: Figures, sheet: Sheet, found: Contributions, code: str, what: str, *, bears: bool
) -> Derivation:
    name, unit = f"members.{code}", Unit.CREDITS if what == "quantity" else Unit.MONEY
    operands = [figures.operand(Role.PLUS, f"{name}.{part}.{what}") for part in _OWN]
    if what == "quantity" and operands[0].value < 0:
        del operands[0]
    for each in _received(sheet, code):
        amount = figures.operand(Role.PLUS, f"{name_of(sheet, each)}.amount")
        operands.append(quantity_of(figures, sheet, each) if what == "quantity" else amount)
    back = found.operands(f"{name}.reversals_out.{what}", figures, unit) if bears else ()
    return summed([*operands, *(each.opposite() for each in back)])


def _lent_cost(figures: Figures, loan: Lending) -> Derivation:
    price = figures.operand(Role.FACTOR, f"lending.{loan.lender}.price")
    return Formula.RATIO, (price, figures.operand(Role.FACTOR, f"loans.{loan.lender}.{loan.borrower}.quantity"))


def _quantity(figures: Figures, code: str, lent: list[Lending]) -> Derivation:
    came = (figures.operand(Role.PLUS, f"loans.{each.lender}.{code}.quantity") for each in lent)
    return summed([figures.operand(Role.PLUS, f"lending.{code}.own.quantity"), *came])


def _cost(figures: Figures, code: str, lent: list[Lending]) -> Derivation:
    names = (f"lending.{each.lender}.{code}.cost" for each in lent)
    came = (figures.operand(Role.PLUS, name) for name in names if name in figures)
    return summed([figures.operand(Role.PLUS, f"lending.{code}.own.cost"), *came])


def _price(figures: Figures, name: str) -> Derivation:
    cost, quantity = figures.operand(Role.FACTOR, f"{name}.cost"), figures.operand(Role.DIVISOR, f"{name}.quantity")
    return Formula.RATIO, (cost, quantity)
