"""Months costed one after the other, each from what the one before left.

Promises: a month is costed again only where something that its sheet rests on is no longer the same. Which entries came
in between is of no interest: what they change shows in a month's activity, and then in what it hands on.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from pool_api.domain.activity import Activity
from pool_api.domain.costing import Terms, month_sheet, originals
from pool_api.domain.effects import Original
from pool_api.domain.entries import Reversal
from pool_api.domain.pool import Policy
from pool_api.domain.sheets import Position, Sheet, closing
from pool_api.domain.values import Month


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One month of a chain: its sheet, and the original amounts, by entry number, that reversals in later months take
    their parts of. The rest is what these two rest on: see Terms and Activity; undone are the original amounts of what
    the month's reversals undo, earlier those of all that is reversed of earlier months."""

    sheet: Sheet
    originals: dict[int, Original]
    terms: Terms
    opening: Position
    undone: dict[int, Original]
    earlier: dict[int, Original]
    changes: int
    references: int


NOTHING: Mapping[Month, Link] = {}
"""A chain of which nothing is kept."""


def month_chain(
    activities: Mapping[Month, Activity],
    *,
    months: Iterable[Month],
    terms_of: Callable[[Month], Terms],
    settle: Callable[[Sheet], Mapping[str, int]],
    kept: Mapping[Month, Link] = NOTHING,
) -> Iterator[tuple[Link, Position]]:
    """Cost months one after the other.

    Takes:   activities of a pool's months; months without a gap, from the first with an entry on; settle, which gives
             the dues that remain of a sheet once it is settled; kept, links of an earlier chain of the same activities,
             as they were then.
    Gives:   each month's link, whose sheet is the kept one where that rests on the same, and the position that it hands
             on."""
    position, earlier = Position(), dict[int, Original]()
    for month in months:
        found = _link(month, activities.get(month, Activity()), terms_of(month), (position, earlier), kept.get(month))
        position, earlier = closing(found.sheet, settle(found.sheet)), found.originals
        yield found, position


def under(link: Link, activity: Activity, policy: Policy) -> Sheet:
    """Cost the month of a link from all that it rests on, but under another policy. activity is as it was then."""
    return month_sheet(
        month=link.sheet.month,
        opening=link.opening,
        activity=activity,
        originals=link.undone,
        terms=replace(link.terms, policy=policy),
    )


def _link(
    month: Month, activity: Activity, terms: Terms, before: tuple[Position, dict[int, Original]], kept: Link | None
) -> Link:
    opening, earlier = before
    undone = {of: earlier[of] for each in activity.later if isinstance(each.body, Reversal) for of in [each.body.entry]}
    if kept and (kept.changes, kept.terms, kept.opening, kept.undone) == (activity.changes, terms, opening, undone):
        sheet = kept.sheet
    else:
        sheet = month_sheet(month=month, opening=opening, activity=activity, originals=undone, terms=terms)
    if kept and sheet is kept.sheet and earlier is kept.earlier and kept.references == activity.references:
        return kept
    return Link(
        sheet=sheet,
        originals=originals(sheet, activity.concerned(), earlier),
        terms=terms,
        opening=opening,
        undone=undone,
        earlier=earlier,
        changes=activity.changes,
        references=activity.references,
    )
