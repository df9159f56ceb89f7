"""What people are shown of coming needs, forecasts and covers. Pure, as show.py, which shows all the rest."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from pool_client.cells import tabulated
from pool_client.models.needs import Accuracy, ComingNeeds, Cover, MemberNeeds, MonthNeed, Need, NeedVersion
from pool_client.table import Table

_DOUBTS = {
    "no_history": "no full month known yet, so nothing is forecast",
    "little_history": "too few months to say how far forecasts are off",
    "mean_did_better": "the mean of the last months came closer",
}


def needs(found: ComingNeeds) -> list[Table]:
    """Show what coming months need, how long credits last, and how far forecasts were off."""
    months = [each.month for each in found.months]
    return [_by_month(found, months), _covers(found), _accuracies(found)]


def _by_month(found: ComingNeeds, months: Sequence[str]) -> Table:
    rows = [(each.member, each.used_this_month, *(_need(month) for month in each.months)) for each in found.members]
    if len(found.members) > 1:
        used = sum(each.used_this_month for each in found.members)
        rows.append(("all", used, *(f"{each.need:,}" for each in found.months)))
    columns = "|>".join(["member", "used so far", *months])
    marks = [f"{each.member} {month.month}: {month.stated.reason}" for each in found.members for month in each.months
             if month.stated]  # fmt: skip
    words = [f"From {found.today} on{'; * stated by hand' if marks else ''}."]
    return tabulated("What coming months need", columns, rows, *words, *marks)


def _need(month: MonthNeed) -> str:
    return f"{month.need:,}{'*' if month.stated else ''}"


def _covers(found: ComingNeeds) -> Table:
    every: list[tuple[str, Cover | None]] = [(each.member, each.cover) for each in found.members]
    every += [("stock alone", found.stock), ("stock and members", found.pool)]
    rows = [
        (who, cover and cover.at_hand, cover and _days(cover), cover and cover.runs_dry_on, _warning(cover))
        for who, cover in every
    ]
    notice = found.lead_days + found.review_days
    word = f"With a certainty of {_percent(found.level)}; to warn, {notice} days of lead and review time."
    return tabulated("How long credits last", "who|>at hand|>days|runs dry on|warning", rows, word)


def _days(cover: Cover) -> str:
    return f"{cover.days:,}" if cover.runs_dry_on else f"over {cover.days:,}"


def _warning(cover: Cover | None) -> str | None:
    return "runs short" if cover and cover.short else None


def _accuracies(found: ComingNeeds) -> Table:
    every: list[tuple[str, int | None, Accuracy | None]] = [
        (each.member, each.history_months, each.accuracy) for each in found.members
    ]
    every.append(("all together", None, found.accuracy))
    rows = [
        (
            who,
            history,
            off and off.months,
            off and _short(off.used),
            off and _short(off.error),
            off and _short(off.error_of_last_month),
            off and _short(off.error_of_mean),
            off and off.scaled,
        )
        for who, history, off in every
    ]
    columns = "who|>months known|>held back|>used a month|>off by|>by the month before|>by the mean|>scaled"
    return tabulated("How far forecasts were off", columns, rows, *_doubts(found.members), *found.cautions)


def _doubts(members: Iterable[MemberNeeds]) -> Iterator[str]:
    for each in members:
        for doubt in each.doubts:
            yield f"{each.member}: {_DOUBTS.get(doubt, doubt)}."


def warnings(found: ComingNeeds) -> Iterator[str]:
    """Say who may run dry before lead and review time are over, and whether all together may."""
    every = [*((each.member, each.cover) for each in found.members), ("the pool as a whole", found.pool)]
    for who, cover in every:
        if cover and cover.short:
            yield f"{who} may run dry on {cover.runs_dry_on}: {cover.at_hand:,} credits at hand"


def versions(found: Iterable[Need | NeedVersion]) -> list[Table]:
    """Show needs as they were stated."""
    rows = [
        (each.member, each.month, each.version, each.quantity, each.reason or None, each.written_at, each.written_by)
        for each in found
    ]
    return [tabulated("Needs stated by hand", "member|month|>version|>credits|reason|written|by", rows)]


def _short(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"))


def _percent(level: Decimal) -> str:
    return f"{(level * 100).normalize():f} %"
