"""Whether a fact may be recorded.

Deciding is pure: a Desk holds the facts (terms, members, the book so far, today, the entries that a command refers to)
and says either the body to record or why not. What an entry then does to the book stands in book.py.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pool_api.domain import stock
from pool_api.domain.book import Book, Move, close_of, closes_of, moves, moves_of, planned, policy_under
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Close,
    Command,
    Entry,
    Json,
    Loan,
    Opening,
    Payment,
    Relocation,
    Reopening,
    Return,
    Reversal,
    SignOff,
    parties,
    quantity_of,
)
from pool_api.domain.errors import (
    BeforePoolBegan,
    CostWithoutCredits,
    EntryNotFound,
    MemberLeft,
    MemberNotYetJoined,
    MonthClosed,
    MonthNotClosed,
    MonthNotReached,
    MonthsOutOfOrder,
    MoreThanLeft,
    MoreThanUnpaid,
    NotCustodian,
    NotDivisible,
    NotEnoughHeld,
    NotEnoughInStock,
    NotEnoughOpen,
    NotLastClosed,
    NotOtherSide,
    NotReversible,
    OpeningNotFirstDay,
    OpeningTooLate,
    OpeningTwice,
    OpeningUnbalanced,
    PaidInFull,
    PaymentMismatch,
    PaymentsRecorded,
    PreviewStale,
    ReversalBeforeEntry,
    SameMember,
    StockCostImpossible,
    TooFarAhead,
    UnknownMember,
    UnknownSettlementPayment,
)
from pool_api.domain.hashing import chained
from pool_api.domain.layers import Impossible
from pool_api.domain.pool import LoansAtClose, Member, Pool
from pool_api.domain.values import STOCK, Month, checked_quantity, months_between

IRREVERSIBLE = {
    "relocation": "record another relocation back",
    "reversal": "record again what was reversed",
    "acknowledgement": "record another acknowledgement",
    "close": "reopen the month",
    "reopening": "close the month again",
    "sign_off": "sign the reconciliation off again once it has changed",
}
"""Kinds that are not reversed, each with the way to put it right."""

UNDIVIDED = frozenset({"opening", "charge", "payment"})
"""Kinds that are reversed as a whole: they have no one quantity."""

OF_STOCK = (*stock.MOVING_KINDS, Close.kind, Reopening.kind)
"""Kinds that tell what the stock cost, and by which rule."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The facts that deciding needs.

    targets holds every entry that a command refers to and that exists; history gives the pool's entries of the kinds of
    OF_STOCK, in order, and is called only for reversals that reach into the stock of an earlier month; moved_since
    tells whether an entry after a number touches a month or an earlier one."""

    pool: Pool
    members: Mapping[str, Member]
    book: Book
    today: date
    targets: Mapping[int, Entry]
    history: Callable[[], Iterable[Entry]]
    opening: int | None = None
    last_close: Entry | None = None
    moved_since: Callable[[Month, int], bool] = lambda _month, _number: False

    def decide(self, command: Command) -> Body:
        """Give the body to record for a command, its quantities resolved.

        Refuses: with the refusal that names the broken rule and its figures. Never changes anything."""
        body = command.body
        if isinstance(body, Close | Reopening | SignOff):
            return self._of_month(body)
        self._check_day(command.effective_on)
        match body:
            case Reversal():
                return self._reversal(command, body)
            case Acknowledgement():
                return self._acknowledgement(body)
            case Opening():
                self._check_opening(body, command.effective_on)
            case Payment():
                body = self._payment(body)
            case Relocation():
                self._check_relocation(body)
        self._check_sides(body, command.effective_on)
        if (quantity := quantity_of(body)) is not None:
            checked_quantity(quantity)
        self._check_moves(moves_of(body, quantity or 0))
        return body

    def _of_month(self, body: Close | Reopening | SignOff) -> Body:
        """Decide on what is said of a month as a whole, closed or not."""
        match body:
            case Close():
                return self._close(body)
            case Reopening():
                return self._reopening(body)
            case SignOff():
                return self._sign_off(body)

    def _check_day(self, day: date) -> None:
        latest = self.today + timedelta(days=1)
        if day < self.pool.began_on:
            raise BeforePoolBegan(effective_on=day.isoformat(), began_on=self.pool.began_on.isoformat())
        if day > latest:
            raise TooFarAhead(effective_on=day.isoformat(), latest=latest.isoformat())
        closed = self.book.closed_through
        if closed is not None and Month.of(day) <= closed:
            raise MonthClosed(effective_on=day.isoformat(), closed_through=str(closed))

    def _check_sides(self, body: Body, day: date) -> None:
        """A payment that a close asked for is taken after its side has left, too, but not what goes beyond it."""
        sides = _named(body)
        settles = isinstance(body, Payment) and body.amount == body.answers
        for code in sides:
            check_member(self.members, code, day, may_have_left=settles)
        if len(sides) == 2 and sides[0] == sides[1]:
            raise SameMember(member=sides[0])

    def _check_moves(self, asked: Iterable[Move]) -> None:
        for move in asked:
            there = self.book.at(move)
            if there + move.change >= 0:
                continue
            if move.member is None:
                raise NotEnoughInStock(stock=there, quantity=-move.change)
            if move.borrower is None:
                raise NotEnoughHeld(member=move.member, held=there, quantity=-move.change)
            raise NotEnoughOpen(lender=move.member, borrower=move.borrower, open=there, quantity=-move.change)

    def _check_opening(self, body: Opening, day: date) -> None:
        if self.book.closed_through is not None:
            raise OpeningTooLate(closed_through=str(self.book.closed_through))
        if self.opening is not None:
            raise OpeningTwice(entry=self.opening)
        if day != self.pool.began_on:
            raise OpeningNotFirstDay(began_on=self.pool.began_on.isoformat(), effective_on=day.isoformat())
        dues = sum(each.due for each in body.members)
        if dues != body.stock_cost:
            raise OpeningUnbalanced(dues=dues, stock_cost=body.stock_cost)
        holders = [(each.member, each.held, each.cost) for each in body.members]
        for holder, held, cost in (*holders, (STOCK, body.stock_quantity, body.stock_cost)):
            if held == 0 and cost != 0:
                raise CostWithoutCredits(holder=holder, cost=cost)
        for loan in body.loans:
            if loan.lender == loan.borrower:
                raise SameMember(member=loan.lender)

    def _payment(self, body: Payment) -> Payment:
        """Give the payment with what goes beyond the settlement payment that it answers.

        One that answers nothing names nothing: so a settlement payment is unpaid when all that name it are undone."""
        if body.pays is None:
            return replace(body, beyond=0)
        asked = self.book.payments.get(body.pays)
        if asked is None:
            raise UnknownSettlementPayment(payment=body.pays)
        if (asked.payer, asked.payee) != (body.from_member, body.to_member):
            raise PaymentMismatch(payment=asked.id, payer=asked.payer, payee=asked.payee)
        if not asked.unpaid:
            raise PaidInFull(payment=asked.id, amount=body.amount)
        beyond = max(body.amount - asked.unpaid, 0)
        if beyond and body.beyond is not None:
            raise MoreThanUnpaid(payment=asked.id, unpaid=asked.unpaid, amount=body.amount)
        return replace(body, beyond=beyond)

    def _check_relocation(self, body: Relocation) -> None:
        if self.book.custodian is not None and body.from_member != self.book.custodian:
            raise NotCustodian(member=body.from_member, custodian=self.book.custodian)
        if body.quantity > self.book.stock:
            raise NotEnoughInStock(stock=self.book.stock, quantity=body.quantity)

    def _target(self, number: int) -> Entry:
        target = self.targets.get(number)
        if target is None:
            raise EntryNotFound(entry=number)
        return target

    def _reversal(self, command: Command, body: Reversal) -> Reversal:
        target = self._target(body.entry)
        resolved = self._resolved(target, body.quantity)
        if command.effective_on < target.effective_on:
            raise ReversalBeforeEntry(
                entry=target.number,
                entry_on=target.effective_on.isoformat(),
                effective_on=command.effective_on.isoformat(),
            )
        later = Month.of(command.effective_on) != Month.of(target.effective_on)
        if later and isinstance(target.body, Opening):
            raise NotReversible(entry=target.number, kind=target.kind, reason="its month is over")
        still_open = later and self._is_carried(target, Month.of(command.effective_on))
        reversal = Reversal(entry=target.number, quantity=resolved, still_open=still_open)
        candidate = chained(self.pool.id, self.book.number + 1, self.book.hash, replace(command, body=reversal), "")
        self._check_moves(move for move in moves(candidate, target) if not (still_open and move.borrower))
        if later and any(move.member is None for move in moves_of(target.body, 1)):
            self._check_stock_cost(candidate)
        return reversal

    def _is_carried(self, target: Entry, to: Month) -> bool:
        """Whether a loan or return of an earlier month without an agreed price is carried on to a month, by the policy
        of each close between them. Should that change after all, the reversal leaves a loan the other way."""
        match target.body:
            case Loan(unit_price=None) | Return():
                between = months_between(Month.of(target.effective_on), to.previous())
                return all(self.pool.policy_of(each).loans_at_close is LoansAtClose.CARRY for each in between)
            case _:
                return False

    def _check_stock_cost(self, candidate: Entry) -> None:
        """Refuse a reversal that makes the stock's cost impossible, but not for what is impossible without it."""
        entries = tuple(self.history())
        found = self._impossible((*entries, candidate))
        known = {each[:3] for each in self._impossible(entries)} if found else set()
        for entry, quantity, on, credits, cost in found:
            if (entry, quantity, on) not in known:
                raise StockCostImpossible(entry=entry, quantity=quantity, credits=credits, cost=cost)

    def _impossible(self, entries: Sequence[Entry]) -> list[Impossible]:
        """Give what is impossible in the stock's cost, each month under its own policy."""
        closes = closes_of(entries)
        months = stock.replay(entries, lambda month: policy_under(self.pool, closes.get(month), month).stock_costing)
        return [each for month in months.values() for each in month.impossible]

    def _resolved(self, target: Entry, quantity: int | None) -> int | None:
        if target.kind in IRREVERSIBLE:
            raise NotReversible(entry=target.number, kind=target.kind, reason=IRREVERSIBLE[target.kind])
        undone = self.book.undone.get(target.number, 0)
        if target.kind in UNDIVIDED:
            if quantity is not None:
                raise NotDivisible(entry=target.number, kind=target.kind)
            if undone:
                raise MoreThanLeft(entry=target.number, left=0, quantity=1)
            return None
        left = (quantity_of(target.body) or 0) - undone
        asked = left if quantity is None else checked_quantity(quantity)
        if asked > left or asked == 0:
            raise MoreThanLeft(entry=target.number, left=left, quantity=asked or 1)
        return asked

    def _acknowledgement(self, body: Acknowledgement) -> Acknowledgement:
        target = self._target(body.entry)
        sides = parties(target.body)
        if body.member not in sides:
            raise NotOtherSide(entry=target.number, member=body.member, sides=", ".join(sides) or "none")
        return body

    def _close(self, body: Close) -> Close:
        month, closed = Month.parse(body.month), self.book.closed_through
        expected = Month.of(self.pool.began_on) if closed is None else closed.next()
        if month != expected:
            raise MonthsOutOfOrder(month=body.month, next_month=str(expected))
        if self.today <= month.last:
            raise MonthNotReached(month=body.month, from_day=month.next().first.isoformat())
        now = terms_said(self.pool, self.members, month)
        if self.moved_since(month, body.computed_at) or any(body.sheet[name] != said for name, said in now.items()):
            raise PreviewStale(month=body.month, seen=body.digest)
        return body

    def _sign_off(self, body: SignOff) -> SignOff:
        month = Month.parse(body.month)
        if month < Month.of(self.pool.began_on):
            raise BeforePoolBegan(effective_on=month.last.isoformat(), began_on=self.pool.began_on.isoformat())
        if self.today <= month.last:
            raise MonthNotReached(month=body.month, from_day=month.next().first.isoformat())
        return body

    def _reopening(self, body: Reopening) -> Reopening:
        closed = self.book.closed_through
        if closed is None or Month.parse(body.month) > closed:
            raise MonthNotClosed(month=body.month)
        if Month.parse(body.month) != closed:
            raise NotLastClosed(month=body.month, last=str(closed))
        for payment in planned(close_of(self.last_close)):
            if self.book.payments[payment.id].paid:
                raise PaymentsRecorded(month=body.month, payment=payment.id)
        return body


def terms_said(pool: Pool, members: Mapping[str, Member], month: Month) -> Json:
    """Give what the sheet of an open month says of the policy and the members that it is made with."""
    days = {code: (each.joined_on, each.left_on) for code, each in members.items()}
    return {
        "policy": pool.policy_of(month).as_json(),
        "weights": {code: each.share for code, each in members.items()},
        "member_days": {code: [day and day.isoformat() for day in both] for code, both in days.items()},
    }


def check_member(members: Mapping[str, Member], code: str, day: date, *, may_have_left: bool = False) -> None:
    """Do nothing for a member that is in the pool on a day, or was before, where that will do.

    Refuses: UnknownMember, MemberNotYetJoined, MemberLeft."""
    member = members.get(code)
    if member is None:
        raise UnknownMember(member=code)
    if day < member.joined_on:
        raise MemberNotYetJoined(member=code, joined_on=member.joined_on.isoformat(), effective_on=day.isoformat())
    if member.left_on is not None and day > member.left_on and not may_have_left:
        raise MemberLeft(member=code, left_on=member.left_on.isoformat(), effective_on=day.isoformat())


def _named(body: Body) -> tuple[str, ...]:
    """Give every member that a body names and that must be in the pool; two for a body with two sides."""
    match body:
        case Opening():
            loans = (code for loan in body.loans for code in (loan.lender, loan.borrower))
            return tuple(dict.fromkeys((*(each.member for each in body.members), *loans)))
        case _:
            return parties(body)
