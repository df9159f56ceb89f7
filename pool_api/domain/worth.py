"""What ordering together was worth in a month: what each member paid, beside what it would have paid alone.

A member paid what it took cost it, by draws from the stock at their cost, by purchases into its own hands, and by how a
saving was shared. Alone it would have ordered as much once in the month, at the least cost by the ladder of the month.
Loans change nothing: they are credits that someone took.

What was drawn was ordered together, so this alone is shared by the rules: each share is of one joint order for all that
was drawn. Whether a subgroup would do better alone is told of the shares, and of what members really paid for what they
drew, which also depends on how large the pool's orders were.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from pool_api.domain.ladder import Ladder
from pool_api.domain.pool import SavingRule
from pool_api.domain.sharing import JointOrder, Shares, Subgroup, Verdict, alone
from pool_api.domain.sheets import MemberSheet, Sheet
from pool_api.domain.values import Month, half_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Whether a subgroup would do better alone, and the one that is worst off; None where there is none, or too many
    to look at."""

    verdict: Verdict
    worst: Subgroup | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One order for all that was drawn, with its shares by each rule; paid is about what members paid for what they
    drew."""

    order: JointOrder
    rules: Mapping[SavingRule, tuple[Shares, Told]]
    paid: Told


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberWorth:
    """What a member took and paid, and what that would have cost it alone; shared is what the month's policy gave it
    (below 0: took) beside one unit price for all, and is in what it paid. drawn are the credits it drew, drawn_alone
    what they would have cost it alone, shares its shares of the joint order. Amounts are minor units."""

    member: str
    credits: int
    paid: int
    alone: int
    shared: int
    drawn: int = 0
    drawn_alone: int = 0
    shares: Mapping[SavingRule, int]

    @property
    def saving(self) -> int:
        """What it saved; below 0 where it would have paid less alone."""
        return self.alone - self.paid


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthWorth:
    """A month's members that took anything, in order of code; joint is None where nothing was drawn."""

    month: Month
    ladder: Ladder
    rule: SavingRule
    members: tuple[MemberWorth, ...]
    joint: Joint | None


def month_worth(sheet: Sheet, ladder: Ladder) -> MonthWorth:
    """Tell what a month was worth, by a ladder. Refuses: nothing."""
    drawn = tuple((each.member, each.draws.quantity) for each in sheet.members if each.draws.quantity)
    order = JointOrder(taken=drawn, ladder=ladder) if drawn else None
    rules = _rules(order, str(sheet.month)) if order else {}
    amounts = {rule: shares.amounts for rule, (shares, _) in rules.items()}
    members = []
    for each in sheet.members:
        credits = each.draws.quantity + each.purchases.quantity
        if credits:
            members.append(
                MemberWorth(
                    member=each.member,
                    credits=credits,
                    paid=each.draws.cost + each.purchases.cost - each.due.saving_shared,
                    alone=half_up(alone(ladder, credits)),
                    shared=each.due.saving_shared,
                    drawn=each.draws.quantity,
                    drawn_alone=half_up(alone(ladder, each.draws.quantity)),
                    shares={rule: parts.get(each.member, 0) for rule, parts in amounts.items()},
                )
            )
    joint = Joint(order=order, rules=rules, paid=_paid(order, sheet.members)) if order else None
    return MonthWorth(
        month=sheet.month, ladder=ladder, rule=sheet.policy.saving_rule, members=tuple(members), joint=joint
    )


@lru_cache(maxsize=128)
def _rules(order: JointOrder, seed: str) -> Mapping[SavingRule, tuple[Shares, Told]]:
    """Share the order by each rule. An order that was looked at before is given again: it may take seconds."""
    found = {rule: order.shares(rule, seed) for rule in SavingRule}
    return {rule: (shares, _told(order, shares.exact)) for rule, shares in found.items()}


def _paid(order: JointOrder, members: Sequence[MemberSheet]) -> Told:
    return _told(order, {each.member: each.draws.cost - each.due.saving_shared for each in members})


def _told(order: JointOrder, paid: Mapping[str, Fraction | int]) -> Told:
    worst = order.worst_off(paid)
    return Told(verdict=order.verdict(worst), worst=worst)
