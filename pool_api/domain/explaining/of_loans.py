"""Figures of loans: what each pair of members had open and settled, `loans.BIRCH.DOGWOOD.amount`, and what a loan with
an agreed price came to, `entries.7.amount`. What lent credits had cost stands with the member that lent them."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from pool_api.domain.entries import OpeningLoan
from pool_api.domain.explaining.contributions import Contributions, before, from_entry, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Role, Unit, summed
from pool_api.domain.sheets import Lending, Sheet


def add_loans(figures: Figures, sheet: Sheet, found: Contributions) -> None:
    """Add credits and amount of each loan that was settled."""
    for each in sheet.loans_settled:
        sides = (each.lender, each.borrower)
        quantity, amount = partial(_open, figures, sheet, found, each), partial(_priced, figures, each)
        figures.add(f"{name_of(each)}.quantity", each.quantity, Unit.CREDITS, quantity, sides)
        figures.add(f"{name_of(each)}.amount", each.amount, Unit.MONEY, amount, sides)
    for each in sheet.loans_agreed:
        figures.add(
            f"{name_of(each)}.amount",
            each.amount,
            Unit.MONEY,
            partial(_priced, figures, each),
            (each.lender, each.borrower),
        )


def name_of(lending: Lending) -> str:
    """Give the name that the figures of a loan begin with: the pair's, or the entry's where it has an agreed price."""
    return f"loans.{lending.lender}.{lending.borrower}" if lending.entry is None else f"entries.{lending.entry}"


def quantity_of(figures: Figures, lending: Lending) -> Operand:
    """Give the credits of a loan as an operand."""
    if lending.entry is None:
        return figures.operand(Role.PLUS, f"{name_of(lending)}.quantity")
    return from_entry(figures, lending.entry, "quantity", lending.quantity, Unit.CREDITS)


def opening_loans(sheet: Sheet, found: Contributions) -> Iterator[tuple[OpeningLoan, Operand]]:
    """Give the loans that the month opened with, each with its credits as an operand: an opening entry's come last."""
    said = found.opening[1].loans if found.opening else ()
    carried = len(sheet.opening.loans) - len(said)
    for place, loan in enumerate(sheet.opening.loans):
        if place < carried or not found.opening:
            figure = f"loans.{loan.lender}.{loan.borrower}.quantity"
            yield loan, before(loan.quantity, Unit.CREDITS, figure)
        else:
            yield loan, said_by(loan.quantity, Unit.CREDITS, found.opening[0])


def _open(figures: Figures, sheet: Sheet, found: Contributions, lending: Lending) -> Derivation:
    """Give what a pair had open over the month, netted: loans and returns in both directions."""
    operands = []
    for pair, sign in (((lending.lender, lending.borrower), 1), ((lending.borrower, lending.lender), -1)):
        for loan, operand in opening_loans(sheet, found):
            if (loan.lender, loan.borrower) == pair:
                operands.append(operand if sign > 0 else replace(operand, role=Role.MINUS))
        operands += [
            from_entry(figures, each.entry, each.source, sign * each.value, Unit.CREDITS)
            for each in found.by_figure.get(f"loans.{pair[0]}.{pair[1]}", ())
        ]
    return summed(operands)


def _priced(figures: Figures, lending: Lending) -> Derivation:
    """Give credits at their price; without any pool price nothing can be settled yet."""
    if lending.unit_price is None:
        return summed(())
    if lending.entry is None:
        price = figures.operand(Role.FACTOR, "price")
    else:
        price = replace(said_by(lending.unit_price, Unit.UNIT_PRICE, lending.entry), role=Role.FACTOR)
    return Formula.ROUNDED, (price, replace(quantity_of(figures, lending), role=Role.FACTOR))
