"""How cost leaves the stock: the formulas of the three stock costings, on layers of credits with their cost.

Promises: whatever cost comes in goes out with the credits or stays with them, to the minor unit.

Moving average and first-in first-out are one algorithm: layers are taken from the front, and the moving average keeps
them merged into one. First in, first out a part of a layer is a part of what the layer was when it was made; the merged
layer is made anew by whatever it takes in or gives away. Where entries were dated late, an outflow may find too little:
its missing part waits and is costed by the next inflow, in order. Under the month average it waits only when the whole
month has too little.

Sources: IAS 2, paragraph 25 (the formulas allowed) and 27 (per period, or as each shipment is received); the rules for
what an earlier month's reversal moves are own rules. Credits are whole credits, costs minor units. Which entries move
the stock is known in stock.py.
"""

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import Enum, auto
from itertools import groupby
from typing import NamedTuple

from pool_api.domain.reversals import Divisible
from pool_api.domain.values import apportion


class Costed(NamedTuple):
    """Credits together with their cost."""

    quantity: int = 0
    cost: int = 0


NOTHING = Costed()
"""No credits, no cost."""


class Layer(NamedTuple):
    """Credits in stock with their cost; entry is the one that brought them, None where several are mixed. gone are
    credits taken of the layer since it was made, gone_cost what they cost."""

    entry: int | None
    quantity: int
    cost: int
    gone: int = 0
    gone_cost: int = 0

    @property
    def made(self) -> Costed:
        """The layer as it was made."""
        return Costed(self.quantity + self.gone, self.cost + self.gone_cost)

    def part(self, quantity: int) -> int:
        """Give the cost of some of its credits: their part of the layer as it was made, as Divisible has it, so that
        rounding up again and again never takes more than is left; the last credit takes the rest."""
        made, cost = self.made
        return Divisible(quantity=made, amount=cost, gone=self.gone, gone_amount=self.gone_cost).part(quantity)

    def without(self, quantity: int, cost: int) -> "Layer":
        """Give what is left of it once some credits and their cost are taken."""
        return Layer(
            self.entry, self.quantity - quantity, self.cost - cost, self.gone + quantity, self.gone_cost + cost
        )


class Waiting(NamedTuple):
    """Credits that left before the stock had them. holder is who took them (a member, or the stock for a write-off);
    None for a purchase taken back, whose cost is fixed, so that nothing is left to cost."""

    entry: int
    holder: str | None
    on: date
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StockState:
    """What one month hands to the next: layers, oldest first, and outflows that wait for credits."""

    layers: tuple[Layer, ...] = ()
    waiting: tuple[Waiting, ...] = ()

    @property
    def quantity(self) -> int:
        """Credits in stock; below zero when more is waiting than there is."""
        return sum(layer.quantity for layer in self.layers) - sum(each.quantity for each in self.waiting)

    @property
    def cost(self) -> int:
        """The cost of the stock."""
        return sum(layer.cost for layer in self.layers)


EMPTY = StockState()
"""A stock that never had anything."""


class Way(Enum):
    """How a movement touches the stock."""

    IN = auto()
    """bought: a new layer at what was paid"""
    BACK = auto()
    """a draw or write-off of an earlier month undone: a layer in front, at the cost at which it left"""
    OUT = auto()
    """drawn or written off, at a cost to be found"""
    WITHDRAWN = auto()
    """a purchase of an earlier month undone: leaves at what was paid"""

    @property
    def sign(self) -> int:
        """What the movement does to the credits in stock."""
        return 1 if self in (Way.IN, Way.BACK) else -1


class Movement(NamedTuple):
    """One movement of the stock. of is the entry whose credits move: the entry itself, or the one it reverses; holder
    is who takes an outflow, whose cost is to be found."""

    entry: int
    of: int
    on: date
    way: Way
    quantity: int
    cost: int = 0
    holder: str | None = None


class Impossible(NamedTuple):
    """A reversal that leaves the stock with cost but no credits, or at a cost below zero."""

    entry: int
    quantity: int
    on: date
    credits: int
    cost: int


class Act(Enum):
    """How a movement changes a layer: put into it, taken from it, or cost alone that falls on what remains."""

    PUT = auto()
    TAKEN = auto()
    SPREAD = auto()


class Step(NamedTuple):
    """What one movement did to one layer. layer is the entry that brought it, None for a mixed one; entry is the
    movement, None for what the stock opened with; of is the layer as it was made, where something is taken of it."""

    act: Act
    layer: int | None
    entry: int | None
    quantity: int
    cost: int
    of: Costed = NOTHING


@dataclass(slots=True)
class Passage:
    """What a formula finds: costs by outflow's entry, the closing state, the stock's balance as it changes over the
    days, and what is impossible. steps, of formulas with layers, are in order and add up to what each layer holds."""

    costs: dict[int, int] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)
    closing: StockState = EMPTY
    balances: list[tuple[date, int]] = field(default_factory=list)
    impossible: list[Impossible] = field(default_factory=list)


def covered(quantities: Iterable[int], supply: int) -> list[int]:
    """Give how much of each quantity, in order, a supply of credits covers."""
    found = []
    for quantity in quantities:
        found.append(min(quantity, supply))
        supply -= found[-1]
    return found


def averaged(opening: StockState, movements: Sequence[Movement], available: Costed) -> Passage:
    """Cost a month's outflows at one average: all that was available, apportioned over them and what is left.

    Takes:   opening; movements in the order of (effective_on, number); available, all that could leave."""
    passage = Passage()
    wants: list[Waiting | Movement] = [each for each in opening.waiting if each.holder is not None]
    wants += [each for each in movements if each.way is Way.OUT]
    supply = max(available.quantity, 0)
    served = covered((each.quantity for each in wants), supply)
    rest = supply - sum(served)
    parts = apportion(available.cost, [*served, rest]) if supply else (*(0 for _ in wants), available.cost)
    passage.costs = {each.entry: part for each, part in zip(wants, parts, strict=False)}
    missing = ((each, each.quantity - there) for each, there in zip(wants, served, strict=True))
    waiting = [Waiting(each.entry, each.holder, each.on, quantity) for each, quantity in missing if quantity]
    withdrawn = [each for each in movements if each.way is Way.WITHDRAWN]
    if available.quantity < 0:
        last = Waiting(withdrawn[-1].of, None, withdrawn[-1].on, 0) if withdrawn else opening.waiting[0]
        waiting.insert(0, last._replace(holder=None, quantity=-available.quantity))
    passage.closing = StockState(
        layers=(Layer(None, rest, parts[-1]),) if rest or parts[-1] else (),
        waiting=tuple(waiting),
    )
    passage.balances = list(_day_ends(opening.quantity, movements))
    if withdrawn and _is_impossible(supply, available.cost):
        last_out = withdrawn[-1]
        passage.impossible.append(Impossible(last_out.of, last_out.quantity, last_out.on, supply, available.cost))
    return passage


def layered(opening: StockState, movements: Sequence[Movement], *, merged: bool) -> Passage:
    """Cost outflows one by one from layers: merged into one (moving average) or the oldest first.

    Takes:   opening; movements in the order of (effective_on, number)."""
    pile = _Pile(opening, merged=merged)
    for each in movements:
        match each.way:
            case Way.IN | Way.BACK:
                pile.receive(each)
            case Way.OUT:
                pile.release(Waiting(each.entry, each.holder, each.on, each.quantity))
            case Way.WITHDRAWN:
                pile.withdraw(each)
        pile.passage.balances.append((each.on, -pile.owed))
    pile.passage.closing = StockState(layers=tuple(pile.layers), waiting=tuple(pile.waiting))
    return pile.passage


def _is_impossible(credits_left: int, cost: int) -> bool:
    return cost < 0 or (cost != 0 and credits_left == 0)


def _day_ends(balance: int, movements: Iterable[Movement]) -> Iterator[tuple[date, int]]:
    for day, moved in groupby(movements, key=lambda each: each.on):
        balance += sum(each.way.sign * each.quantity for each in moved)
        yield day, balance


class _Pile:
    """Layers, oldest first, and what waits for credits. Cost may stand without credits, in a layer of none, until the
    next credits leave from there: it is never lost."""

    def __init__(self, opening: StockState, *, merged: bool) -> None:
        self.merged = merged
        self.layers: deque[Layer] = deque()
        self.waiting: deque[Waiting] = deque(opening.waiting)
        self.owed = sum(each.quantity for each in opening.waiting)
        self.passage = Passage()
        for layer in opening.layers:
            self._put(layer)
            self.passage.steps.append(Step(Act.PUT, self._name(layer), None, layer.quantity, layer.cost))

    def receive(self, inflow: Movement) -> None:
        """Serve what waits from an inflow, in order, and keep the rest."""
        layer = Layer(inflow.entry, inflow.quantity, inflow.cost)
        self.passage.steps.append(Step(Act.PUT, inflow.entry, inflow.entry, layer.quantity, layer.cost))
        while self.waiting and layer.quantity:
            waiting = self.waiting.popleft()
            served = min(waiting.quantity, layer.quantity)
            self.owed -= served
            cost = 0
            if waiting.holder is not None:
                cost = layer.part(served)
                self._book(waiting.entry, cost)
            self.passage.steps.append(Step(Act.TAKEN, inflow.entry, waiting.entry, -served, -cost, layer.made))
            layer = self._left(layer, served, cost)
            if waiting.quantity > served:
                self.waiting.appendleft(waiting._replace(quantity=waiting.quantity - served))
        if layer.quantity or layer.cost:
            self._put(layer, front=inflow.way is Way.BACK)
            if self.merged:
                self.passage.steps.append(Step(Act.PUT, None, inflow.entry, layer.quantity, layer.cost))

    def release(self, outflow: Waiting) -> None:
        """Cost an outflow; what isn't there waits."""
        cost, missing = self._take(outflow.quantity, outflow.entry)
        self._book(outflow.entry, cost)
        self._wait(outflow._replace(quantity=missing))

    def withdraw(self, outflow: Movement) -> None:
        """Take credits at a fixed cost: from their own layer first, then the oldest. Whatever that cost differs from
        theirs falls on what remains."""
        at = 0 if self.merged else next((at for at, layer in enumerate(self.layers) if layer.entry == outflow.of), None)
        cost, quantity, kept = 0, outflow.quantity, 0
        if at is not None and at < len(self.layers):
            own = self.layers[at]
            taken = min(quantity, own.quantity)
            cost, quantity, kept = own.part(taken), quantity - taken, own.quantity - taken
            self.passage.steps.append(Step(Act.TAKEN, self._name(own), outflow.entry, -taken, -cost, own.made))
            self.layers[at] = self._left(own, taken, cost)
            if not kept:
                del self.layers[at]
        oldest, missing = self._take(quantity, outflow.entry)
        self._wait(Waiting(outflow.of, None, outflow.on, missing))
        self._spread(cost + oldest - outflow.cost, at if at is not None and kept else 0, outflow.entry)
        left, left_cost = sum(layer.quantity for layer in self.layers), sum(layer.cost for layer in self.layers)
        if _is_impossible(left, left_cost):
            found = Impossible(outflow.of, outflow.quantity, outflow.on, left, left_cost)
            self.passage.impossible.append(found)

    def _put(self, layer: Layer, *, front: bool = False) -> None:
        if self.merged:
            there = self.layers.pop() if self.layers else None
            quantity, cost = (there.quantity, there.cost) if there else NOTHING
            self.layers.append(Layer(None if there else layer.entry, quantity + layer.quantity, cost + layer.cost))
        elif front:
            self.layers.appendleft(layer)
        else:
            self.layers.append(layer)

    def _name(self, layer: Layer) -> int | None:
        return None if self.merged else layer.entry

    def _left(self, layer: Layer, quantity: int, cost: int) -> Layer:
        """Give what is left of a layer; what is mixed with whatever comes is made anew."""
        left = layer.without(quantity, cost)
        return Layer(left.entry, left.quantity, left.cost) if self.merged else left

    def _take(self, quantity: int, entry: int) -> tuple[int, int]:
        """Give the cost of credits that an entry takes from the front and how many of them are missing."""
        cost = 0
        while quantity and self.layers:
            layer = self.layers.popleft()
            taken = min(layer.quantity, quantity)
            part = layer.part(taken)
            cost, quantity = cost + part, quantity - taken
            self.passage.steps.append(Step(Act.TAKEN, self._name(layer), entry, -taken, -part, layer.made))
            if taken < layer.quantity:
                self.layers.appendleft(self._left(layer, taken, part))
        return cost, quantity

    def _book(self, entry: int, cost: int) -> None:
        self.passage.costs[entry] = self.passage.costs.get(entry, 0) + cost

    def _wait(self, waiting: Waiting) -> None:
        if waiting.quantity:
            self.waiting.append(waiting)
            self.owed += waiting.quantity

    def _spread(self, difference: int, first: int, entry: int) -> None:
        """Add a difference of cost to what remains: the layer at first, or from there on as far as none falls below
        zero; to the layer at first anyway when all of them together can't bear it. What it falls on is made anew."""
        if difference and not self.layers:
            self.layers.append(Layer(None, 0, 0))
        for at in (first, *(at for at in range(len(self.layers)) if at != first)) if difference else ():
            step = difference if difference > 0 else max(difference, -max(self.layers[at].cost, 0))
            self._add(at, step, entry)
            difference -= step
            if not difference:
                return
        if difference:
            self._add(first, difference, entry)

    def _add(self, at: int, cost: int, entry: int) -> None:
        layer = self.layers[at]
        if cost:
            self.layers[at] = Layer(layer.entry, layer.quantity, layer.cost + cost)
            self.passage.steps.append(Step(Act.SPREAD, self._name(layer), entry, 0, cost))
