"""What people are shown of a saving by ordering together: what it was worth, and how it is shared."""

from collections.abc import Iterator

from pool_client.cells import tabulated
from pool_client.models.saving import Joint, MonthWorth, RuleTold, Savings, SharedSaving, Told
from pool_client.table import Table

_RULES = {"unit_price": "one unit price", "proportional": "proportion to alone", "shapley": "Shapley value"}


def savings(found: Savings) -> list[Table]:
    """Show what ordering together was worth, in all and then month by month."""
    total = found.total
    rows = [(each.member, each.credits, each.paid, each.alone, each.saving, each.shared or None)
            for each in found.members]  # fmt: skip
    words = [f"Together {total.credits:,} credits for {total.paid:,}; alone {total.alone:,}; saved {total.saving:,}."]
    if found.without_ladder:
        words.append(f"Without a price ladder, and not in it: {', '.join(found.without_ladder)}.")
    months = found.from_month if found.from_month == found.to_month else f"{found.from_month} to {found.to_month}"
    columns = "member|>credits|>paid|>alone|>saving|>shared"
    first = tabulated(f"What ordering together was worth, {months}", columns, rows, *words)
    return [first, *(_month(each, each.joint) for each in found.months if each.joint)]


def _month(month: MonthWorth, joint: Joint) -> Table:
    rows = [
        (each.member, each.drawn, each.drawn_alone, each.unit_price, each.proportional, each.shapley)
        for each in month.members
        if each.drawn
    ]
    title = f"One order for what was drawn in {month.month}, by the ladder from {month.ladder}"
    columns = "member|>drawn|>alone|>one unit price|>in proportion|>Shapley"
    return tabulated(title, columns, rows, *_words(month, joint))


def _words(month: MonthWorth, joint: Joint) -> Iterator[str]:
    yield (
        f"{joint.ordered:,} credits for {joint.cost:,}, alone {joint.alone:,}: saves {joint.saving:,}; "
        f"the policy shares it by {_RULES[month.rule]}."
    )
    yield f"As paid: {_verdict(joint.paid)}"
    for each in joint.rules:
        yield f"By {_RULES[each.rule]}: {_verdict(each)}{_error(each)}"


def _verdict(told: Told) -> str:
    if told.verdict == "untold":
        return "there are too many subgroups to tell whether one would do better alone."
    if told.verdict == "core" or told.worst is None:
        return f"{'no' if told.verdict == 'core' else 'some'} subgroup would do better alone."
    return f"{', '.join(told.worst.members)} would pay {told.worst.excess:,} less alone."


def _error(each: RuleTold) -> str:
    return f" Drawn from {each.sampled:,} orders of joining, to within {each.standard_error:,}." if each.sampled else ""


def shared(found: SharedSaving) -> list[Table]:
    """Show how a month shares the cost of one order for all that was drawn."""
    rows = [(each.member, each.credits, each.alone, each.unit_price, each.share, each.shared) for each in found.members]
    title = f"Saving shared by {_RULES[found.rule]}"
    words = f"One order by the ladder from {found.ladder} costs {found.cost:,}."
    return [tabulated(title, "member|>drawn|>alone|>at one unit price|>its share|>shared", rows, words)]
