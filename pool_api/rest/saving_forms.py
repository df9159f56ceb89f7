"""How a saving by ordering together is shown on the wire: month by month and in all, and as CSV."""

from typing import Any, Literal

from pydantic import Field

from pool_api.domain.pool import SavingRule
from pool_api.domain.sharing import SharedSaving, Shares, Verdict
from pool_api.domain.values import Currency, half_up
from pool_api.domain.worth import Joint, MemberWorth, MonthWorth, Told
from pool_api.reports.cells import csv_text
from pool_api.rest.wire import CreditCount, Day, MemberCode, MoneyText, MonthText, WireModel, stated
from pool_api.services.savings import Savings, together

Json = dict[str, Any]


class WorthShown(WireModel):
    """What was taken (drawn from stock, and bought into a member's own hands) and paid, beside what one order a month
    for as much would have cost alone. shared is what the policy's rule gave, below 0 took, beside one unit price for
    all; it is in what was paid."""

    credits: CreditCount
    paid: MoneyText
    alone: MoneyText
    saving: MoneyText
    shared: MoneyText


class MemberWorthShown(WorthShown):
    """What a member took and paid, beside what that would have cost it alone."""

    member: MemberCode


class MonthMemberWorthShown(MemberWorthShown):
    """The same for one month, with the member's shares of one joint order for all that was drawn, by each rule; drawn
    and drawn_alone are without what it bought by itself."""

    drawn: CreditCount
    drawn_alone: MoneyText
    unit_price: MoneyText
    proportional: MoneyText
    shapley: MoneyText


class SubgroupShown(WireModel):
    """Some members, and what they pay beyond what they would by themselves: not above 0 where they do no better
    alone."""

    members: list[MemberCode]
    excess: MoneyText


class ToldShown(WireModel):
    """core: no subgroup would do better alone; outside: the worst off one would; untold: there are too many. worst is
    absent where there is none, where it is untold, and for clerks."""

    verdict: Verdict
    worst: SubgroupShown | None = None


class RuleToldShown(ToldShown):
    """The shares by a rule. Where orders of joining were drawn in place of all, sampled says how many, and
    standard_error the largest standard error of a share."""

    rule: SavingRule
    sampled: int = Field(ge=0)
    standard_error: MoneyText


class JointShown(WireModel):
    """One order for all that was drawn: its size and cost, what members would have paid alone; the shares by each rule;
    and whether a subgroup would have paid less alone than it really paid for what it drew."""

    credits: CreditCount
    ordered: CreditCount
    cost: MoneyText
    alone: MoneyText
    saving: MoneyText
    rules: list[RuleToldShown]
    paid: ToldShown


class MonthWorthShown(WireModel):
    """What a month was worth, by the ladder that counts on its last day; joint is absent where nothing was drawn. rule
    is the policy's."""

    month: MonthText
    state: Literal["open", "closed"]
    ladder: Day
    rule: SavingRule
    members: list[MonthMemberWorthShown]
    joint: JointShown | None = None


class SavingsShown(WireModel):
    """What ordering together was worth: to each member in all, and month by month. Months without a ladder are not in
    it."""

    from_month: MonthText
    to_month: MonthText
    members: list[MemberWorthShown]
    total: WorthShown
    months: list[MonthWorthShown]
    without_ladder: list[MonthText]


class MemberSavingShown(WireModel):
    """A member's part of the joint order at one unit price for all and by the policy's rule, and what the difference
    gives it, below 0 takes."""

    member: MemberCode
    credits: CreditCount
    alone: MoneyText
    unit_price: MoneyText
    share: MoneyText
    shared: MoneyText


class SharedSavingShown(WireModel):
    """How the policy shares the cost of one order for all that was drawn, by the ladder that it names. sampled and
    standard_error say how exact it is: 0 where it is."""

    rule: SavingRule
    ladder: Day
    cost: MoneyText
    sampled: int = Field(ge=0)
    standard_error: MoneyText
    members: list[MemberSavingShown]


def show_savings(found: Savings) -> Json:
    """Give what ordering together was worth."""
    members, currency = found.members, found.currency
    return {
        "from_month": str(found.period.first),
        "to_month": str(found.period.last),
        "members": [{"member": each.member, **_worth(each, currency)} for each in members],
        "total": _worth(together("", members), currency),
        "months": [_month(found, month, closed=closed) for month, closed in found.months],
        "without_ladder": [str(month) for month in found.without_ladder],
    }


def _worth(each: MemberWorth, currency: Currency) -> Json:
    amounts = {name: currency.text(getattr(each, name)) for name in ("paid", "alone", "saving", "shared")}
    return {"credits": each.credits, **amounts}


def _month(found: Savings, month: MonthWorth, *, closed: bool) -> Json:
    return stated(
        {
            "month": str(month.month),
            "state": "closed" if closed else "open",
            "ladder": month.ladder.valid_from.isoformat(),
            "rule": month.rule,
            "members": [_member(each, found.currency) for each in found.told(month)],
            "joint": month.joint and _joint(month.joint, found.currency, named=found.own is None),
        }
    )


def _member(each: MemberWorth, currency: Currency) -> Json:
    return {
        "member": each.member,
        **_worth(each, currency),
        "drawn": each.drawn,
        "drawn_alone": currency.text(each.drawn_alone),
        **{rule.value: currency.text(each.shares.get(rule, 0)) for rule in SavingRule},
    }


def _joint(joint: Joint, currency: Currency, *, named: bool) -> Json:
    order = joint.order
    ordered, _ = order.ordered
    alone = sum(half_up(order.alone(credits)) for _, credits in order.taken)
    return {
        "credits": order.credits,
        "ordered": ordered,
        "cost": currency.text(half_up(order.cost)),
        "alone": currency.text(alone),
        "saving": currency.text(alone - half_up(order.cost)),
        "rules": [
            {"rule": rule, **_exact(shares, currency), **_told(told, currency, named=named)}
            for rule, (shares, told) in joint.rules.items()
        ],
        "paid": _told(joint.paid, currency, named=named),
    }


def _exact(shares: Shares | SharedSaving, currency: Currency) -> Json:
    return {"sampled": shares.sampled, "standard_error": currency.text(shares.error)}


def _told(told: Told, currency: Currency, *, named: bool) -> Json:
    if told.worst is None or not named:
        return {"verdict": told.verdict}
    worst = {"members": [*told.worst.members], "excess": currency.text(half_up(told.worst.excess))}
    return {"verdict": told.verdict, "worst": worst}


def show_shared_saving(found: SharedSaving, currency: Currency) -> Json:
    """Give how the policy of a month shares a saving."""
    return {
        "rule": found.rule,
        "ladder": found.ladder.valid_from.isoformat(),
        "cost": currency.text(found.cost),
        **_exact(found, currency),
        "members": [
            {
                "member": each.member,
                "credits": each.credits,
                "alone": currency.text(each.alone),
                "unit_price": currency.text(each.unit_price),
                "share": currency.text(each.share),
                "shared": currency.text(each.charge),
            }
            for each in found.members
        ],
    }


WORTH_HEAD = ("month", *MonthMemberWorthShown.model_fields, "currency")


def savings_csv(found: Savings) -> str:
    """Give what each month was worth to each member as CSV (RFC 4180) in the columns of WORTH_HEAD."""
    rows = [
        {"month": str(month.month), **_member(each, found.currency), "currency": found.currency.code}
        for month, _ in found.months
        for each in found.told(month)
    ]
    return csv_text([WORTH_HEAD, *([each[name] for name in WORTH_HEAD] for each in rows)], free=1)
