"""How explanations and comparisons are shown on the wire, and how a formula reads in words.

A value is shown as text that people read and, in minor units or credits, exactly as it counts in the formula, so that
whoever reads an explanation can compute it again. What formulas and roles mean is said in the core
(domain/explaining/figures.py); nothing is computed here.
"""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import Field

from pool_api.domain.comparing import Comparison, MemberCompared, Outcome, Version
from pool_api.domain.explaining import MOST_TERMS, Explanation, Formula, Listed, Operand, Origin, Role, Unit, Value
from pool_api.domain.values import Currency, half_up
from pool_api.rest.month_forms import UnitCostShown, show_unit_cost
from pool_api.rest.pages import Page
from pool_api.rest.terms_forms import PolicyShown, show_policy
from pool_api.rest.wire import EntryNumber, MemberCode, MoneyText, MonthText, WireModel, stated
from pool_api.services.costs import CostedMonth
from pool_api.services.explaining import Explained

Json = dict[str, Any]

FigureName = Annotated[
    str,
    Field(
        pattern=r"^[a-z][A-Za-z0-9_-]*(\.[A-Za-z0-9_-]+)*$",
        max_length=100,
        examples=["members.BIRCH.due.draws"],
        description="The name of a figure of the month.",
    ),
]

FORMULAS = """\
`sum`: the `plus` operands less the `minus` operands, 0 without any. `ratio`: the product of the `factor` operands over
that of the `divisor` operands, exactly. `rounded`: the same, rounded half up. `apportioned`: `total` · `weight` /
`weights` without the remainder, and one unit more where `place` is not above `left_over`. `above_zero`: the sum, or 0
where it is below 0. `unless_small`: the sum, or 0 where it is below `least`, both counted to the side of the first
operand."""


class ValueShown(WireModel):
    """A value: as decimal text, and exactly in minor units, credits, or minor units per credit."""

    shown: str = Field(pattern=r"^-?[0-9]+(\.[0-9]{1,4})?$", examples=["98.93"])
    exact: str = Field(pattern=r"^-?[0-9]+(/[0-9]+)?$", examples=["9893"])
    unit: Unit


class OperandShown(WireModel):
    """What a formula is applied to. origin says where it comes from: figure is another figure of the month, or
    (month_before) one of the month before; name says what it is where it isn't one; entries are numbers of entries."""

    role: Role
    value: ValueShown
    origin: Origin
    figure: FigureName | None = None
    name: str | None = None
    entries: list[EntryNumber]


class ExplanationShown(WireModel):
    """How a figure comes about: its formula, applied to the operands, gives it exactly. says is the same in words."""

    figure: FigureName
    value: ValueShown
    formula: Formula = Field(description=FORMULAS)
    says: str = Field(examples=["98.93 = 7.0667 × 14, rounded half up"])
    operands: list[OperandShown] = Field(max_length=MOST_TERMS + 1)
    more_operands: int | None = Field(
        default=None,
        ge=1,
        description=f"How many terms a sum has beyond the first {MOST_TERMS}, which alone are stated here and followed"
        " by a chain. `…/explanations/{figure}/operands` lists all.",
    )


class ExplainedShown(Page[ExplanationShown]):
    """A figure and the figures that it comes from, each once, the nearest first, so many to a page. Pages belong
    together while computed_at stays the same."""

    month: MonthText
    state: Literal["open", "closed"]
    computed_at: int = Field(ge=0, description="The number of the entry up to which the journal was read.")


class FigureListed(WireModel):
    """A figure of a month."""

    figure: FigureName
    value: ValueShown


class OutcomeShown(WireModel):
    """What a month comes to for a member; net is what it is paid, below 0 what it pays."""

    blended_unit_cost: UnitCostShown | None = None
    due: MoneyText
    net: MoneyText
    lending_gain: MoneyText


class MemberComparedShown(WireModel):
    """A member's figures under both policies; difference is the alternative's less the present ones."""

    member: MemberCode
    present: OutcomeShown
    alternative: OutcomeShown
    difference: OutcomeShown


class VersionShown(WireModel):
    """A month under one policy."""

    policy: PolicyShown
    pool_price: UnitCostShown | None = None
    closing_stock: MoneyText
    payments: int = Field(ge=0)
    proven: bool = Field(description="Whether no plan has fewer payments than this one.")


class ComparisonShown(WireModel):
    """A month under its own policy beside an alternative. Nothing is recorded."""

    month: MonthText
    state: Literal["open", "closed"]
    computed_at: int = Field(ge=0, description="The number of the entry up to which the journal was read.")
    present: VersionShown
    alternative: VersionShown
    members: list[MemberComparedShown]


def show_explained(explained: Explained, currency: Currency) -> Json:
    """Give a figure with the chain that it comes from."""
    return {
        **_month(explained.month),
        "items": [_explanation(each, currency) for each in explained.explanations],
    }


def show_figure(figure: Listed, currency: Currency) -> Json:
    """Give a figure as it is listed."""
    return {"figure": figure.figure, "value": _value(figure.value, figure.unit, currency)}


def _month(month: CostedMonth) -> Json:
    return {
        "month": str(month.month),
        "state": "open" if month.close is None else "closed",
        "computed_at": month.computed_at,
    }


def _explanation(explanation: Explanation, currency: Currency) -> Json:
    words = _IN_WORDS[explanation.formula](explanation, currency)
    shown = {
        **show_figure(Listed(explanation.figure, explanation.value, explanation.unit), currency),
        "formula": explanation.formula,
        "says": f"{_said(explanation, currency)} = {words}",
        "operands": [show_operand(each, currency) for each in explanation.operands],
    }
    return shown | ({"more_operands": explanation.more} if explanation.more else {})


def show_operand(operand: Operand, currency: Currency) -> Json:
    """Give what a formula is applied to."""
    return stated(
        {
            "role": operand.role,
            "value": _value(operand.value, operand.unit, currency),
            "origin": operand.origin,
            "figure": operand.figure,
            "name": operand.name,
            "entries": list(operand.entries),
        }
    )


def _value(value: Value, unit: Unit, currency: Currency) -> Json:
    exact = f"{value.numerator}/{value.denominator}" if isinstance(value, Fraction) else str(value)
    return {"shown": _text(value, unit, currency), "exact": exact, "unit": unit}


def _text(value: Value, unit: Unit, currency: Currency) -> str:
    match unit:
        case Unit.MONEY:
            return currency.text(half_up(Fraction(value)))
        case Unit.UNIT_PRICE:
            return currency.unit_text(Fraction(value))
        case _:
            return str(value)


def _said(one: Operand | Explanation, currency: Currency) -> str:
    said = f"{Decimal(_text(one.value, one.unit, currency)):,}"
    return f"({said})" if isinstance(one, Operand) and one.value < 0 else said


def _sum_in_words(explanation: Explanation, currency: Currency) -> str:
    signs = {Role.PLUS: "+", Role.MINUS: "−"}
    said = " ".join(
        f"{signs[each.role]} {_said(each, currency)}" for each in explanation.operands if each.role in signs
    )
    more = f" and {explanation.more:,} more" if explanation.more else ""
    return said.removeprefix("+ ") + more or "nothing"


def _ratio_in_words(explanation: Explanation, currency: Currency) -> str:
    factors, divisors = (
        [_said(each, currency) for each in explanation.operands if each.role is role]
        for role in (Role.FACTOR, Role.DIVISOR)
    )
    return " / ".join([" × ".join(factors), *divisors])


def _apportioned_in_words(explanation: Explanation, currency: Currency) -> str:
    of = {each.role: each for each in explanation.operands}
    total, weight, weights = (_said(of[role], currency) for role in (Role.TOTAL, Role.WEIGHT, Role.WEIGHTS))
    left_over, place = of[Role.LEFT_OVER].value, of[Role.PLACE].value
    said = f"{total} × {weight} / {weights}"
    if not left_over:
        return said
    more = "one unit more" if place <= left_over else "no unit more"
    return f"{said}, rounded down, and {more}: {left_over} left over for the largest remainders, this is number {place}"


def _unless_small_in_words(explanation: Explanation, currency: Currency) -> str:
    least = next(each for each in explanation.operands if each.role is Role.LEAST)
    return f"{_sum_in_words(explanation, currency)}, or 0 below {_said(least, currency)}"


_IN_WORDS: dict[Formula, Callable[[Explanation, Currency], str]] = {
    Formula.SUM: _sum_in_words,
    Formula.RATIO: _ratio_in_words,
    Formula.ROUNDED: lambda explanation, currency: f"{_ratio_in_words(explanation, currency)}, rounded half up",
    Formula.APPORTIONED: _apportioned_in_words,
    Formula.ABOVE_ZERO: lambda explanation, currency: (
        f"{_sum_in_words(explanation, currency)}, or 0 where that is below 0"
    ),
    Formula.UNLESS_SMALL: _unless_small_in_words,
}


def show_comparison(month: CostedMonth, comparison: Comparison, currency: Currency) -> Json:
    """Give a month under both policies."""
    return {
        **_month(month),
        "present": _version(comparison.present, currency),
        "alternative": _version(comparison.alternative, currency),
        "members": [_compared(each, currency) for each in comparison.members()],
    }


def _version(version: Version, currency: Currency) -> Json:
    price = version.sheet.price
    return stated(
        {
            "policy": show_policy(version.sheet.policy, currency),
            "pool_price": None if price is None else show_unit_cost(price, currency),
            "closing_stock": currency.text(version.sheet.stock.closing.cost),
            "payments": len(version.settlement["payments"]),
            "proven": version.settlement["proven"],
        }
    )


def _compared(member: MemberCompared, currency: Currency) -> Json:
    return {
        "member": member.member,
        "present": _outcome(member.present, currency),
        "alternative": _outcome(member.alternative, currency),
        "difference": _outcome(member.difference, currency),
    }


def _outcome(outcome: Outcome, currency: Currency) -> Json:
    cost = outcome.unit_cost
    return stated(
        {
            "blended_unit_cost": None if cost is None else show_unit_cost(cost, currency),
            "due": currency.text(outcome.due),
            "net": currency.text(outcome.net),
            "lending_gain": currency.text(outcome.lending_gain),
        }
    )
