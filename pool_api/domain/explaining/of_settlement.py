"""Figures of the settlement: who carries the closing stock, what is too small to pay, the nets and the payments.

`settlement.open.BIRCH` is what remains of its due once the stock is carried, `settlement.forward.BIRCH` what it begins
the next month with; `settlement.payments.1.amount` is the first payment of the plan. Amounts are minor units.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import partial

from pool_api.domain.entries import Json
from pool_api.domain.explaining.contributions import MonthFacts, said_by
from pool_api.domain.explaining.figures import Derivation, Figures, Formula, Operand, Origin, Part, Role, Unit, summed
from pool_api.domain.explaining.of_dues import member_share
from pool_api.domain.netting import carriers, without_small
from pool_api.domain.pool import StockFunding
from pool_api.domain.values import apportion


def add_settlement(figures: Figures, facts: MonthFacts) -> None:
    """Add the figures of the settlement of every member, and of each payment."""
    carried, nets = (_amounts(facts, part) for part in ("carried", "nets"))
    _add_carried(figures, facts, carried)
    left = {member: due - carried.get(member, 0) for member, due in facts.sheet.dues.items()}
    for member, amount in left.items():
        net = nets.get(member, 0)
        for part, value, derive in (
            ("open", amount, partial(_open, figures, member)),
            ("nets", net, partial(_net, figures, facts, member, left)),
            ("small", amount - net, partial(_small, figures, member)),
            ("forward", carried.get(member, 0) + amount - net, partial(_forward, figures, member)),
        ):
            figures.add(f"settlement.{part}.{member}", value, Unit.MONEY, derive, (member,))
    payments = facts.settlement["payments"]
    for place, (payment, side) in enumerate(zip(payments, _sides(payments), strict=True), start=1):
        figures.add(
            f"settlement.payments.{place}.amount",
            payment["amount"],
            Unit.MONEY,
            partial(_payment, figures, payments, place, side),
            (payment["payer"], payment["payee"]),
        )


def _amounts(facts: MonthFacts, part: str) -> dict[str, int]:
    return {each["member"]: each["amount"] for each in facts.settlement[part]}


def _add_carried(figures: Figures, facts: MonthFacts, carried: Mapping[str, int]) -> None:
    """Add who carries the closing stock. Where shares have changed since the close went by them, its entry says it."""
    sheet, month = facts.sheet, facts.sheet.month
    cost, by_shares = sheet.stock.closing.cost, sheet.policy.stock_funding is StockFunding.SHARES
    shares = {each.code: each.share for each in facts.members if each.is_in(month.last)}
    weights = carriers(sheet.dues, cost, sheet.policy, shares)
    if apportion(cost, [*weights.values()]) != tuple(carried.get(member, 0) for member in weights):
        for member in weights:
            said = said_by(carried.get(member, 0), Unit.MONEY, facts.close or 0)
            figures.add(f"settlement.carried.{member}", said.value, Unit.MONEY, partial(summed, [said]), (member,))
        return
    sources = {}
    for member, weight in weights.items():
        claim = f"settlement.claims.{member}"
        sources[member] = partial(member_share, member, weight)
        if not by_shares:
            side = Role.PLUS if cost >= 0 else Role.MINUS
            figures.add(claim, weight, Unit.MONEY, partial(_claim, figures, member, side), (member,))
            sources[member] = partial(figures.operand, Role.PLUS, claim)
    unit = Unit.COUNT if by_shares else Unit.MONEY
    figures.add("settlement.weights", sum(weights.values()), unit, lambda: summed(each() for each in sources.values()))
    parts = [
        Part(f"settlement.carried.{member}", carried.get(member, 0), weight, sources[member], (member,))
        for member, weight in weights.items()
    ]
    figures.add_parts("stock.closing.cost", "settlement.weights", parts)


def _claim(figures: Figures, member: str, side: Role) -> Derivation:
    return Formula.ABOVE_ZERO, (figures.operand(side, f"members.{member}.due.total"),)


def _open(figures: Figures, member: str) -> Derivation:
    due, carried = f"members.{member}.due.total", f"settlement.carried.{member}"
    return summed([figures.operand(Role.PLUS, due), figures.operand(Role.MINUS, carried)])


def _net(figures: Figures, facts: MonthFacts, member: str, left: Mapping[str, int]) -> Derivation:
    """Give what is open, lowered by what was too small of those set aside before where the member gave way to them."""
    smallest = facts.sheet.policy.smallest_payment
    _, gave_way = without_small(left, smallest)
    operands = [figures.operand(Role.PLUS, f"settlement.open.{member}")]
    if member in gave_way:
        before = [each for each, amount in left.items() if abs(amount) < smallest]
        before += gave_way[: gave_way.index(member)]
        aside = (figures.operand(Role.PLUS, f"settlement.small.{each}") for each in before)
        operands += [each for each in aside if each.value]
    least = Operand(role=Role.LEAST, value=smallest, unit=Unit.MONEY, origin=Origin.POLICY, name="smallest_payment")
    return Formula.UNLESS_SMALL, (*operands, least)


def _small(figures: Figures, member: str) -> Derivation:
    left, net = f"settlement.open.{member}", f"settlement.nets.{member}"
    return summed([figures.operand(Role.PLUS, left), figures.operand(Role.MINUS, net)])


def _forward(figures: Figures, member: str) -> Derivation:
    return summed(figures.operand(Role.PLUS, f"settlement.{part}.{member}") for part in ("carried", "small"))


def _sides(payments: Sequence[Json]) -> list[str]:
    """Give for each payment the member whose net it clears last: each has then paid and received all the rest. Found
    from the members with one payment inwards, so that no payment rests on itself; the payer where there is no such."""
    found: dict[int, str] = {}
    waiting = Counter(each[side] for each in payments for side in ("payer", "payee"))
    while len(found) < len(payments):
        left = [at for at in range(len(payments)) if at not in found]
        ends = ((at, payments[at][side]) for at in left for side in ("payer", "payee"))
        at, member = next(((at, end) for at, end in ends if waiting[end] == 1), (left[0], payments[left[0]]["payer"]))
        found[at] = member
        waiting.subtract((payments[at]["payer"], payments[at]["payee"]))
    return [found[at] for at in range(len(payments))]


def _payment(figures: Figures, payments: Sequence[Json], place: int, side: str) -> Derivation:
    """Give a payment as what is left of one member's net by all its other payments."""
    pays = payments[place - 1]["payer"] == side
    net = figures.operand(Role.MINUS if pays else Role.PLUS, f"settlement.nets.{side}")
    return summed([net, *_others(figures, payments, place, side, pays=pays)])


def _others(figures: Figures, payments: Sequence[Json], place: int, side: str, *, pays: bool) -> Iterable[Operand]:
    for other, each in enumerate(payments, start=1):
        if other != place and side in (each["payer"], each["payee"]):
            role = Role.MINUS if (each["payer"] == side) == pays else Role.PLUS
            yield figures.operand(role, f"settlement.payments.{other}.amount")
