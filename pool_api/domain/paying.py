"""Who pays whom, so that the nets of a settlement are cleared: plans of payments, and pairs that don't pay each other.

Amounts are minor units; a net above 0 is owed to the member. Under every plan a member's payments add up to its net. A
go-between both pays and receives. What the nets are is found in netting.py, how groups that add up to zero are found in
zero_sums.py, how a group's payments are, in flows.py.
"""

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pool_api.domain.errors import NoHub, SameMember, UnknownMember
from pool_api.domain.flows import MayPay, cleared, components
from pool_api.domain.pool import Pairs, PaymentPlan, Policy
from pool_api.domain.zero_sums import split


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPayment:
    """A payment that a settlement asks for; amount is above 0."""

    payer: str
    payee: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Payments that clear nets, in order of (payer, payee).

    unpayable are the members whose nets no payments that the pool allows can clear, in order; where there are any, no
    payment is planned. Whatever else the pool allows takes lower_bound payments or more, unless somebody passes money
    on where nobody has to."""

    payments: tuple[PlannedPayment, ...]
    lower_bound: int
    unpayable: tuple[str, ...] = ()

    @property
    def proven(self) -> bool:
        """Whether it is proven that no plan has fewer payments than this one."""
        return not self.unpayable and len(self.payments) == self.lower_bound

    @property
    def go_betweens(self) -> tuple[str, ...]:
        """The members that both pay and receive, in order."""
        return tuple(sorted({each.payer for each in self.payments} & {each.payee for each in self.payments}))


def check_pairs(pairs: Pairs, members: Container[str]) -> None:
    """Refuse pairs that a pool can't keep apart: SameMember; UnknownMember for a code not among its members."""
    for pair in pairs:
        one, other = pair
        if one == other:
            raise SameMember(member=one)
        for code in pair:
            if code not in members:
                raise UnknownMember(member=code)


def plan(nets: Mapping[str, int], policy: Policy, hub: str | None) -> Plan:
    """Plan the payments that clear nets, under the pool's policy.

    Takes:   nets — other than 0, with a sum of 0; hub — the member that a hub plan goes through, and that passes money
             on in a plan of the fewest payments where nobody else can.
    Gives:   the plan; the order in which members are named changes nothing.
    Refuses: NoHub when the plan is hub and there is none.
    Source:  own rules; for the fewest payments see zero_sums.py."""
    ordered = {member: nets[member] for member in sorted(nets)}
    if policy.payment_plan is PaymentPlan.HUB:
        return _through(hub, ordered, policy.no_payments_between)
    return _fewest(ordered, policy.no_payments_between, hub)


def _may_pay(apart: Pairs) -> MayPay:
    forbidden = {*apart, *(pair[::-1] for pair in apart)}
    return lambda payer, payee: payer != payee and (payer, payee) not in forbidden


def _in_order(payments: Mapping[tuple[str, str], int]) -> tuple[PlannedPayment, ...]:
    return tuple(
        PlannedPayment(payer=payer, payee=payee, amount=amount) for (payer, payee), amount in sorted(payments.items())
    )


def _least(nets: Mapping[str, int]) -> int:
    """So many payments any plan has: everyone that owes pays, and everyone that is owed receives."""
    debtors = sum(net < 0 for net in nets.values())
    return max(debtors, len(nets) - debtors)


# --- the fewest payments ---------------------------------------------------------------------------------------------


def _fewest(nets: Mapping[str, int], apart: Pairs, hub: str | None) -> Plan:
    """Members that can't reach each other, not even through others, are settled apart; each part without go-betweens
    where it can be. The hub joins if a part can't be settled without it."""
    may_pay = _may_pay(apart)
    parts = components(nets, may_pay)
    if hub is not None and hub not in nets and _uncleared(parts, nets):
        nets = {member: nets.get(member, 0) for member in sorted({*nets, hub})}
        parts = components(nets, may_pay)
    if unpayable := _uncleared(parts, nets):
        return Plan(payments=(), lower_bound=_least(nets), unpayable=unpayable)
    payments: dict[tuple[str, str], int] = {}
    lower_bound = 0
    for part in parts:
        found, fewest = _fewest_within({member: nets[member] for member in part}, may_pay, apart)
        payments |= found
        lower_bound += fewest
    return Plan(payments=_in_order(payments), lower_bound=lower_bound)


def _uncleared(parts: Sequence[Sequence[str]], nets: Mapping[str, int]) -> tuple[str, ...]:
    stuck = (part for part in parts if sum(nets[each] for each in part))
    return tuple(sorted(member for part in stuck for member in part if nets[member]))


def _fewest_within(nets: Mapping[str, int], may_pay: MayPay, apart: Pairs) -> tuple[dict[tuple[str, str], int], int]:
    """Payments among members that can all reach each other, and how many there are at the least."""
    members = [*nets]
    passed_on = cleared(nets, may_pay, go_betweens=False) is None

    def among(group: Sequence[int]) -> dict[str, int]:
        return {members[at]: nets[members[at]] for at in group}

    def fits(group: Sequence[int]) -> bool:
        some = among(group)
        if not any(one in some and other in some for one, other in apart):
            return True
        if passed_on:
            return len(components(some, may_pay)) == 1
        return cleared(some, may_pay, go_betweens=False) is not None

    found = split([*nets.values()], fits)
    payments: dict[tuple[str, str], int] = {}
    for group in found.groups:
        payments |= cleared(among(group), may_pay, go_betweens=passed_on) or {}
    return payments, len(members) - found.most


# --- through a hub ---------------------------------------------------------------------------------------------------


def _through(hub: str | None, nets: Mapping[str, int], apart: Pairs) -> Plan:
    """Everyone pays to or receives from the hub; whoever may not, through the member that comes next to it (see
    _next_to_hub), which then pays or receives so much more or less."""
    if hub is None:
        raise NoHub
    next_to = dict(_next_to_hub(hub, nets, _may_pay(apart)))
    unpayable = tuple(member for member in nets if member not in next_to and member != hub)
    if unpayable:
        return Plan(payments=(), lower_bound=_least(nets), unpayable=unpayable)
    amounts = dict(nets)
    payments: dict[tuple[str, str], int] = {}
    for member, nearer in reversed(next_to.items()):
        amount = amounts[member]
        amounts[nearer] = amounts.get(nearer, 0) + amount
        if amount:
            payments[(member, nearer) if amount < 0 else (nearer, member)] = abs(amount)
    return Plan(payments=_in_order(payments), lower_bound=_least(nets))


def _next_to_hub(hub: str, nets: Mapping[str, int], may_pay: MayPay) -> Iterator[tuple[str, str]]:
    """Give each member that can reach the hub, over as few others as can be, with the one that it pays or receives
    from: of those that are equally near the hub, the one on the other side of the nets that has most, ties by order."""
    nearest, left = [hub], [member for member in nets if member != hub]
    while nearest:
        reached = []
        for member in left:
            side = 1 if nets[member] > 0 else -1
            others = [each for each in nearest if may_pay(member, each)]
            if others:
                reached.append(member)
                yield member, min(others, key=lambda each: side * nets.get(each, 0))
        nearest, left = reached, [member for member in left if member not in reached]
