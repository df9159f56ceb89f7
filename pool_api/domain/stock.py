"""Which entries move the common stock, and how its credits and cost flow through each month.

Promises: a month's flow is a function of the state that the month before left and of the month's movements in their
order; a reversal of an earlier month's entry moves the original amounts. The formulas stand in layers.py. Members'
costs and dues are not known here. Credits are whole credits, costs minor units.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import groupby
from operator import attrgetter
from typing import NamedTuple

from pool_api.domain import values
from pool_api.domain.entries import Body, Draw, Opening, Purchase, Reversal, WriteOff
from pool_api.domain.layers import (
    EMPTY,
    Costed,
    Impossible,
    Layer,
    Movement,
    Passage,
    StockState,
    Way,
    averaged,
    layered,
)
from pool_api.domain.pool import StockCosting
from pool_api.domain.reversals import IN_ORDER, Divisible, Fact, Standing, split
from pool_api.domain.values import Month

MOVING_KINDS = (Opening.kind, Purchase.kind, Draw.kind, WriteOff.kind, Reversal.kind)
"""Kinds that move the stock, or may; replay needs no others."""


class Outflow(NamedTuple):
    """A costed draw or write-off. holder is who took it: a member, or the stock for a write-off; the missing part of
    quantity waits and is not in cost."""

    entry: int
    holder: str
    on: date
    quantity: int
    cost: int
    missing: int = 0


class Shortage(NamedTuple):
    """A spell of days below zero: its first day and the most that was missing."""

    on: date
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StockMonth:
    """The flow of one month. opening includes what an opening entry says; available is all that could leave.

    back and withdrawn are what reversals of earlier months' outflows and purchases moved; late are the parts of earlier
    months' outflows that waited until now; outflows are in the order of (effective_on, number); price is the pool price
    in minor units per credit, None when nothing was available."""

    opening: StockState
    bought: Costed
    back: Costed
    withdrawn: Costed
    available: Costed
    price: Fraction | None
    late: tuple[Outflow, ...]
    outflows: tuple[Outflow, ...]
    closing: StockState
    shortages: tuple[Shortage, ...]
    impossible: tuple[Impossible, ...]


def movement(standing: Standing) -> Movement | None:
    """Give what a standing entry moves in stock, None when it doesn't touch it; an opening sets it, see opened."""
    entry, quantity, amount = standing
    match entry.body:
        case Purchase(into=values.STOCK):
            return Movement(entry.number, entry.number, entry.effective_on, Way.IN, quantity, amount)
        case Draw(member=holder) | WriteOff(holder=values.STOCK as holder):
            return Movement(entry.number, entry.number, entry.effective_on, Way.OUT, quantity, holder=holder)
        case _:
            return None


def undone(reversal: Fact, of: int, body: Body, moved: Costed) -> Movement | None:
    """Give what a reversal of an earlier month's entry moves in stock, None when that doesn't touch it.

    Takes:   of and body, the number and body of the entry reversed; moved, the part of its original amounts."""
    match body:
        case Purchase(into=values.STOCK):
            return Movement(reversal.number, of, reversal.effective_on, Way.WITHDRAWN, *moved)
        case Draw() | WriteOff(holder=values.STOCK):
            return Movement(reversal.number, of, reversal.effective_on, Way.BACK, *moved)
        case _:
            return None


def opened(state: StockState, standing: Iterable[Standing]) -> StockState:
    """Give the state with what the month's opening entry, if it has one, says was in stock."""
    for entry, _, _ in standing:
        if isinstance(entry.body, Opening) and (entry.body.stock_quantity or entry.body.stock_cost):
            layer = Layer(entry.number, entry.body.stock_quantity, entry.body.stock_cost)
            state = StockState(layers=(*state.layers, layer), waiting=state.waiting)
    return state


def flow(month: Month, opening: StockState, movements: Iterable[Movement], costing: StockCosting) -> StockMonth:
    """Cost what leaves the stock in one month.

    Takes:   opening, what the month before left, opened; the month's movements in any order.
    Gives:   the flow; cost in = cost out + closing cost, whatever happens. Where nothing moves, nothing is mixed.
    Refuses: nothing: what is impossible is reported here, and refused where it would be recorded."""
    ordered = sorted(movements, key=attrgetter("on", "entry"))
    sums = {way: _sum(ordered, way) for way in Way}
    owed = sum(each.quantity for each in opening.waiting if each.holder is None)
    gained = [Costed(opening.quantity + sum(each.quantity for each in opening.waiting), opening.cost)]
    gained += [sums[Way.IN], sums[Way.BACK]]
    available = Costed(
        sum(each.quantity for each in gained) - sums[Way.WITHDRAWN].quantity - owed,
        sum(each.cost for each in gained) - sums[Way.WITHDRAWN].cost,
    )
    if not ordered:
        passage = Passage(closing=opening)
    elif costing is StockCosting.MONTH_AVERAGE:
        passage = averaged(opening, ordered, available)
    else:
        passage = layered(opening, ordered, merged=costing is StockCosting.MOVING_AVERAGE)
    late, outflows = _outflows(opening, ordered, passage.costs, passage.closing)
    has_price = available.quantity > 0 and available.cost >= 0
    return StockMonth(
        opening=opening,
        bought=sums[Way.IN],
        back=sums[Way.BACK],
        withdrawn=sums[Way.WITHDRAWN],
        available=available,
        price=Fraction(available.cost, available.quantity) if has_price else None,
        late=late,
        outflows=outflows,
        closing=passage.closing,
        shortages=tuple(spells(((month.first, opening.quantity), *passage.balances))),
        impossible=tuple(passage.impossible),
    )


def replay(entries: Iterable[Fact], costing_of: Callable[[Month], StockCosting]) -> dict[Month, StockMonth]:
    """Fold the stock's movements of all months, each by its own costing.

    Takes:   the entries of a pool's journal from its beginning, in any order.
    Gives:   the flow of each month in which the stock moved, in the order of the months."""
    bodies: dict[int, Body] = {}
    originals: dict[int, Divisible] = {}
    state, found = EMPTY, {}
    for month, monthly in groupby(sorted(entries, key=IN_ORDER), key=lambda entry: Month.of(entry.effective_on)):
        standing, reversals = split(monthly)
        movements = [moved for each in standing if (moved := movement(each))]
        for reversal in reversals:
            if isinstance(reversal.body, Reversal) and (original := originals.get(reversal.body.entry)):
                of, quantity = reversal.body.entry, reversal.body.quantity or 0
                moved = undone(reversal, of, bodies[of], Costed(quantity, original.part(quantity)))
                movements += [moved] if moved else []
                originals[of] = original.without(quantity)
        opening = opened(state, standing)
        if not movements and opening == state:
            continue
        found[month] = flow(month, opening, movements, costing_of(month))
        state = found[month].closing
        originals |= _originals(movements, found[month])
        bodies.update((each.entry.number, each.entry.body) for each in standing if each.entry.number in originals)
    return found


def spells(balances: Iterable[tuple[date, int]]) -> Iterator[Shortage]:
    """Give each spell of days on which a balance, told whenever it changes, is below zero."""
    on: date | None = None
    deepest = 0
    for day, balance in balances:
        if balance < 0:
            on, deepest = on or day, min(deepest, balance)
        elif on is not None:
            yield Shortage(on, -deepest)
            on, deepest = None, 0
    if on is not None:
        yield Shortage(on, -deepest)


def _sum(movements: Sequence[Movement], way: Way) -> Costed:
    of_way = [each for each in movements if each.way is way]
    return Costed(sum(each.quantity for each in of_way), sum(each.cost for each in of_way))


def _outflows(
    opening: StockState, movements: Sequence[Movement], costs: Mapping[int, int], closing: StockState
) -> tuple[tuple[Outflow, ...], tuple[Outflow, ...]]:
    """Give the earlier months' outflows that were costed at last, and the month's own."""
    missing = {each.entry: each.quantity for each in closing.waiting if each.holder is not None}
    late = tuple(
        Outflow(each.entry, each.holder, each.on, served, costs.get(each.entry, 0))
        for each in opening.waiting
        if each.holder is not None and (served := each.quantity - missing.get(each.entry, 0))
    )
    own = tuple(
        Outflow(each.entry, each.holder, each.on, each.quantity, costs[each.entry], missing.get(each.entry, 0))
        for each in movements
        if each.holder is not None
    )
    return late, own


def _originals(movements: Iterable[Movement], flowed: StockMonth) -> dict[int, Divisible]:
    """Give, by entry, the credits and cost that reversals in later months take their parts of."""
    found = {
        each.entry: Divisible(quantity=each.quantity, amount=each.cost) for each in movements if each.way is Way.IN
    }
    found |= {each.entry: Divisible(quantity=each.quantity, amount=each.cost) for each in flowed.outflows}
    return found
