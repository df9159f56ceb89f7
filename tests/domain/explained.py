"""What an explanation says, computed from its operands alone; and explained months for the tests of explanations."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction

from pool_api.domain.activity import gathered
from pool_api.domain.chain import month_chain
from pool_api.domain.costing import Terms
from pool_api.domain.entries import Json
from pool_api.domain.explaining import Explanation, Figures, Formula, MonthFacts, Role, Value, figures_of
from pool_api.domain.netting import Settlement, settle
from pool_api.domain.paying import plan
from pool_api.domain.pool import Member
from pool_api.domain.sheets import Sheet
from pool_api.domain.values import Currency
from pool_api.services.costs import plan_json
from tests.domain.journals import CODES, LADDER, MONTHS, Journal, Rules, shops


def recomputed(explanation: Explanation) -> Value:
    """Compute a figure as its explanation says, with nothing but the operands."""
    by_role: dict[Role, list[Value]] = {}
    for each in explanation.operands:
        by_role.setdefault(each.role, []).append(each.value)
    return _FORMULAS[explanation.formula](by_role, [each.value for each in explanation.operands])


def _sum(by_role: Mapping[Role, Sequence[Value]]) -> Value:
    return sum(by_role.get(Role.PLUS, ())) - sum(by_role.get(Role.MINUS, ()))


def _ratio(by_role: Mapping[Role, Sequence[Value]]) -> Fraction:
    found = Fraction(1)
    for factor in by_role.get(Role.FACTOR, ()):
        found *= factor
    for divisor in by_role.get(Role.DIVISOR, ()):
        found /= divisor
    return found


def _rounded(by_role: Mapping[Role, Sequence[Value]]) -> int:
    """Halves away from zero."""
    exact = _ratio(by_role)
    whole, half = divmod(abs(exact), 1)
    size = int(whole) + (half >= Fraction(1, 2))
    return size if exact >= 0 else -size


def _apportioned(by_role: Mapping[Role, Sequence[Value]]) -> int:
    (total,), (weight,), (weights,) = by_role[Role.TOTAL], by_role[Role.WEIGHT], by_role[Role.WEIGHTS]
    (left_over,), (place,) = by_role[Role.LEFT_OVER], by_role[Role.PLACE]
    size = abs(Fraction(total)) * weight // weights + (place <= left_over)
    return size if total >= 0 else -size


def _unless_small(by_role: Mapping[Role, Sequence[Value]], first: Value) -> Value:
    found, (least,) = _sum(by_role), by_role[Role.LEAST]
    return 0 if (found if first >= 0 else -found) < least else found


_FORMULAS: dict[Formula, Callable[[Mapping[Role, Sequence[Value]], list[Value]], Value]] = {
    Formula.SUM: lambda by_role, _: _sum(by_role),
    Formula.RATIO: lambda by_role, _: _ratio(by_role),
    Formula.ROUNDED: lambda by_role, _: _rounded(by_role),
    Formula.APPORTIONED: lambda by_role, _: _apportioned(by_role),
    Formula.ABOVE_ZERO: lambda by_role, _: max(_sum(by_role), 0),
    Formula.UNLESS_SMALL: lambda by_role, values: _unless_small(by_role, values[0]),
}


def explained_months(
    journal: Journal, rules: Rules, members: Sequence[Member] | None = None
) -> Iterator[tuple[Sheet, Settlement, Figures]]:
    """Cost, settle and explain the months of a journal; ALDER is the hub."""
    shown = members or shops()
    settlements: list[Settlement] = []

    def settled(sheet: Sheet) -> Mapping[str, int]:
        weights = {each.code: each.share for each in shown if each.is_in(sheet.month.last)}
        found = settle(sheet.dues, sheet.stock.closing.cost, sheet.policy, weights)
        settlements.append(found)
        return {member: dict(found.carried).get(member, 0) + dict(found.small).get(member, 0) for member in sheet.dues}

    chain = month_chain(
        gathered(journal.entries),
        months=MONTHS,
        terms_of=lambda month: Terms(policy=rules[month], members=shown, currency=Currency("EUR"), ladder=LADDER),
        settle=settled,
    )
    for link, _ in chain:
        sheet = link.sheet
        facts = MonthFacts(
            sheet=sheet,
            settlement=settlement_of(sheet, settlements[-1]),
            close=None,
            entries=journal.of(sheet.month),
            originals=link.earlier,
            members=shown,
        )
        yield sheet, settlements[-1], figures_of(facts)


def settlement_of(sheet: Sheet, settlement: Settlement) -> Json:
    """Give a settlement with its payments, as a close freezes it."""
    parts: Json = {
        name: [{"member": member, "amount": amount} for member, amount in getattr(settlement, name)]
        for name in ("carried", "small", "nets")
    }
    return parts | plan_json(plan(dict(settlement.nets), sheet.policy, CODES[0]))
