"""The proof of the balances: journal and record of each account side by side, and where they part for the first time.

What leads from one to the other is arithmetic over rows, not over the matcher's opinions: every movement and every row
belongs to exactly one finding, so the findings' credits add up to the difference whatever was matched with what.
What running balances say by themselves stands in trail.py.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from operator import attrgetter

import numpy as np

from pool_api.domain.matching.columns import Bools, Ints
from pool_api.domain.matching.course import Course
from pool_api.domain.matching.coverage import Covered
from pool_api.domain.matching.differences import Findings
from pool_api.domain.matching.report import AccountProof, DayProof, Parting, Step, Sums
from pool_api.domain.matching.sides import KINDS, Accounts, Side
from pool_api.domain.matching.trail import in_order, trail_of
from pool_api.domain.record import MovementKind


def proofs(
    course: Course, found: Findings, accounts: Accounts, covered: Covered, openings: Mapping[str, int]
) -> tuple[AccountProof, ...]:
    """Prove each account over each span that its record covers, in order of account and span.

    Takes:   openings — the journal's credits before its first movement, per account, 0 where not said."""
    held = {accounts.code(account): credits for account, credits in openings.items()}
    ledgers = _Ledgers(course, found, accounts)
    return tuple(
        ledgers.prove(account, span, held.get(accounts.code(account), 0))
        for account in accounts.handles
        for span in covered.spans(account)
    )


@dataclass(frozen=True, slots=True)
class _Postings:
    """Movements or rows as they concern single accounts, as columns: account, day, kind, credits added to the account,
    number of the finding, and place in the list they come from."""

    account: Ints
    day: Ints
    kind: Ints
    credits: Ints
    group: Ints
    place: Ints

    def at(self, places: Ints | Bools) -> "_Postings":
        """Give some of them."""
        columns = (self.account, self.day, self.kind, self.credits, self.group, self.place)
        return _Postings(*(column[places] for column in columns))

    def by_day(self, days: Ints, counted_on: Ints) -> Ints:
        """Add them up by day and by what happened, a line for each of the days.

        Takes:   days — in order; counted_on — one of the days for each posting."""
        what = _WHAT[self.kind, (self.credits > 0).astype(np.int64)]
        sums = np.zeros(len(days) * len(_FIELDS), dtype=np.int64)
        np.add.at(sums, np.searchsorted(days, counted_on) * len(_FIELDS) + what, np.abs(self.credits))
        return sums.reshape(len(days), len(_FIELDS))


class _Ledgers:
    """Movements and rows by account, each with the finding that it belongs to."""

    def __init__(self, course: Course, found: Findings, accounts: Accounts) -> None:
        self._accounts, self._found, self._rows = accounts, found, course.shown.rows
        self._movements = _of_journal(course.ours, found.of_entry)
        self._posted = _of_record(course.shown.side, course.shown.own, found.of_shown[course.shown.owner])

    def prove(self, account: str, span: tuple[date, date], held: int) -> AccountProof:
        """Prove one account over one span."""
        code, (first, last) = self._accounts.code(account), span
        known = self._movements.at(self._movements.account == code)
        before = int(known.credits[known.day < first.toordinal()].sum())
        movements, rows = _within(known, span), _within(self._posted.at(self._posted.account == code), span)
        trail = trail_of(self._rows[place] for place in rows.place.tolist())
        group, day, credits, counted_on = _by_group(movements, rows)
        days = np.unique(np.concatenate((rows.day, counted_on)))
        ours, theirs = movements.by_day(days, counted_on), rows.by_day(days, rows.day)
        journal, record = _sums(held + before, ours.sum(axis=0)), _sums(trail.opening, theirs.sum(axis=0))
        steps = tuple(
            sorted(
                (
                    Step(
                        key=self._found.key(int(group[at])),
                        day=date.fromordinal(int(day[at])),
                        credits=int(credits[at]),
                    )
                    for at in np.flatnonzero(credits)
                ),
                key=lambda step: (step.day, step.key or ""),
            )
        )
        parting = _parting(first, (journal.opening or 0, record.opening), steps, (counted_on, movements.credits))
        return AccountProof(
            account=account,
            first=first,
            last=last,
            journal=journal,
            record=record,
            steps=steps,
            breaks=trail.breaks,
            parting=parting and replace(parting, row=self._first_apart(rows, parting, group[credits != 0])),
            days=tuple(_days(days, _closings(journal.opening, ours), _closings(record.opening, theirs))),
            stated=trail.closing,
        )

    def _first_apart(self, rows: _Postings, parting: Parting, different: Ints) -> str | None:
        """Give the first row of the parting's day that belongs to one of the findings that make a difference."""
        of_the_day = rows.at(rows.day == parting.day.toordinal())
        apart = {
            self._rows[place].identity for place in of_the_day.place[np.isin(of_the_day.group, different)].tolist()
        }
        ordered = in_order(self._rows[place] for place in of_the_day.place.tolist())
        return next((row.identity for row in ordered if row.identity in apart), None)


def _of_journal(side: Side, group: Ints) -> _Postings:
    """Post each movement to its giver and its receiver, in order; to one of them where they are one account."""
    place = np.repeat(np.arange(len(side), dtype=np.int64), 2)
    account = np.stack((side.giver, side.receiver), axis=1).ravel()
    credits = np.stack((-side.quantity, side.quantity), axis=1).ravel()
    to_itself = np.repeat(side.giver == side.receiver, 2) & (credits < 0)
    postings = _Postings(account, side.day[place], side.kind[place], credits, group[place], place)
    return postings.at(~to_itself)


def _of_record(side: Side, own: Ints, group: Ints) -> _Postings:
    """Post each row to the account whose record it stands in."""
    credits = np.where(side.receiver == own, side.quantity, -side.quantity)
    return _Postings(own, side.day, side.kind, credits, group, np.arange(len(side), dtype=np.int64))


_FIELDS = ("bought", "came_in", "went_out", "used", "refunded")
"""What credits are added up by, as sums call it."""

_WHAT = np.array(
    [
        [_FIELDS.index(outward), _FIELDS.index(inward)]
        for outward, inward in (
            {
                MovementKind.TRANSFER: ("went_out", "came_in"),
                MovementKind.PURCHASE: ("bought", "bought"),
                MovementKind.USE: ("used", "used"),
                MovementKind.REFUND: ("refunded", "refunded"),
            }[kind]
            for kind in KINDS
        )
    ],
    dtype=np.int64,
)
"""The place among these of what happened, by kind and by whether the account gained."""

_SIGNS = np.array([1, 1, -1, -1, 1], dtype=np.int64)


def _sums(opening: int | None, line: Ints) -> Sums:
    return Sums(opening=opening, **dict(zip(_FIELDS, line.tolist(), strict=True)))


def _closings(opening: int | None, lines: Ints) -> Iterator[Sums]:
    """Give the sums of each day, which opens as the one before closed."""
    for line, change in zip(lines, (lines @ _SIGNS).tolist(), strict=True):
        yield _sums(opening, line)
        opening = None if opening is None else opening + change


def _days(days: Ints, journal: Iterable[Sums], record: Iterable[Sums]) -> Iterator[DayProof]:
    for day, ours, theirs in zip(days.tolist(), journal, record, strict=True):
        yield DayProof(day=date.fromordinal(day), journal=ours, record=theirs)


def _within(postings: _Postings, span: tuple[date, date]) -> _Postings:
    first, last = span[0].toordinal(), span[1].toordinal()
    return postings.at((first <= postings.day) & (postings.day <= last))


def _by_group(movements: _Postings, rows: _Postings) -> tuple[Ints, Ints, Ints, Ints]:
    """Give what each finding adds to the record beyond the journal, and on which day it counts: the vendor's where it
    shows the finding, else the journal's.

    Gives:   findings, their days, their credits; and the day on which each movement counts."""
    both = np.concatenate((rows.group, movements.group))
    group, first, place = np.unique(both, return_index=True, return_inverse=True)
    credits = np.zeros(len(group), dtype=np.int64)
    np.add.at(credits, place, np.concatenate((rows.credits, -movements.credits)))
    day = np.concatenate((rows.day, movements.day))[first]
    return group, day, credits, day[place[len(rows.group) :]]


def _parting(
    first: date, openings: tuple[int, int | None], steps: Sequence[Step], by_day: tuple[Ints, Ints]
) -> Parting | None:
    """Find the first day at whose end the balances differ.

    Takes:   openings — the journal's and the record's; by_day — days on which the journal's movements count, and what
             they add."""
    journal_opening, record_opening = openings
    apart = 0 if record_opening is None else record_opening - journal_opening
    parted = first if apart else None
    for day, group in groupby(steps, key=attrgetter("day")):
        if apart and parted != day:
            break
        apart += sum(step.credits for step in group)
        parted = day if apart else parted
    if parted is None or not apart:
        return None
    days, credits = by_day
    balance = journal_opening + int(credits[days <= parted.toordinal()].sum())
    return Parting(
        day=parted,
        journal_balance=balance,
        record_balance=balance + apart,
        keys=tuple(step.key for step in steps if step.day == parted and step.key is not None),
    )
