"""What members used, by full month: what a forecast rests on.

A month counts for a member when it was in the pool from its first day to its last, and for the pool when the pool had
begun by its first: a month before a shop joined is no month of need 0, and part of a month says little of a whole one.
The present month is left out for the same reason. Source: own rule, decision 54.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Self

from pool_api.domain.pool import Member
from pool_api.domain.values import Month, months_between

MOST_MONTHS = 60
"""The latest months that count; what was used before says nothing of what comes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Whole credits by month, oldest first, every series up to `last`: of the pool as a whole, and of each present
    member, in order of code; a series is as long as there are full months, and may be empty."""

    last: Month
    totals: tuple[int, ...]
    members: tuple[tuple[str, tuple[int, ...]], ...]

    def without_last(self, months: int) -> Self:
        """Give the history as it was some months ago; months >= 1."""
        last = self.last
        for _ in range(months):
            last = last.previous()
        earlier = tuple((code, series[:-months]) for code, series in self.members)
        return type(self)(last=last, totals=self.totals[:-months], members=earlier)


def history_of(
    used: Mapping[Month, Mapping[str, int]], members: Iterable[Member], began_on: date, present: Month
) -> History:
    """Give the history of a pool up to the month before the present one.

    Takes:   used — what each member used, by month, less what reversals took back of it; absent is 0.
    Refuses: nothing."""
    last = present.previous()
    counting = months_between(_first_full(began_on), last)[-MOST_MONTHS:]
    return History(
        last=last,
        totals=tuple(sum(used.get(month, {}).values()) for month in counting),
        members=tuple(
            (
                each.code,
                tuple(
                    used.get(month, {}).get(each.code, 0) for month in counting if month >= _first_full(each.joined_on)
                ),
            )
            for each in sorted(members, key=lambda member: member.code)
        ),
    )


def _first_full(day: date) -> Month:
    month = Month.of(day)
    return month if day == month.first else month.next()
