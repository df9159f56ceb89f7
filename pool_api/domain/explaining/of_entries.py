"""Figures of single entries: what reversals leave of them, and which part of an earlier month's entry is undone.

What left the stock or a member by an entry has a cost too: that is explained with the stock and the members.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

from pool_api.domain.entries import Reversal, parties, quantity_of
from pool_api.domain.explaining.contributions import Contributions, Undoing, said_by
from pool_api.domain.explaining.figures import Apportionment, Derivation, Figures, Formula, Role, Unit, signed, summed
from pool_api.domain.reversals import Divisible, Fact
from pool_api.domain.values import half_up


def add_entries(figures: Figures, entries: Sequence[Fact], found: Contributions) -> None:
    """Add the quantity and the amount of each entry that was reversed in its own month, and what each reversal takes:
    value, what was owed for it; cost, what it had cost where it left; shares, who bears it."""
    by_number = {each.number: each for each in entries}
    taken: dict[int, list[Fact]] = {}
    for each in sorted(entries, key=lambda entry: (entry.effective_on, entry.number)):
        if isinstance(each.body, Reversal) and each.body.entry in by_number:
            taken.setdefault(each.body.entry, []).append(each)
    for number, reversals in taken.items():
        _add_shrunk(figures, by_number[number], reversals)
    for undoing in found.undoings:
        _add_undoing(figures, undoing)


def _add_shrunk(figures: Figures, entry: Fact, reversals: list[Fact]) -> None:
    quantity, amount = quantity_of(entry.body), getattr(entry.body, "amount", 0)
    left, sides = Divisible(quantity=quantity or 1, amount=amount), parties(entry.body)
    backs = []
    for each in reversals:
        back = each.body.quantity or 1 if isinstance(each.body, Reversal) else 0
        backs.append(said_by(-back, Unit.CREDITS, each.number))
        if amount:
            derive = partial(_part, left, back, entry.number, each.number)
            figures.add(f"entries.{each.number}.value", left.part(back), Unit.MONEY, derive, sides)
        left = left.without(back)
    name = f"entries.{entry.number}"
    if quantity:
        operands = [said_by(quantity, Unit.CREDITS, entry.number), *map(signed, backs)]
        figures.add(f"{name}.quantity", left.left, Unit.CREDITS, lambda: summed(operands), sides)
    if amount:
        figures.add(
            f"{name}.amount",
            left.left_amount,
            Unit.MONEY,
            partial(_what_is_left, figures, entry, amount, reversals),
            sides,
        )


def _what_is_left(figures: Figures, entry: Fact, amount: int, reversals: list[Fact]) -> Derivation:
    taken = (figures.operand(Role.MINUS, f"entries.{each.number}.value", each.number) for each in reversals)
    return summed([said_by(amount, Unit.MONEY, entry.number), *taken])


def _add_undoing(figures: Figures, undoing: Undoing) -> None:
    number, original = undoing.reversal.number, undoing.original
    sides = parties(original.body)
    for source, whole, part in (
        ("value", original.value, undoing.part.value),
        ("cost", original.cost, undoing.part.cost),
    ):
        derive = partial(_part, whole, undoing.quantity, undoing.of, number)
        figures.add(f"entries.{number}.{source}", part, Unit.MONEY, derive, sides)
    weights = [abs(share) for share in original.shares.values()]
    apportionment = Apportionment(undoing.part.cost, weights)
    for at, (member, share) in enumerate(undoing.part.shares.items() if any(weights) else ()):
        derive = partial(_share, figures, apportionment, at, undoing, weights)
        figures.add(f"entries.{number}.shares.{member}", share, Unit.MONEY, derive, (member,))


def _part(whole: Divisible, quantity: int, of: int, reversal: int) -> Derivation:
    """Give how the part of an amount that goes with a reversed quantity comes about: pro rata, or what is left."""
    exact = Fraction(whole.amount * quantity, whole.quantity)
    amount = said_by(whole.amount, Unit.MONEY, of)
    if quantity == whole.left or half_up(exact) != whole.part(quantity):
        return summed([amount, signed(said_by(-whole.gone_amount, Unit.MONEY, of, name="taken back before"))])
    credits = said_by(quantity, Unit.CREDITS, reversal)
    over = said_by(whole.quantity, Unit.CREDITS, of)
    return Formula.ROUNDED, (
        replace(amount, role=Role.FACTOR),
        replace(credits, role=Role.FACTOR),
        replace(over, role=Role.DIVISOR),
    )


def _share(figures: Figures, apportionment: Apportionment, at: int, undoing: Undoing, weights: list[int]) -> Derivation:
    total = figures.operand(Role.TOTAL, f"entries.{undoing.reversal.number}.cost", undoing.reversal.number)
    weight = replace(said_by(weights[at], Unit.MONEY, undoing.of, name="its share then"), role=Role.WEIGHT)
    whole = replace(said_by(sum(weights), Unit.MONEY, undoing.of, name="all shares then"), role=Role.WEIGHTS)
    return apportionment.part(at, total, weight, whole)
