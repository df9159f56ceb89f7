"""What becomes of the dues of a month: who keeps financing the closing stock, what is too small to pay, what is left.

Amounts are minor units; positive is owed to the member. For every member due = carried + small + net, an amount that
isn't named being 0. What is carried and what is small are brought forward; the nets add up to 0 and become payments.
How dues come about stands in costing.py, who pays whom in paying.py, how payments are ticked off in book.py.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from pool_api.domain.pool import Policy, StockFunding
from pool_api.domain.values import apportion

Amounts = tuple[tuple[str, int], ...]
"""Members with their amounts other than 0, in order of member code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settlement:
    """What becomes of the dues of a month: carried finances the closing stock and adds up to its cost; small adds up to
    0, and so do nets."""

    carried: Amounts
    small: Amounts
    nets: Amounts


def settle(dues: Mapping[str, int], closing_stock_cost: int, policy: Policy, shares: Mapping[str, int]) -> Settlement:
    """Settle the dues of a month under the pool's policy.

    Takes:   dues — their sum is closing_stock_cost; shares — weights >= 0 of the members that finance the stock where
             policy says so, equal ones when none is above 0.
    Gives:   the settlement; the order in which members are named in the arguments changes nothing.
    Refuses: nothing; ValueError when the dues don't add up to the cost.
    Source:  own rules."""
    if sum(dues.values()) != closing_stock_cost:
        raise ValueError(f"the dues add up to {sum(dues.values())}, the closing stock cost {closing_stock_cost}")
    members = sorted({*dues, *shares})
    due = {member: dues.get(member, 0) for member in members}
    weights = carriers(due, closing_stock_cost, policy, shares)
    carried = dict(zip(members, apportion(closing_stock_cost, [*weights.values()]), strict=True))
    open_to_pay = {member: due[member] - carried[member] for member in members}
    nets, _ = without_small(open_to_pay, policy.smallest_payment)
    return Settlement(
        carried=_amounts(carried),
        small=_amounts({member: open_to_pay[member] - nets[member] for member in members}),
        nets=_amounts(nets),
    )


def _amounts(found: Mapping[str, int]) -> Amounts:
    return tuple((member, amount) for member, amount in found.items() if amount)


def carriers(due: Mapping[str, int], cost: int, policy: Policy, shares: Mapping[str, int]) -> dict[str, int]:
    """Give by what weights members carry the cost of the closing stock, in the order of the dues.

    By payers it stays owed to those whose due is positive, in proportion, and so to nobody beyond its due; a cost below
    zero, which a late reversal can leave and the month's sheet then warns of, mirrors that. By shares see settle."""
    if policy.stock_funding is StockFunding.PAYERS:
        side = 1 if cost >= 0 else -1
        return {member: max(side * amount, 0) for member, amount in due.items()}
    weights = {member: shares.get(member, 0) for member in due}
    return weights if any(weights.values()) else {member: int(member in shares or not shares) for member in due}


def without_small(nets: Mapping[str, int], smallest: int) -> tuple[dict[str, int], tuple[str, ...]]:
    """Set nets below the smallest payment to 0 and, so that the rest adds up to 0 again, lower the largest net of the
    side that is now too large; one that gets too small by this is set to 0 too, and the next gives way.

    Gives:   the nets, and the members that gave way, in order."""
    kept = {member: net if abs(net) >= smallest else 0 for member, net in nets.items()}
    gave_way = []
    while surplus := sum(kept.values()):
        side = 1 if surplus > 0 else -1
        largest = max(kept, key=lambda member: side * kept[member])
        lowered = side * (kept[largest] - surplus)
        kept[largest] = side * lowered if lowered >= smallest else 0
        gave_way.append(largest)
    return kept, tuple(gave_way)
