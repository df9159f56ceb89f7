"""Figures of a saving that is shared by the policy's rule.

`saving.order.cost` and `saving.order.quantity` are of the cheapest order for all that was drawn, `saving.credits`; what
of its cost is each member's at one unit price for all is `saving.unit_price.BIRCH`, by the rule `saving.shares.BIRCH`.
Both are apportioned; by the rule over the weights of `saving.weights`: what each would pay alone, or what each adds to
the cost on average, whose many summands are counted and not listed. Costs are minor units.
"""

from functools import partial

from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Origin, Part, Role, Unit, summed
from pool_api.domain.pool import SavingRule
from pool_api.domain.sharing import JointOrder, SharedSaving, whole_weights
from pool_api.domain.sheets import Sheet


def add_saving(figures: Figures, sheet: Sheet) -> None:
    """Add the figures of a month's saving, where it is shared; before those of dues."""
    saving = sheet.saving
    if saving is None:
        return
    order = JointOrder(taken=tuple((each.member, each.credits) for each in saving.members), ladder=saving.ladder)
    quantity, unit_price = order.ordered
    figures.add("saving.credits", order.credits, Unit.CREDITS, partial(_drawn, figures, saving))
    ordered = _counted(quantity, Unit.CREDITS, "the least costly size of at least as many credits")
    figures.add("saving.order.quantity", quantity, Unit.CREDITS, lambda: summed([ordered]))
    price = Operand(
        role=Role.FACTOR,
        value=unit_price,
        unit=Unit.UNIT_PRICE,
        origin=Origin.LADDER,
        name=f"unit price by the ladder from {saving.ladder.valid_from}",
    )
    figures.add("saving.order.cost", saving.cost, Unit.MONEY, partial(_cost, figures, price))
    _add_equal(figures, saving)
    _add_by_rule(figures, saving)


def _drawn(figures: Figures, saving: SharedSaving) -> Derivation:
    return summed(figures.operand(Role.PLUS, f"members.{each.member}.draws.quantity") for each in saving.members)


def _cost(figures: Figures, price: Operand) -> Derivation:
    return Formula.ROUNDED, (figures.operand(Role.FACTOR, "saving.order.quantity"), price)


def _add_equal(figures: Figures, saving: SharedSaving) -> None:
    parts = [
        Part(
            f"saving.unit_price.{each.member}",
            each.unit_price,
            each.credits,
            partial(figures.operand, Role.PLUS, f"members.{each.member}.draws.quantity"),
            (each.member,),
        )
        for each in saving.members
    ]
    figures.add_parts("saving.order.cost", "saving.credits", parts)


def _add_by_rule(figures: Figures, saving: SharedSaving) -> None:
    said = "alone" if saving.rule is SavingRule.PROPORTIONAL else "added on average"
    weights = whole_weights([each.exact for each in saving.members])
    operands = [
        _counted(weight, Unit.COUNT, f"cost of {each.member} {said}, as a weight")
        for each, weight in zip(saving.members, weights, strict=True)
    ]
    figures.add("saving.weights", sum(weights), Unit.COUNT, lambda: summed(operands))
    parts = [
        Part(f"saving.shares.{each.member}", each.share, weight, partial(_same, operand), (each.member,))
        for each, weight, operand in zip(saving.members, weights, operands, strict=True)
    ]
    figures.add_parts("saving.order.cost", "saving.weights", parts)


def _same(operand: Operand) -> Operand:
    return operand


def _counted(value: int, unit: Unit, name: str) -> Operand:
    return Operand(role=Role.PLUS, value=value, unit=unit, origin=Origin.COUNTED, name=name)
