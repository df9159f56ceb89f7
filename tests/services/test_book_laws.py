"""Laws of the book under any sequence of requests: a state machine beside a model that shares no code with the service.

The model keeps plain numbers and knows who may have what. After every step, on each database: credits are conserved,
projections equal a replay of the journal, numbers have no gap, dues add up to the cost of the stock, and cost goes
nowhere. Refusals are compared with the model, too: what it says is refused, and by which rule.
"""

import asyncio
from collections import Counter
from datetime import date, timedelta
from itertools import combinations, count
from typing import ClassVar

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from pool_api.domain.access import Caller, Role
from pool_api.domain.book import SettlementPayment, moves
from pool_api.domain.entries import (
    Body,
    Charge,
    Command,
    Direction,
    Draw,
    Loan,
    Outside,
    Payment,
    Purchase,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
)
from pool_api.domain.errors import DomainError, NotFound, PaymentsRecorded, PolicyFrozen
from pool_api.domain.pool import Member, Policy, Pool
from pool_api.domain.values import STOCK, Currency, Month
from pool_api.rest.compose import Variables, close_office, open_office
from pool_api.services import ledger, months, terms
from pool_api.services.costs import costed
from pool_api.settings import Settings
from pool_api.store import directory, journal
from pool_api.store.directory import ApiKey
from pool_api.store.engine import reading, writing
from pool_api.store.writer import Request
from tests.databases import Database
from tests.domain.journals import policies
from tests.served import Clock
from tests.services.pricing import Vendor
from tests.services.quiet import Quiet, days

SHOPS = ("ALDER", "BIRCH", "CEDAR")
FIRST = date(2026, 9, 1)
shops = st.sampled_from(SHOPS)
few = st.integers(1, 40)
amounts = st.integers(0, 50_000)
_serial = count(1)


class BookMachine(Vendor, Quiet, RuleBasedStateMachine):
    """Each run has a pool of its own in the database at the address."""

    database_url: ClassVar[str]

    @initialize(policy=policies)
    def found(self, policy: Policy) -> None:
        self.clock = Clock()
        self.office = open_office(
            Settings(database_url=self.database_url, connections=3), Variables(now=self.clock.now)
        )
        self.pool = f"pool-{next(_serial)}"
        self.held = dict.fromkeys(SHOPS, 0)
        self.stock = self.brought = self.gone = 0
        self.entries: list[tuple[int, Body, date]] = []
        self.undone: dict[int, int] = {}
        self.caller = Caller(role=Role.KEEPER, pool=self.pool, member=None, key_id=self.pool, name="the book")
        pool = Pool(
            id=self.pool,
            name="Riverside",
            vendor="Norvane",
            currency=Currency("EUR"),
            time_zone="Europe/Vienna",
            began_on=FIRST,
            policy=policy,
        )
        with writing(self.office.engine, self.pool) as connection:
            directory.create_pool(connection, pool)
            for shop in SHOPS:
                directory.write_member(
                    connection, self.pool, Member(code=shop, name=shop, joined_on=FIRST), exists=False
                )
            key = ApiKey(
                key_id=self.pool, name="k", role="keeper", pool=self.pool, member=None, created_at="2026-09-01"
            )
            directory.write_key(connection, key, self.pool)

    def record(self, body: Body, day: date, *, fine: bool | None) -> bool:
        """Record a body and compare with what the model expects (None: either). Gives whether it was recorded."""
        number = next(_serial)
        request = Request(
            pool=self.pool,
            caller=self.caller,
            operation="test",
            key=f"request-{number}",
            fingerprint=str(number),
            commands=(Command(body=body, effective_on=day, recorded_by="k"),),
        )
        answer = self.office.writer.record(request)
        refusal = answer.exception(30)
        assert refusal is None or isinstance(refusal, DomainError)
        assert fine is None or fine is (refusal is None), refusal
        if refusal is not None:
            return False
        entry = answer.result().entries[0]
        self.entries.append((entry.number, entry.body, day))
        return True

    @property
    def closed(self) -> Month | None:
        with reading(self.office.engine, self.pool) as connection:
            book = journal.read_book(connection, self.pool)
        return book.closed_through if book else None

    def is_open(self, day: date) -> bool:
        closed = self.closed
        return closed is None or Month.of(day) > closed

    @rule(into=st.sampled_from([STOCK, *SHOPS]), payer=shops, quantity=few, amount=amounts, day=days)
    def buy(self, into: str, payer: str, quantity: int, amount: int, day: date) -> None:
        body = Purchase(into=into, paid_by=payer, quantity=quantity, amount=amount)
        if self.record(body, day, fine=self.is_open(day)):
            self.brought += quantity
            self._add(into, quantity)

    def _add(self, holder: str, quantity: int) -> None:
        if holder == STOCK:
            self.stock += quantity
        else:
            self.held[holder] += quantity

    @rule(member=shops, quantity=few, day=days)
    def draw(self, member: str, quantity: int, day: date) -> None:
        if self.record(Draw(member=member, quantity=quantity), day, fine=self.is_open(day) and quantity <= self.stock):
            self._add(STOCK, -quantity)
            self._add(member, quantity)

    @rule(lender=shops, borrower=shops, quantity=few, price=st.none() | st.just("7.25"), day=days)
    def lend(self, lender: str, borrower: str, quantity: int, price: str | None, day: date) -> None:
        fine = self.is_open(day) and lender != borrower and quantity <= self.held[lender]
        if self.record(Loan(lender=lender, borrower=borrower, quantity=quantity, unit_price=price), day, fine=fine):
            self._add(lender, -quantity)
            self._add(borrower, quantity)

    @rule(lender=shops, borrower=shops, quantity=few, day=days)
    def give_back(self, lender: str, borrower: str, quantity: int, day: date) -> None:
        with reading(self.office.engine, self.pool) as connection:
            book = journal.read_book(connection, self.pool)
        open_ = book.open.get((lender, borrower), 0) if book else 0
        fine = self.is_open(day) and lender != borrower and quantity <= min(open_, self.held[borrower])
        if self.record(Return(borrower=borrower, lender=lender, quantity=quantity), day, fine=fine):
            self._add(borrower, -quantity)
            self._add(lender, quantity)

    @rule(member=shops, quantity=few, day=days)
    def use(self, member: str, quantity: int, day: date) -> None:
        fine = self.is_open(day) and quantity <= self.held[member]
        if self.record(Use(member=member, quantity=quantity, item="CAL-S", job="J-1"), day, fine=fine):
            self._add(member, -quantity)
            self.gone += quantity

    @rule(holder=st.sampled_from([STOCK, *SHOPS]), quantity=few, day=days)
    def write_off(self, holder: str, quantity: int, day: date) -> None:
        there = self.stock if holder == STOCK else self.held[holder]
        body = WriteOff(holder=holder, quantity=quantity, reason=WriteOffReason.EXPIRED)
        if self.record(body, day, fine=self.is_open(day) and quantity <= there):
            self._add(holder, -quantity)
            self.gone += quantity

    @rule(member=shops, inward=st.booleans(), quantity=few, amount=amounts, day=days)
    def cross_the_border(self, member: str, inward: bool, quantity: int, amount: int, day: date) -> None:
        body = Outside(
            member=member,
            direction=Direction.IN if inward else Direction.OUT,
            party="a shop",
            quantity=quantity,
            amount=amount,
        )
        if self.record(body, day, fine=self.is_open(day) and (inward or quantity <= self.held[member])):
            self._add(member, quantity if inward else -quantity)
            if inward:
                self.brought += quantity
            else:
                self.gone += quantity

    @rule(one=shops, other=shops, amount=st.integers(1, 9_999), day=days, paid=st.booleans())
    def owe_or_pay(self, one: str, other: str, amount: int, day: date, paid: bool) -> None:
        body: Body = (
            Payment(from_member=one, to_member=other, amount=amount)
            if paid
            else Charge(from_member=one, to_member=other, amount=amount, reason="courier")
        )
        self.record(body, day, fine=self.is_open(day) and one != other)

    @precondition(lambda self: self.entries)
    @rule(data=st.data(), later=st.integers(0, 40))
    def reverse(self, data: st.DataObject, later: int) -> None:
        number, body, day = data.draw(st.sampled_from(self.entries))
        on = min(day + timedelta(days=later), date(2026, 11, 10))
        if isinstance(body, Reversal):
            self.record(Reversal(entry=number), on, fine=False)
            return
        if self.record(Reversal(entry=number), on, fine=None):
            self._take_back(body, self.entries[-1][1])

    def _take_back(self, body: Body, reversal: Body) -> None:
        q = reversal.quantity or 0 if isinstance(reversal, Reversal) else 0
        match body:
            case Purchase():
                self.brought -= q
                self._add(body.into, -q)
            case Draw():
                self._add(body.member, -q)
                self._add(STOCK, q)
            case Loan():
                self._add(body.borrower, -q)
                self._add(body.lender, q)
            case Return():
                self._add(body.lender, -q)
                self._add(body.borrower, q)
            case Use():
                self._add(body.member, q)
                self.gone -= q
            case WriteOff():
                self._add(body.holder, q)
                self.gone -= q
            case Outside():
                sign = 1 if body.direction is Direction.IN else -1
                self._add(body.member, -sign * q)
                self.brought -= q if sign == 1 else 0
                self.gone -= q if sign == -1 else 0

    @rule(month=st.sampled_from([Month(2026, 9), Month(2026, 10), Month(2026, 11)]), policy=policies)
    def agree_a_policy(self, month: Month, policy: Policy) -> None:
        try:
            version: int | None = terms.read_policy(self.office, self.caller, self.pool, month)[1]
        except NotFound:
            version = None
        try:
            terms.put_policy(self.office, self.caller, self.pool, policy, version, month=month)
        except PolicyFrozen:
            assert not self.is_open(month.first)
        else:
            assert self.is_open(month.first)

    @rule()
    def close_the_next_month(self) -> None:
        closed = self.closed
        month = Month.of(FIRST) if closed is None else closed.next()
        if month >= Month(2026, 11):
            return
        found = costed(self.office, self.pool).month(month)
        if found.sheet.obstacle is not None:
            return
        asyncio.run(
            months.close_month(
                self.office,
                self.caller,
                self.pool,
                month,
                seen=found.digest,
                accept_warnings=True,
                accept_differences=True,
                note="",
                key=f"close-{next(_serial):08d}",
            )
        )

    @rule(data=st.data(), part=st.integers(1, 150), day=days, accepts=st.booleans())
    def pay_what_a_settlement_asks(self, data: st.DataObject, part: int, day: date, accepts: bool) -> None:
        asked_for = [*self.payments().values()]
        if asked_for:
            asked = data.draw(st.sampled_from(asked_for))
            left = asked.amount - asked.paid
            amount = -(-asked.amount * part // 99)
            body = Payment(
                from_member=asked.payer,
                to_member=asked.payee,
                amount=amount,
                pays=asked.id,
                beyond=None if accepts else 0,
            )
            self.record(body, day, fine=self.is_open(day) and 0 < left and (accepts or amount <= left))

    def payments(self) -> dict[str, SettlementPayment]:
        with reading(self.office.engine, self.pool) as connection:
            book = journal.read_book(connection, self.pool)
        return book.payments if book else {}

    @rule()
    def reopen_the_last_closed_month(self) -> None:
        closed = self.closed
        if closed is None:
            return
        paid = any(payment.paid for payment in self.payments().values() if payment.month == closed)
        key = f"reopen-{next(_serial):08d}"
        asked = months.reopen_month(self.office, self.caller, self.pool, closed, reason="late invoice", key=key)
        try:
            asyncio.run(asked)
        except PaymentsRecorded:
            assert paid
        else:
            assert not paid
            assert closed not in {payment.month for payment in self.payments().values()}

    @invariant()
    def credits_are_conserved(self) -> None:
        if not hasattr(self, "office"):
            return
        with reading(self.office.engine, self.pool) as connection:
            book = journal.read_book(connection, self.pool)
        assert book is not None
        assert self.held == {shop: book.held.get(shop, 0) for shop in SHOPS}
        assert self.stock == book.stock
        assert self.brought == self.stock + sum(self.held.values()) + self.gone

    @invariant()
    def what_closes_leave_open_is_open_in_the_book(self) -> None:
        """Between each two members, with what is recorded beyond the closed months."""
        if not hasattr(self, "office"):
            return
        found, closed = costed(self.office, self.pool), self.closed
        with reading(self.office.engine, self.pool) as connection:
            by_number = {each.number: each for each, _ in journal.read_filed(connection, self.pool)}
            book = journal.read_book(connection, self.pool)
        left = found.months[closed].sheet.open_loans if closed else ()
        here = Counter({(each.lender, each.borrower): each.quantity for each in left})
        for entry in by_number.values():
            if closed is None or Month.of(entry.effective_on) > closed:
                target = by_number[entry.body.entry] if isinstance(entry.body, Reversal) else None
                changes = [each for each in moves(entry, target) if each.member and each.borrower]
                here.update({(str(each.member), str(each.borrower)): each.change for each in changes})
        assert book is not None
        for one, two in combinations(SHOPS, 2):
            there = book.open.get((one, two), 0) - book.open.get((two, one), 0)
            assert there == here[one, two] - here[two, one]

    @invariant()
    def the_journal_gives_every_projection(self) -> None:
        if hasattr(self, "office"):
            assert () == ledger.verify_journal(self.office, self.pool).findings

    @invariant()
    def what_is_paid_answers_a_settlement_or_counts_in_the_dues(self) -> None:
        if not hasattr(self, "office"):
            return
        with reading(self.office.engine, self.pool) as connection:
            undone = journal.read_undone(connection, self.pool)
        answering = [
            body
            for number, body, _ in self.entries
            if isinstance(body, Payment) and body.pays is not None and number not in undone
        ]
        assert all(body.beyond is not None and 0 <= body.beyond < body.amount for body in answering)
        assert sum(each.paid for each in self.payments().values()) == sum(body.answers for body in answering)
        assert all(0 <= each.paid <= each.amount for each in self.payments().values())

    @invariant()
    def money_goes_nowhere(self) -> None:
        if not hasattr(self, "office"):
            return
        for month in costed(self.office, self.pool).months.values():
            sheet = month.sheet
            assert sheet.stock.closing.cost == sum(sheet.dues.values())
            assert 0 == sum(each["amount"] for each in month.settlement["nets"])

    def teardown(self) -> None:
        if hasattr(self, "office"):
            close_office(self.office)


def test_no_sequence_of_requests_breaks_a_law(database: Database) -> None:
    on_database = type("OnDatabase", (BookMachine,), {"database_url": database.url})
    run_state_machine_as_test(
        on_database,
        settings=settings(
            max_examples=10,
            stateful_step_count=25,
            phases=[Phase.explicit, Phase.generate],
            suppress_health_check=list(HealthCheck),
        ),
    )
