"""How explanations and comparisons are shown: a figure as a tree down to the entries, two policies side by side."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from pool_client.models.explanations import Comparison, Explained, Explanation, Figure, FigureValue, Operand, Outcome
from pool_client.models.months import UnitCost
from pool_client.show import rules
from pool_client.table import Table

_INDENT = "  "
_IN_THE_WORDS = ("left_over", "place")
"""Roles of operands that an explanation's words tell of in full."""

Row = tuple[str, str, str]


def figures(found: Iterable[Figure]) -> list[Table]:
    """Show which figures there are."""
    rows = tuple((each.figure, _value(each.value)) for each in found)
    return [Table(title="Figures", columns=("figure", ">value"), rows=rows)]


def explained(found: Explained) -> list[Table]:
    """Show a figure with all that it comes from, each indented below what it gives, once."""
    by_name = {each.figure: each for each in found.items}
    rows = tuple(_tree(found.items[0], "", by_name, set()))
    title = f"{found.items[0].figure} of {found.month} ({found.state}), as of entry {found.computed_at}"
    words = () if found.next is None else (f"These are the nearest {len(by_name):,} figures; there are more.",)
    return [Table(title=title, columns=("figure", ">value", "comes from"), rows=rows, words=words)]


def operands(found: Iterable[Operand]) -> list[Table]:
    """Show what a formula is applied to."""
    rows = tuple((each.role, _name(each), _value(each.value), _words(each)) for each in found)
    return [Table(title="Operands", columns=("role", "operand", ">value", "comes from"), rows=rows)]


def _tree(explanation: Explanation, before: str, by_name: dict[str, Explanation], seen: set[str]) -> Iterator[Row]:
    seen.add(explanation.figure)
    yield before + explanation.figure, _value(explanation.value), explanation.says.partition(" = ")[2]
    deeper = _INDENT * (before.count(_INDENT) + 1)
    for each in explanation.operands:
        less = "less " if each.role == "minus" else ""
        if each.origin == "figure" and each.figure in by_name and each.figure not in seen:
            yield from _tree(by_name[each.figure], deeper + less, by_name, seen)
        elif each.role not in _IN_THE_WORDS:
            again = "see above" if each.figure in seen else _words(each)
            yield f"{deeper}{less}{_name(each)}", _value(each.value), again
    if explanation.more_operands:
        yield f"{deeper}and {explanation.more_operands:,} more", "", "see 'pool operands'"


def _name(operand: Operand) -> str:
    if operand.figure is not None:
        return operand.figure
    return operand.name or _entries(operand)


def _words(operand: Operand) -> str:
    said = {"month_before": "the month before", "policy": "the policy", "members": "the pool's members"}
    named = operand.figure is not None or operand.name is not None
    return said.get(operand.origin, _entries(operand) if named else "")


def _entries(operand: Operand) -> str:
    numbers = ", ".join(map(str, operand.entries))
    return f"{'entry' if len(operand.entries) == 1 else 'entries'} {numbers}" if numbers else ""


def _value(value: FigureValue) -> str:
    return f"{value.shown:,}"


def comparison(found: Comparison) -> list[Table]:
    """Show a month under both policies, first the rules, then the members."""
    both = zip(rules(found.present.policy), rules(found.alternative.policy), strict=True)
    rows = [(name, now, then) for (name, now), (_, then) in both]
    for name, read in (("pool price", "pool_price"), ("closing stock", "closing_stock"), ("payments", "payments")):
        rows.append((name, _text(getattr(found.present, read)), _text(getattr(found.alternative, read))))
    title = f"Month {found.month} ({found.state}) under another policy; nothing is recorded"
    return [
        Table(title=title, columns=("rule", "as it is", "instead"), rows=tuple(rows)),
        *(_side_by_side(found, figure) for figure in ("blended_unit_cost", "due", "net", "lending_gain")),
    ]


def _side_by_side(found: Comparison, figure: str) -> Table:
    def row(*outcomes: Outcome) -> tuple[str, ...]:
        return tuple(_text(getattr(each, figure)) for each in outcomes)

    return Table(
        title=figure.replace("_", " ").capitalize(),
        columns=("member", ">as it is", ">instead", ">more"),
        rows=tuple((each.member, *row(each.present, each.alternative, each.difference)) for each in found.members),
    )


def _text(value: UnitCost | Decimal | int | None) -> str:
    return "–" if value is None else f"{value.shown if isinstance(value, UnitCost) else value:,}"
