"""The journal against the vendor's record of one month: what each side says, how they match, and the proof.

What the vendor should show follows from the entries: a row for every movement between different vendor accounts, for
purchases and for uses. The stock sits in the account of whoever is its custodian on the day.
"""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.entries import (
    Direction,
    Draw,
    Entry,
    Loan,
    Opening,
    Outside,
    Purchase,
    Relocation,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
    quantity_of,
)
from pool_api.domain.errors import NotFound
from pool_api.domain.matching import WINDOW_DAYS, AccountProof, Difference, Match, Movement, Report, Revisions, match
from pool_api.domain.record import MovementKind, VendorRow
from pool_api.domain.reversals import IN_ORDER
from pool_api.domain.values import STOCK, Month
from pool_api.services.office import Office
from pool_api.store import directory, journal, revisions, vendor
from pool_api.store.directory import Directory
from pool_api.store.engine import reading
from pool_api.store.journal import EntryFilter
from pool_api.store.vendor import Decision

Spans = dict[str, list[tuple[date, date]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reconciliation:
    """A month's comparison: what is of the month, with the decisions made so far, and the proof per vendor account."""

    month: Month
    matches: tuple[Match, ...]
    differences: tuple[Difference, ...]
    proof: tuple[AccountProof, ...]
    limits: tuple[str, ...]
    decisions: dict[str, Decision]
    rows: dict[str, VendorRow]
    entries: dict[int, Entry]
    directory: Directory
    accounts: "Accounts"

    def undecided(self) -> tuple[Difference, ...]:
        """Give the differences that nobody has accepted or dismissed."""
        return tuple(each for each in self.differences if each.key not in self.decisions)


def reconcile(office: Office, caller: Caller, pool: str, month: Month) -> Reconciliation:
    """Compare a month. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    return compared(office, pool, month)


def count_undecided(office: Office, pool: str, month: Month) -> int:
    """Give how many differences of a month nobody has accepted or dismissed; none where no record was imported.

    Refuses: NotFound."""
    with reading(office.engine, pool) as connection:
        if not vendor.read_coverage(connection, pool):
            return 0
    return len(compared(office, pool, month).undecided())


def compared(office: Office, pool: str, month: Month) -> Reconciliation:
    """As `reconcile`, for a caller whose right was asked already."""
    with reading(office.engine, pool) as connection:
        facts = directory.read_directory(connection, pool)
        if facts is None:
            raise NotFound(what="pool", name=pool)
        margin = timedelta(days=WINDOW_DAYS)
        entries = list(journal.read_entries(connection, pool, EntryFilter(to_day=month.last + margin)))
        rows, stands = revisions.read_counting(
            connection, pool, first_day=month.first - margin, last_day=month.last + margin
        )
        coverage = vendor.read_coverage(connection, pool)
        decisions = vendor.read_decisions(connection, pool)
    own = {each.handle.casefold(): each.handle for member in facts.members.values() for each in member.handles}
    spans: Spans = {account: [] for account in own.values()}
    for account, days in coverage.items():
        if account.casefold() in own:
            spans[own[account.casefold()]] += days
    accounts = Accounts(facts, entries)
    movements = list(_movements(facts, accounts, entries))
    opened = _opened(accounts, entries)
    rows = [row for row in rows if row.account.casefold() in own]
    since = Revisions.of(stands.open, {key for key, made in decisions.items() if made.verdict == "dismissed"})
    wide = _matched(movements, rows, spans, opened, (month.first - margin, month.last + margin), since=since)
    exact = _matched(movements, rows, spans, opened, (month.first, month.last), since=since)
    return Reconciliation(
        month=month,
        matches=tuple(each for each in wide.matches if Month.of(each.day) == month),
        differences=tuple(each for each in wide.differences if Month.of(each.day) == month),
        proof=exact.proof,
        limits=(*wide.limits, *_left_out(coverage, own)),
        decisions=decisions,
        rows={row.identity: row for row in (*rows, *(each.later for each in stands.open if each.later))},
        entries={entry.number: entry for entry in entries},
        directory=facts,
        accounts=accounts,
    )


def _left_out(accounts: Iterable[str], own: Container[str]) -> Iterator[str]:
    for account in sorted(accounts):
        if account.casefold() not in own:
            yield f"The record of {account} is left out: no member has or had this vendor account."


def _matched(
    movements: Sequence[Movement],
    rows: Sequence[VendorRow],
    spans: Spans,
    opened: Mapping[str, int],
    span: tuple[date, date],
    *,
    since: Revisions,
) -> Report:
    first, last = span
    clipped = {
        account: [(max(start, first), min(end, last)) for start, end in days if start <= last and end >= first]
        for account, days in spans.items()
    }
    openings = dict(opened)
    for movement in movements:
        if movement.day < first:
            for account, sign in ((movement.giver, -1), (movement.receiver, 1)):
                if account in spans:
                    openings[account] = openings.get(account, 0) + sign * movement.quantity
    return match(
        [movement for movement in movements if first <= movement.day <= last],
        [row for row in rows if first <= row.day <= last],
        clipped,
        openings=openings,
        revisions=since,
    )


# --- what the vendor should show -------------------------------------------------------------------------------------


class Accounts:
    """Which vendor account a member, or the stock, has on a day, and whose an account is. Accounts are compared without
    regard to case."""

    def __init__(self, facts: Directory, entries: Iterable[Entry]) -> None:
        self._members = facts.members
        self._first = facts.pool.custodian
        moved = [entry for entry in entries if isinstance(entry.body, Relocation)]
        self._moved = sorted(moved, key=IN_ORDER)

    def of(self, holder: str, day: date) -> str | None:
        """Give an account, None where there is none on that day."""
        code = self.custodian(day) if holder == STOCK else holder
        member = self._members.get(code) if code else None
        return member.handle_on(day) if member else None

    def member_of(self, account: str, day: date) -> str | None:
        """Give whose an account is on a day, or else whose it ever was; None where it never was a member's."""
        folded = account.casefold()
        ever = [each for each in self._members.values() if folded in {has.handle.casefold() for has in each.handles}]
        on_the_day = (each for each in ever if (each.handle_on(day) or "").casefold() == folded)
        found = next(on_the_day, next(iter(ever), None))
        return found.code if found else None

    def custodian(self, day: date) -> str | None:
        """Give whose account the stock is in at the end of a day."""
        found = self._first
        for entry in self._moved:
            if entry.effective_on <= day and isinstance(entry.body, Relocation):
                found = entry.body.to_member
        return found


def _opened(accounts: Accounts, entries: Sequence[Entry]) -> dict[str, int]:
    """Give what the old books said was in each vendor account; the vendor shows no row for it."""
    undone = {entry.body.entry for entry in entries if isinstance(entry.body, Reversal)}
    found: dict[str, int] = {}
    for entry in entries:
        if isinstance(entry.body, Opening) and entry.number not in undone:
            for holder, quantity in (
                (STOCK, entry.body.stock_quantity),
                *((m.member, m.held) for m in entry.body.members),
            ):
                account = accounts.of(holder, entry.effective_on)
                if account is not None:
                    found[account] = found.get(account, 0) + quantity
    return found


def _movements(facts: Directory, accounts: Accounts, entries: Sequence[Entry]) -> Iterator[Movement]:
    known: dict[int, Movement] = {}
    for entry in entries:
        if isinstance(entry.body, Reversal):
            found = _opposite(entry, entry.body, known.get(entry.body.entry))
        else:
            found = _movement(entry, accounts, facts)
        if found is not None and found.giver != found.receiver:
            known[entry.number] = found
            yield found


def _movement(entry: Entry, accounts: Accounts, facts: Directory) -> Movement | None:
    body = entry.body
    sides = _SIDES.get(type(body))
    if sides is None or (isinstance(body, WriteOff) and body.reason is WriteOffReason.LOST):
        return None
    kind, giver, receiver = sides(body, lambda holder: accounts.of(holder, entry.effective_on))
    if giver is None and receiver is None:
        return None
    purchase = body if isinstance(body, Purchase) else None
    return Movement(
        entry=entry.number,
        day=entry.effective_on,
        kind=kind,
        giver=giver,
        receiver=receiver,
        quantity=quantity_of(body) or 0,
        note=entry.note,
        reference=purchase.order_number if purchase else None,
        amount=facts.pool.currency.text(purchase.amount) if purchase else None,
    )


_Account = Callable[[str], str | None]
_Sides = tuple[MovementKind, str | None, str | None]


def _outside(body: Outside, account: _Account) -> _Sides:
    own = account(body.member)
    sides = (body.party, own) if body.direction is Direction.IN else (own, body.party)
    return (MovementKind.TRANSFER, *sides)


_SIDES: dict[type, Callable[[Any, _Account], _Sides]] = {
    Purchase: lambda body, account: (MovementKind.PURCHASE, None, account(body.into)),
    Draw: lambda body, account: (MovementKind.TRANSFER, account(STOCK), account(body.member)),
    Loan: lambda body, account: (MovementKind.TRANSFER, account(body.lender), account(body.borrower)),
    Return: lambda body, account: (MovementKind.TRANSFER, account(body.borrower), account(body.lender)),
    Use: lambda body, account: (MovementKind.USE, account(body.member), None),
    WriteOff: lambda body, account: (MovementKind.USE, account(body.holder), None),
    Outside: _outside,
    Relocation: lambda body, account: (MovementKind.TRANSFER, account(body.from_member), account(body.to_member)),
}
"""What the vendor should show of each kind: what moved, from which account, to which."""


def _opposite(entry: Entry, body: Reversal, reversed_: Movement | None) -> Movement | None:
    if reversed_ is None or body.quantity is None:
        return None
    kind = {MovementKind.USE: MovementKind.REFUND, MovementKind.PURCHASE: MovementKind.USE}.get(
        reversed_.kind, reversed_.kind
    )
    return Movement(
        entry=entry.number,
        day=entry.effective_on,
        kind=kind,
        giver=reversed_.receiver,
        receiver=reversed_.giver,
        quantity=body.quantity,
        note=entry.note,
        reverses=reversed_.entry,
    )
