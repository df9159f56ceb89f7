"""Figures of the layers that outflows are taken from under moving average and first-in first-out.

`layers.8.3.cost` is what the third movement of the layer that entry 8 brought found in it; `mixed` stands for the one
layer of the moving average. So every layer goes back, movement by movement, to what was paid, and an outflow takes its
part of the layer as it was made: as it came, or as cost that fell on it left it. What an outflow takes from several
layers is in parts, `entries.4.parts.1.cost`; what a purchase taken back took from layers is too, and what that differs
from its own cost is spread over what remained. Credits are whole credits, costs minor units.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import pairwise

from pool_api.domain.explaining.contributions import Contributions, before, cost_of, from_entry, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Role, Unit, signed, summed
from pool_api.domain.layers import Act, Costed, Step, Way
from pool_api.domain.stock import Outflow
from pool_api.domain.values import half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class _Moved:
    """A step with what it found in its layer: how much, and the name of the figures that say so; made is the name of
    those that say how the layer was made, None where that was in an earlier month."""

    step: Step
    there: Costed
    name: str
    made: str | None = None


class _Trail:
    """The steps of one month, by layer and by the entry that took or spread something."""

    def __init__(
        self, steps: Sequence[Step], outflows: Sequence[Outflow], figures: Figures, found: Contributions
    ) -> None:
        self.figures = figures
        self.costed = {each.entry for each in outflows}
        self.opening = found.opening[0] if found.opening else None
        self.fixed = {each.entry: each for each in found.movements if each.way is not Way.OUT}
        self.chains: dict[str, list[_Moved]] = {}
        self.taken: dict[int, list[_Moved]] = {}
        self.spread: dict[int, list[_Moved]] = {}
        self.left: dict[str, Costed] = {}
        self.made: dict[str, tuple[str, Costed]] = {}
        for step in steps:
            self._note(step)

    def _note(self, step: Step) -> None:
        layer = "mixed" if step.layer is None else str(step.layer)
        there, chain = self.left.get(layer, Costed()), self.chains.setdefault(layer, [])
        name = f"layers.{layer}.{len(chain) + 1}"
        if step.of == there:
            self.made[layer] = name, there
        made, as_made = self.made.get(layer, (name, there))
        moved = _Moved(step=step, there=there, name=name, made=made if step.of == as_made else None)
        chain.append(moved)
        self.left[layer] = Costed(there.quantity + step.quantity, there.cost + step.cost)
        if step.entry in self.costed or step.entry in self.fixed:
            if step.act is Act.TAKEN:
                self.taken.setdefault(step.entry, []).append(moved)
            elif step.act is Act.SPREAD:
                self.spread.setdefault(step.entry, []).append(moved)

    def names(self, entry: int) -> list[str]:
        """Give the figures of what an entry took, in order: its cost alone where it is an outflow from one layer."""
        parts = len(self.taken.get(entry, ()))
        if entry in self.costed and parts == 1:
            return [f"entries.{entry}.cost"]
        return [f"entries.{entry}.parts.{place}.cost" for place in range(1, parts + 1)]

    def made_of(self, part: _Moved) -> tuple[Operand, Operand]:
        """Give cost and quantity of the layer, as it was made, of which a part was taken."""
        if part.made is not None:
            figure = partial(self.figures.operand, Role.PLUS)
            return figure(f"{part.made}.cost"), figure(f"{part.made}.quantity")
        name, (quantity, cost) = "a layer of the stock as it was made", part.step.of
        return before(cost, Unit.MONEY, None, name), before(quantity, Unit.CREDITS, None, name)

    def change(self, moved: _Moved, what: str) -> Operand:
        """Give what a step changed in its layer, quantity or cost, as an operand."""
        step, figures = moved.step, self.figures
        value, unit = (step.quantity, Unit.CREDITS) if what == "quantity" else (step.cost, Unit.MONEY)
        if step.entry is None:
            stays = step.layer is not None and step.layer == self.opening
            return said_by(value, unit, step.layer or 0) if stays else before(value, unit, None, "a layer of the stock")
        if step.act is Act.PUT:
            return self._put(moved, step.entry, what)
        if what == "quantity" or (step.entry not in self.taken and step.entry not in self.spread):
            return signed(said_by(value, unit, step.entry))
        if step.act is Act.TAKEN:
            return figures.operand(Role.MINUS, self.names(step.entry)[self.taken[step.entry].index(moved)], step.entry)
        place = self.spread[step.entry].index(moved) + 1
        return figures.operand(Role.PLUS, f"entries.{step.entry}.spread.{place}.cost", step.entry)

    def _put(self, moved: _Moved, entry: int, what: str) -> Operand:
        """Give what came in: all of it, or what earlier outflows that had waited left of it."""
        own = self.chains[str(entry)]
        if moved.step.layer != entry and len(own) > 1:
            return self.figures.operand(Role.PLUS, f"layers.{entry}.{len(own) + 1}.{what}", entry)
        inflow = self.fixed[entry]
        if what == "quantity":
            return from_entry(self.figures, entry, "quantity", inflow.quantity, Unit.CREDITS)
        return cost_of(self.figures, inflow)


def add_layers(figures: Figures, steps: Sequence[Step], outflows: Sequence[Outflow], found: Contributions) -> None:
    """Add the cost of each outflow, and the layers with all that happened to them."""
    trail = _Trail(steps, outflows, figures, found)
    for layer, chain in trail.chains.items():
        after = _Moved(step=chain[-1].step, there=trail.left[layer], name=f"layers.{layer}.{len(chain) + 1}")
        for earlier, here in pairwise([*chain, after]):
            quantity, cost = (partial(_state, trail, earlier, what) for what in ("quantity", "cost"))
            figures.add_costed(here.name, here.there, quantity, cost)
    for outflow in outflows:
        derive_cost = partial(_cost, trail, outflow.entry)
        sides = found.sides.get(outflow.entry, (outflow.holder,))
        figures.add(f"entries.{outflow.entry}.cost", outflow.cost, Unit.MONEY, derive_cost, sides)
    for entry, parts in trail.taken.items():
        for name, part in zip(trail.names(entry), parts, strict=True):
            if name not in figures:
                figures.add(name, -part.step.cost, Unit.MONEY, partial(_taken, trail, part), found.sides.get(entry, ()))
    for entry, parts in trail.spread.items():
        for place, part in enumerate(parts, start=1):
            name = f"entries.{entry}.spread.{place}.cost"
            figures.add(name, part.step.cost, Unit.MONEY, partial(_spread, trail, part), found.sides.get(entry, ()))


def _state(trail: _Trail, earlier: _Moved, what: str) -> Derivation:
    """Give a layer after a step: what the step found, and what it changed."""
    first = earlier.name.endswith(".1")
    there = [] if first else [trail.figures.operand(Role.PLUS, f"{earlier.name}.{what}")]
    return summed([*there, trail.change(earlier, what)])


def _cost(trail: _Trail, entry: int) -> Derivation:
    parts = trail.taken.get(entry, [])
    if len(parts) == 1:
        return _taken(trail, parts[0])
    return summed(trail.figures.operand(Role.PLUS, name, entry) for name in trail.names(entry))


def _taken(trail: _Trail, part: _Moved) -> Derivation:
    """Give the cost of what was taken of a layer: its part of the layer as it was made, half up, or all that is
    there."""
    taken, made = -part.step.quantity, part.step.of
    if taken == part.there.quantity or half_up(Fraction(made.cost * taken, made.quantity)) != -part.step.cost:
        return summed([trail.figures.operand(Role.PLUS, f"{part.name}.cost")])
    cost, quantity = trail.made_of(part)
    factor = replace(said_by(taken, Unit.CREDITS, part.step.entry or 0), role=Role.FACTOR)
    return Formula.ROUNDED, (replace(cost, role=Role.FACTOR), factor, replace(quantity, role=Role.DIVISOR))


def _spread(trail: _Trail, part: _Moved) -> Derivation:
    """Give the cost that fell on a layer: all that it had, or what is left of the difference between the cost of what
    was taken and the cost at which it is taken back."""
    entry, figures = part.step.entry or 0, trail.figures
    spread = trail.spread[entry]
    if part is not spread[-1]:
        return summed([figures.operand(Role.MINUS, f"{part.name}.cost")])
    return summed(_difference(trail, entry, len(spread) - 1))


def _difference(trail: _Trail, entry: int, earlier: int) -> Iterator[Operand]:
    yield from (trail.figures.operand(Role.PLUS, name, entry) for name in trail.names(entry))
    yield replace(cost_of(trail.figures, trail.fixed[entry]), role=Role.MINUS)
    for place in range(1, earlier + 1):
        yield trail.figures.operand(Role.MINUS, f"entries.{entry}.spread.{place}.cost", entry)
