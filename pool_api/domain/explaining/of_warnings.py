"""Figures of warnings: `warnings.1.size` is how many credits the sheet's first warning says were missing at the worst,
or the cost that a reversal left the stock with."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from typing import NamedTuple

from pool_api.domain.explaining.contributions import Contributions, Move, from_entry, handed_on, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Operand, Role, Unit, summed
from pool_api.domain.layers import Act, Step
from pool_api.domain.pool import StockCosting
from pool_api.domain.sheets import Sheet, SheetWarning
from pool_api.domain.values import STOCK


class _Balance(NamedTuple):
    """A balance of credits once so many moves are done, on a day."""

    on: date
    credits: int
    moves: int


def add_warnings(figures: Figures, sheet: Sheet, found: Contributions, steps: Sequence[Step]) -> None:
    """Add the size of each warning. steps are those of a costing with layers, none of the month average."""
    for place, warning in enumerate(sheet.warnings, start=1):
        name, sides = f"warnings.{place}.size", () if warning.holder == STOCK else (warning.holder,)
        if warning.rule == "below_zero":
            derive = partial(_missing, figures, sheet, found, warning)
            figures.add(name, warning.size, Unit.CREDITS, derive, sides)
        else:
            derive = partial(_impossible, figures, sheet, found, warning, steps)
            figures.add(name, warning.size, Unit.MONEY, derive, sides)


def _missing(figures: Figures, sheet: Sheet, found: Contributions, warning: SheetWarning) -> Derivation:
    """Give what was passed on until the worst day, or movement, less what had come in."""
    if warning.holder == STOCK:
        opening: list[Operand] = [figures.operand(Role.PLUS, "stock.opening.quantity")]
        moves = [Move(each.on, each.entry, each.way.sign * each.quantity) for each in found.movements]
    else:
        figure = f"members.{warning.holder}.closing.quantity"
        opening = handed_on(sheet, found, warning.holder, "held", figure)
        moves = found.moves.get(warning.holder, [])
    moves = sorted(moves)
    by_day = warning.holder != STOCK or sheet.policy.stock_costing is StockCosting.MONTH_AVERAGE
    balances = _balances(sheet.month.first, sum(int(each.value) for each in opening), moves, by_day=by_day)
    worst = next(each for each in balances if each.on >= warning.on and each.credits == -warning.size)
    done = (from_entry(figures, each.entry, "quantity", -each.change, Unit.CREDITS) for each in moves[: worst.moves])
    return summed([*(replace(each, role=Role.MINUS) for each in opening), *done])


def _balances(first: date, credits: int, moves: Sequence[Move], *, by_day: bool) -> Iterable[_Balance]:
    yield _Balance(first, credits, 0)
    for done, move in enumerate(moves, start=1):
        credits += move.change
        if not by_day or done == len(moves) or moves[done].on != move.on:
            yield _Balance(move.on, credits, done)


def _impossible(
    figures: Figures, sheet: Sheet, found: Contributions, warning: SheetWarning, steps: Sequence[Step]
) -> Derivation:
    """Give the cost of all that was available, or what the movements up to a reversal made of the stock's cost."""
    if not steps:
        return summed([figures.operand(Role.PLUS, "stock.available.cost")])
    of = next(each for each in sheet.stock.impossible if (each.on, each.cost) == (warning.on, warning.size)).entry
    undone = [
        each.reversal.number for each in found.undoings if each.of == of and each.reversal.effective_on == warning.on
    ]
    last = max(at for at, step in enumerate(steps) if step.entry in undone)
    changes: dict[int, int] = {}
    for step in steps[: last + 1]:
        moved_within = step.act is Act.PUT and step.layer != step.entry
        if step.entry is not None and not moved_within:
            changes[step.entry] = changes.get(step.entry, 0) + step.cost
    done = (said_by(change, Unit.MONEY, entry) for entry, change in changes.items())
    return summed([figures.operand(Role.PLUS, "stock.opening.cost"), *done])
