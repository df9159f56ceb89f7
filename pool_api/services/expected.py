"""What the vendor should show of the journal: a row for every movement between different vendor accounts, for purchases
and for uses. The stock sits in the account of whoever is its custodian on the day.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from typing import Any

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
from pool_api.domain.matching import Movement
from pool_api.domain.record import MovementKind
from pool_api.domain.reversals import IN_ORDER
from pool_api.domain.values import STOCK
from pool_api.store.directory import Directory


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


def opened(accounts: Accounts, entries: Sequence[Entry]) -> dict[str, int]:
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


def movements(facts: Directory, accounts: Accounts, entries: Iterable[Entry]) -> Iterator[Movement]:
    """Give what the vendor should show, in the order of the entries, which is that of their numbers."""
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
