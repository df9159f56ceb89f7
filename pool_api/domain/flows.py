"""How debts are passed along allowed steps until they meet claims: this file knows, nobody else does.

Members have amounts that add up to zero, below zero what they owe, above what they are owed. A step from one member to
another is a payment; who may pay whom is the same both ways. What is found never goes round in a circle, so members
that payments connect are one more than the payments. Who a pool forbids to pay whom stands in paying.py.
"""

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise

MayPay = Callable[[str, str], bool]
Payments = dict[tuple[str, str], int]
"""Amounts above 0 by (payer, payee)."""


def components(members: Iterable[str], may_pay: MayPay) -> list[tuple[str, ...]]:
    """Give the members in the parts between which no payment is possible, not even through others; in order."""
    left = ordered = sorted(members)
    found = []
    while left:
        reached = _walk(left[0], lambda here: [each for each in ordered if may_pay(here, each)])
        found.append(tuple(sorted(reached)))
        left = [member for member in left if member not in reached]
    return found


def _walk(start: str, steps: Callable[[str], Iterable[str]]) -> dict[str, str | None]:
    """Give all that is reached from a start, by the number of steps, each with the one before it on the way."""
    before: dict[str, str | None] = {start: None}
    waiting = deque([start])
    while waiting:
        here = waiting.popleft()
        for each in steps(here):
            if each not in before:
                before[each] = here
                waiting.append(each)
    return before


def _way_to(goal: str, before: Mapping[str, str | None]) -> list[str]:
    way = [goal]
    while (at := before[way[-1]]) is not None:
        way.append(at)
    return way[::-1]


def cleared(amounts: Mapping[str, int], may_pay: MayPay, *, go_betweens: bool) -> Payments | None:
    """Clear amounts by payments between those that may pay each other, fewer than there are members.

    Takes:   amounts — their sum is 0, in the order in which ties are broken; go_betweens — whether a member may pass
             money on: only what can't be paid otherwise is passed on, over as few steps as can be.
    Gives:   the payments in order; None where no such payments clear the amounts, which without go-betweens means that
             none exist, and with them that some members can't reach each other.
    Source:  whoever owes most pays whom most is owed; then shortest augmenting paths (Edmonds & Karp, Journal of the
             ACM 19 (1972) 248-264 [from memory]); circles are taken out as from any flow."""
    clearing = _Clearing(amounts, may_pay)
    clearing.pay_largest_first()
    clearing.augment(clearing.reroutes)
    if go_betweens:
        clearing.augment(clearing.passes_on)
    if any(clearing.left.values()):
        return None
    return dict(sorted(_without_circles(clearing.payments).items()))


class _Clearing:
    """Amounts while they are cleared: what is left of each, and the payments so far."""

    def __init__(self, amounts: Mapping[str, int], may_pay: MayPay) -> None:
        self.amounts = amounts
        self.left = dict(amounts)
        self.payments: Payments = {}
        self._may_pay = may_pay

    def pay_largest_first(self) -> None:
        """Let whoever owes most pay whom most is owed among those that it may pay, ties by order, to the end."""
        while True:
            payers = sorted((each for each in self.left if self.left[each] < 0), key=lambda each: self.left[each])
            payees = sorted((each for each in self.left if self.left[each] > 0), key=lambda each: -self.left[each])
            ways = ((payer, payee) for payer in payers for payee in payees if self._may_pay(payer, payee))
            if (way := next(ways, None)) is None:
                return
            self._pay(way, min(-self.left[way[0]], self.left[way[1]]))

    def augment(self, steps: Callable[[str], Iterable[str]]) -> None:
        """Clear what is left along shortest ways, as far as there are ways."""
        for payer in [each for each in self.left if self.left[each] < 0]:
            while self.left[payer]:
                before = _walk(payer, steps)
                payee = next((each for each in before if self.left[each] > 0), None)
                if payee is None:
                    break
                way = _way_to(payee, before)
                taken_back = [self.payments[step[::-1]] for step in pairwise(way) if step[::-1] in self.payments]
                self._pay(way, min(-self.left[payer], self.left[payee], *taken_back))

    def reroutes(self, member: str) -> list[str]:
        """Steps without go-betweens: a debtor pays creditors, a creditor gives back what debtors pay it."""
        if self.amounts[member] < 0:
            return [each for each, amount in self.amounts.items() if amount > 0 and self._may_pay(member, each)]
        return [each for each in self.amounts if (each, member) in self.payments]

    def passes_on(self, member: str) -> list[str]:
        """Steps with go-betweens: whoever may be paid."""
        return [each for each in self.amounts if each != member and self._may_pay(member, each)]

    def _pay(self, way: Sequence[str], amount: int) -> None:
        self.left[way[0]] += amount
        self.left[way[-1]] -= amount
        for payer, payee in pairwise(way):
            _add(self.payments, payer, payee, amount)


def _add(payments: Payments, payer: str, payee: str, amount: int) -> None:
    """Add a payment, first by taking back what goes the other way."""
    net = payments.pop((payer, payee), 0) - payments.pop((payee, payer), 0) + amount
    if net > 0:
        payments[payer, payee] = net
    elif net < 0:
        payments[payee, payer] = -net


def _without_circles(payments: Payments) -> Payments:
    """Take out payments that go round in a circle, whatever their directions, without changing what anybody gives or
    gets in sum; no more money moves than before."""
    found = dict(payments)
    while circle := _circle(found):
        along = [step for step in circle if step in found]
        against = [step[::-1] for step in circle if step not in found]
        less = along if len(along) >= len(against) else against
        amount = min(found[step] for step in less)
        for payer, payee in circle if less is against else [step[::-1] for step in circle]:
            _add(found, payer, payee, amount)
    return found


def _circle(payments: Payments) -> list[tuple[str, str]]:
    """Give the steps of a circle among payments taken without direction, none where there is no circle."""
    linked: dict[str, list[str]] = {}
    for payer, payee in sorted(payments):
        before = _walk(payer, lambda here: linked.get(here, ()))
        if payee in before:
            return [*pairwise([*_way_to(payee, before), payer])]
        linked.setdefault(payer, []).append(payee)
        linked.setdefault(payee, []).append(payer)
    return []
