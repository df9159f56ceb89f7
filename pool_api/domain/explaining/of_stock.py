"""Figures of the stock: the pool price, what came in, what each outflow cost, and what is left.

Under the month average all that was available is apportioned over the outflows and what is left; how an outflow takes
parts of layers under the other two costings stands in of_layers.py. Credits are whole credits, costs minor units.
"""

from collections.abc import Collection, Mapping, Sequence
from functools import partial

from pool_api.domain.explaining.contributions import Contributions, before, cost_of, from_entry, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Origin, Part, Role, Unit, summed
from pool_api.domain.explaining.of_layers import add_layers
from pool_api.domain.layers import Costed, Movement, Step, Way, layered
from pool_api.domain.pool import StockCosting
from pool_api.domain.sheets import Sheet
from pool_api.domain.stock import Outflow, StockMonth

AVAILABLE = "stock.available"


def steps_of(sheet: Sheet, found: Contributions) -> list[Step]:
    """Give what the stock's movements did to its layers, nothing under the month average."""
    if sheet.policy.stock_costing is StockCosting.MONTH_AVERAGE:
        return []
    merged = sheet.policy.stock_costing is StockCosting.MOVING_AVERAGE
    ordered = sorted(found.movements, key=lambda each: (each.on, each.entry))
    return layered(sheet.stock.opening, ordered, merged=merged).steps


def add_stock(figures: Figures, sheet: Sheet, found: Contributions, steps: Sequence[Step]) -> None:
    """Add the stock's figures and the pool price."""
    stock = sheet.stock
    _add_opening(figures, stock, found)
    for name, way in (("bought", Way.IN), ("back", Way.BACK), ("withdrawn", Way.WITHDRAWN)):
        _add_flow(figures, f"stock.{name}", getattr(stock, name), [each for each in found.movements if each.way is way])
    _add_available(figures, stock)
    _add_price(figures, sheet)
    _add_closing_quantity(figures, stock, found)
    averaged = sheet.policy.stock_costing is StockCosting.MONTH_AVERAGE
    if averaged:
        _add_averaged(figures, stock, found.sides)
    else:
        add_layers(figures, steps, outflows_of(stock), found)
    if not averaged or stock.available.quantity <= 0:
        figures.add("stock.closing.cost", stock.closing.cost, Unit.MONEY, partial(_what_stays, figures, stock))


def _what_stays(figures: Figures, stock: StockMonth) -> Derivation:
    left = (figures.operand(Role.MINUS, f"entries.{each.entry}.cost", each.entry) for each in outflows_of(stock))
    return summed([figures.operand(Role.PLUS, f"{AVAILABLE}.cost"), *left])


def _add_closing_quantity(figures: Figures, stock: StockMonth, found: Contributions) -> None:
    def derive() -> Derivation:
        out = (each for each in found.movements if each.way is Way.OUT)
        return summed(
            [
                figures.operand(Role.PLUS, "stock.opening.quantity"),
                figures.operand(Role.PLUS, "stock.bought.quantity"),
                figures.operand(Role.PLUS, "stock.back.quantity"),
                figures.operand(Role.MINUS, "stock.withdrawn.quantity"),
                *(from_entry(figures, each.entry, "quantity", -each.quantity, Unit.CREDITS) for each in out),
            ]
        )

    figures.add("stock.closing.quantity", stock.closing.quantity, Unit.CREDITS, derive)


def _add_opening(figures: Figures, stock: StockMonth, found: Contributions) -> None:
    opened = Costed()
    said: list[list[Operand]] = [[], []]
    if found.opening:
        number, body = found.opening
        opened = Costed(body.stock_quantity, body.stock_cost)
        said = [[said_by(opened.quantity, Unit.CREDITS, number)], [said_by(opened.cost, Unit.MONEY, number)]]
    left = Costed(stock.opening.quantity - opened.quantity, stock.opening.cost - opened.cost)
    figures.add_costed(
        "stock.opening",
        (stock.opening.quantity, stock.opening.cost),
        lambda: summed([before(left.quantity, Unit.CREDITS, "stock.closing.quantity"), *said[0]]),
        lambda: summed([before(left.cost, Unit.MONEY, "stock.closing.cost"), *said[1]]),
    )


def _add_flow(figures: Figures, name: str, value: Costed, moved: list[Movement]) -> None:
    figures.add_costed(
        name,
        value,
        lambda: summed(from_entry(figures, each.entry, "quantity", each.quantity, Unit.CREDITS) for each in moved),
        lambda: summed(cost_of(figures, each) for each in moved),
    )


def _add_available(figures: Figures, stock: StockMonth) -> None:
    waited = sum(each.quantity for each in stock.opening.waiting if each.holder is not None)
    late = before(waited, Unit.CREDITS, None, "left before it was there")

    def derive(what: str, *more: Operand) -> Derivation:
        roles = {"opening": Role.PLUS, "bought": Role.PLUS, "back": Role.PLUS, "withdrawn": Role.MINUS}
        return summed([*(figures.operand(role, f"stock.{name}.{what}") for name, role in roles.items()), *more])

    figures.add_costed(AVAILABLE, stock.available, partial(derive, "quantity", late), partial(derive, "cost"))


def _add_price(figures: Figures, sheet: Sheet) -> None:
    price = sheet.price
    if price is None:
        return

    def derive() -> Derivation:
        if sheet.stock.price is None:
            return summed([before_price])
        return Formula.RATIO, (
            figures.operand(Role.FACTOR, f"{AVAILABLE}.cost"),
            figures.operand(Role.DIVISOR, f"{AVAILABLE}.quantity"),
        )

    before_price = Operand(
        role=Role.PLUS, value=price, unit=Unit.UNIT_PRICE, origin=Origin.MONTH_BEFORE, figure="price"
    )
    figures.add("price", price, Unit.UNIT_PRICE, derive)


def outflows_of(stock: StockMonth) -> tuple[Outflow, ...]:
    """Give all that was costed in a month, what had waited first."""
    return (*stock.late, *stock.outflows)


def _add_averaged(figures: Figures, stock: StockMonth, sides: Mapping[int, Collection[str]]) -> None:
    parts = []
    for each in outflows_of(stock):
        name, served = f"entries.{each.entry}", each.quantity - each.missing
        source = partial(from_entry, figures, each.entry, "quantity", served, Unit.CREDITS)
        if each.missing:
            figures.add(f"{name}.served", served, Unit.CREDITS, partial(_served, figures, each))
            source = partial(figures.operand, Role.PLUS, f"{name}.served", each.entry)
        parts.append(Part(f"{name}.cost", each.cost, served, source, sides.get(each.entry, (each.holder,))))
    rest = "stock.closing.quantity"
    if stock.closing.quantity < 0:
        rest = "stock.closing.there"
        figures.add(rest, 0, Unit.CREDITS, lambda: _above_zero(figures, "stock.closing.quantity"))
    there = max(stock.closing.quantity, 0)
    closing = "stock.closing.cost" if stock.available.quantity > 0 else None
    parts.append(Part(closing, stock.closing.cost, there, partial(figures.operand, Role.PLUS, rest)))
    figures.add_parts(f"{AVAILABLE}.cost", f"{AVAILABLE}.quantity", parts)


def _served(figures: Figures, outflow: Outflow) -> Derivation:
    quantity = from_entry(figures, outflow.entry, "quantity", outflow.quantity, Unit.CREDITS)
    missing = Operand(
        role=Role.MINUS, value=outflow.missing, unit=Unit.CREDITS, origin=Origin.COUNTED, name="still missing"
    )
    return summed([quantity, missing])


def _above_zero(figures: Figures, name: str) -> Derivation:
    return Formula.ABOVE_ZERO, (figures.operand(Role.PLUS, name),)
