"""The proof of the balances: journal and record of each account side by side, and where they part for the first time.

What leads from one to the other is arithmetic over rows, not over the matcher's opinions: every movement and every row
belongs to exactly one finding, so the findings' credits add up to the difference whatever was matched with what.
What running balances say by themselves stands in trail.py.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import groupby
from operator import attrgetter

from pool_api.domain.matching.course import Course
from pool_api.domain.matching.coverage import Covered
from pool_api.domain.matching.differences import Findings
from pool_api.domain.matching.report import AccountProof, Movement, Parting, Step, Sums
from pool_api.domain.matching.sides import Accounts
from pool_api.domain.matching.trail import trail_of
from pool_api.domain.record import MovementKind, VendorRow


def proofs(
    course: Course, found: Findings, accounts: Accounts, covered: Covered, openings: Mapping[str, int]
) -> tuple[AccountProof, ...]:
    """Prove each account over each span that its record covers, in order of account and span.

    Takes:   openings — the journal's credits before its first movement, per account, 0 where not said."""
    held = {accounts.code(account): credits for account, credits in openings.items()}
    desk = _Desk(course, found, accounts)
    return tuple(
        desk.prove(account, span, held.get(accounts.code(account), 0))
        for account in accounts.handles
        for span in covered.spans(account)
    )


class _Desk:
    """Movements, rows and groups of findings, by account."""

    def __init__(self, course: Course, found: Findings, accounts: Accounts) -> None:
        self._accounts = accounts
        self._movements: dict[int, list[tuple[Movement, int]]] = {}
        self._rows: dict[int, list[tuple[VendorRow, int]]] = {}
        named = {place for _, lefts, _ in found.groups for place in lefts}
        unnamed = tuple(place for place in range(len(course.journal)) if place not in named)
        groups: list[tuple[str | None, tuple[int, ...], tuple[int, ...]]] = [*found.groups, (None, unnamed, ())]
        self._keys = [key for key, _, _ in groups]
        for number, (_, lefts, rights) in enumerate(groups):
            for place in lefts:
                movement = course.journal[place]
                for code in {accounts.code(movement.giver), accounts.code(movement.receiver)}:
                    self._movements.setdefault(code, []).append((movement, number))
            for place in rights:
                for row in course.shown[place].rows:
                    self._rows.setdefault(accounts.code(row.account), []).append((row, number))

    def prove(self, account: str, span: tuple[date, date], held: int) -> AccountProof:
        """Prove one account over one span."""
        code, (first, last) = self._accounts.code(account), span
        known = self._movements.get(code, [])
        before = sum(self._signed(movement, code) for movement, _ in known if movement.day < first)
        movements = [each for each in known if first <= each[0].day <= last]
        rows = [each for each in self._rows.get(code, []) if first <= each[0].day <= last]
        trail = trail_of(row for row, _ in rows)
        journal = self._sums(held + before, (movement for movement, _ in movements), code)
        record = self._sums(trail.opening, (row for row, _ in rows), code)
        days = _days(movements, rows)
        steps = self._steps(code, days, movements, rows)
        by_day = [(days[number], self._signed(movement, code)) for movement, number in movements]
        return AccountProof(
            account=account,
            first=first,
            last=last,
            journal=journal,
            record=record,
            steps=steps,
            breaks=trail.breaks,
            parting=_parting(first, (journal.opening or 0, record.opening), steps, by_day),
        )

    def _signed(self, told: Movement | VendorRow, code: int) -> int:
        return told.quantity if self._accounts.code(told.receiver) == code else -told.quantity

    def _sums(self, opening: int | None, told: Iterable[Movement | VendorRow], code: int) -> Sums:
        totals: Counter[str] = Counter()
        for each in told:
            inward = self._signed(each, code) > 0
            name = {
                MovementKind.PURCHASE: "bought",
                MovementKind.USE: "used",
                MovementKind.REFUND: "refunded",
                MovementKind.TRANSFER: "came_in" if inward else "went_out",
            }[each.kind]
            totals[name] += each.quantity
        return Sums(opening=opening, **totals)

    def _steps(
        self,
        code: int,
        days: Mapping[int, date],
        movements: Sequence[tuple[Movement, int]],
        rows: Sequence[tuple[VendorRow, int]],
    ) -> tuple[Step, ...]:
        """Give what each group adds to the record beyond the journal, where that isn't nothing."""
        credits: Counter[int] = Counter()
        for row, number in rows:
            credits[number] += self._signed(row, code)
        for movement, number in movements:
            credits[number] -= self._signed(movement, code)
        steps = [Step(key=self._keys[n], day=days[n], credits=total) for n, total in credits.items() if total]
        return tuple(sorted(steps, key=lambda step: (step.day, step.key or "")))


def _days(movements: Iterable[tuple[Movement, int]], rows: Iterable[tuple[VendorRow, int]]) -> dict[int, date]:
    """Give the day on which each group counts: the vendor's where it shows the group, else the journal's."""
    found: dict[int, date] = {}
    for row, number in rows:
        found.setdefault(number, row.day)
    for movement, number in movements:
        found.setdefault(number, movement.day)
    return found


def _parting(
    first: date, openings: tuple[int, int | None], steps: Sequence[Step], by_day: Iterable[tuple[date, int]]
) -> Parting | None:
    """Find the first day at whose end the balances differ.

    Takes:   openings — the journal's and the record's; by_day — what the journal's movements add, with their days."""
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
    balance = journal_opening + sum(credits for day, credits in by_day if day <= parted)
    return Parting(
        day=parted,
        journal_balance=balance,
        record_balance=balance + apart,
        keys=tuple(step.key for step in steps if step.day == parted and step.key is not None),
    )
