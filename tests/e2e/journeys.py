"""Random journeys of a pool through its months: what keepers and shops do, refused or not, in any order.

A journey is made by its seed alone. It keeps nothing of the book but the numbers of its entries: what holds of the book
is for test_journeys.py to say."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import islice
from random import Random

from pool_client.errors import PoolError, ServerFault
from pool_client.models.bookkeeping import BankAccount
from pool_client.models.directory import (
    LoanPrice,
    LoansAtClose,
    Member,
    PaymentPlan,
    Policy,
    PolicyFrom,
    StockCosting,
    StockFunding,
)
from pool_client.models.entries import (
    STOCK,
    Charge,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Recordable,
    Relocation,
    Return,
    Reversal,
    Use,
    WriteOff,
    WriteOffReason,
)
from pool_client.models.entries import OpenLoan as OpeningLoan

from tests.served import FIRST_DAY, SHOPS, Served, set_up

NEWCOMERS = ("ELM", "FIR")
IBANS = ("AT809990000000000001", "AT539990000000000002", "DE50999900000000000003")
PAIRS = ((), (("ALDER", "BIRCH"),), (("ALDER", "BIRCH"), ("CEDAR", "DOGWOOD")))


class Journey:
    """One pool's journey; step() does the next thing and gives what it was, and whether it was refused."""

    def __init__(self, served: Served, seed: int) -> None:
        self.random = Random(seed)  # noqa: S311 - a journey, not a secret
        self.served = served
        served.clock.at = datetime(2026, 9, 2, 12, tzinfo=UTC)
        set_up(served)
        self.book = served.book()
        self.shops = list(SHOPS)
        self.recorded: list[int] = []
        self._begin()

    def _begin(self) -> None:
        terms = self.book.terms()
        agreed = replace(terms.value, keeper_member="ALDER", custodian="CEDAR", policy=self._policy())
        self.served.client().put_pool(agreed, tag=terms.tag)
        for shop, iban in zip(SHOPS, IBANS, strict=False):
            self.book.put_bank_account(BankAccount(member=shop, holder=f"{shop.title()} Workshop", iban=iban))
        if self.random.random() < 0.5:
            held = [OpeningMember(member=shop, held=self._few(), cost=self._money()) for shop in SHOPS[:3]]
            owed = replace(held[0], due=Decimal("70.00"))
            loans = (OpeningLoan(lender="ALDER", borrower="BIRCH", quantity=3),)
            old = Opening(members=(owed, *held[1:]), stock_quantity=9, stock_cost=Decimal("70.00"), loans=loans)
            self._record(old, FIRST_DAY)

    def step(self) -> str:
        """Do the next thing."""
        (do,) = self.random.choices(list(_STEPS), list(_STEPS.values()))
        name = do.__name__.strip("_")
        try:
            do(self)
        except ServerFault:
            raise
        except PoolError as refused:
            return f"{name} refused: {refused.code}"
        return name

    def today(self) -> date:
        """Give the day at the pool, whose noon it is."""
        return self.served.clock.at.date()

    def _few(self) -> int:
        return self.random.choice((1, 2, 3, 7, 12, 25, 40))

    def _money(self) -> Decimal:
        return Decimal(self.random.randrange(50_000)) / 100

    def _day(self) -> date:
        return max(FIRST_DAY, self.today() - timedelta(days=self.random.choice((0, 0, 0, 1, 3, 9, 20, 40))))

    def _one(self) -> str:
        return self.random.choice(self.shops)

    def _two(self) -> tuple[str, str]:
        one, other = self.random.sample(self.shops, 2)
        return one, other

    def _holder(self) -> str:
        return self.random.choice([STOCK, *self.shops])

    def _policy(self) -> Policy:
        pick = self.random.choice
        return Policy(
            stock_costing=pick(list(StockCosting)),
            loan_price=pick(list(LoanPrice)),
            loans_at_close=pick(list(LoansAtClose)),
            stock_funding=pick(list(StockFunding)),
            payment_plan=pick(list(PaymentPlan)),
            smallest_payment=pick((Decimal(0), Decimal(5), Decimal(60))),
            no_payments_between=pick(PAIRS),
        )

    def _record(self, body: Recordable, on: date | None = None) -> None:
        self.recorded.append(self.book.record(body, effective_on=on or self._day()).number)

    def _buy(self) -> None:
        into = self.random.choice([STOCK, STOCK, self._one()])
        self._record(Purchase(into=into, paid_by=self._one(), quantity=5 * self._few(), amount=self._money()))

    def _draw(self) -> None:
        self._record(Draw(member=self._one(), quantity=self._few()))

    def _lend(self) -> None:
        lender, borrower = self._two()
        price = self.random.choice((None, None, None, Decimal("7.25")))
        self._record(Loan(lender=lender, borrower=borrower, quantity=self._few(), unit_price=price))

    def _give_back(self) -> None:
        loans = self.book.positions().open_loans
        if loans:
            loan = self.random.choice(loans)
            back = self.random.randint(1, loan.quantity)
            self._record(Return(borrower=loan.borrower, lender=loan.lender, quantity=back))

    def _use(self) -> None:
        job = f"J-{self.random.randrange(4)}"
        self._record(Use(member=self._one(), quantity=self._few(), item="CAL-S", job=job, price=self._money()))

    def _write_off(self) -> None:
        self._record(WriteOff(holder=self._holder(), quantity=self._few(), reason=WriteOffReason.EXPIRED))

    def _cross_the_border(self) -> None:
        way = self.random.choice(list(Direction))
        body = Outside(member=self._one(), direction=way, party="a shop", quantity=self._few(), amount=self._money())
        self._record(body)

    def _relocate(self) -> None:
        positions = self.book.positions()
        if positions.custodian is not None and positions.stock:
            to = self.random.choice([shop for shop in self.shops if shop != positions.custodian])
            self._record(Relocation(from_member=positions.custodian, to_member=to, quantity=positions.stock))

    def _charge(self) -> None:
        one, other = self._two()
        self._record(Charge(from_member=one, to_member=other, amount=self._money(), reason="courier"))

    def _pay_freely(self) -> None:
        one, other = self._two()
        self._record(Payment(from_member=one, to_member=other, amount=self._money()))

    def _pay_a_settlement(self) -> None:
        asked_for = list(self.book.settlement_payments(unpaid=True))
        if asked_for:
            asked = self.random.choice(asked_for)
            share = self.random.choice((Decimal("0.4"), Decimal(1), Decimal(1), Decimal("1.3")))
            amount = (asked.unpaid * share).quantize(Decimal("0.01"))
            body = Payment(
                from_member=asked.payer,
                to_member=asked.payee,
                amount=amount,
                pays=asked.id,
                accept_overpayment=self.random.random() < 0.8,
            )
            self._record(body, self.today())

    def _reverse(self) -> None:
        if self.recorded:
            entry = self.random.choice(self.recorded[-30:])
            quantity = self.random.choice((None, None, 1, 3))
            self._record(Reversal(entry=entry, quantity=quantity))

    def _undo_a_payment(self) -> None:
        paid = [each.number for each in islice(self.book.entries(kind="payment"), 8)]
        if paid:
            self._record(Reversal(entry=self.random.choice(paid)), self.today())

    def _agree_a_policy(self) -> None:
        month = f"{self.random.choice((self.today(), self._day())):%Y-%m}"
        known = {each.from_month for each in self.book.policies()}
        tag = self.book.policy(month=month).tag if month in known else None
        agreed = self._policy()
        told = {name: getattr(agreed, name) for name in Policy.__dataclass_fields__}
        self.book.put_policy(PolicyFrom(from_month=month, **told), tag=tag)

    def _pass_days(self) -> None:
        self.served.clock.pass_days(self.random.choice((1, 2, 6, 11)))

    def close(self) -> None:
        """Close the first open month, if it is over."""
        month = next(each.month for each in self.book.months() if each.state == "open")
        if month < f"{self.today():%Y-%m}":
            digest = self.book.settlement(month=month).digest
            self.book.close(month=month, digest=digest, accept_warnings=True, accept_differences=True)

    def _reopen(self) -> None:
        closed = self.book.positions().closed_through
        if closed is not None:
            self.book.reopen(month=closed, reason="a late invoice")

    def _join(self) -> None:
        left = [code for code in NEWCOMERS if code not in self.shops]
        if left:
            share = self.random.choice((1, 2))
            joined = Member(code=left[0], name=f"{left[0].title()} Workshop", joined_on=self._day(), share=share)
            self.book.put_member(joined)
            self.shops.append(joined.code)

    def _leave(self) -> None:
        leaving = self.book.member(code=self._one())
        self.book.put_member(replace(leaving.value, left_on=self._day()), tag=leaving.tag)
        self.shops.remove(leaving.value.code)

    def _change_a_share(self) -> None:
        member = self.book.member(code=self._one())
        self.book.put_member(replace(member.value, share=self.random.choice((0, 1, 2, 5))), tag=member.tag)


_STEPS: dict[Callable[[Journey], None], int] = {
    Journey._buy: 8,
    Journey._draw: 10,
    Journey._lend: 12,
    Journey._give_back: 6,
    Journey._use: 8,
    Journey._write_off: 3,
    Journey._cross_the_border: 3,
    Journey._relocate: 1,
    Journey._charge: 2,
    Journey._pay_freely: 2,
    Journey._pay_a_settlement: 8,
    Journey._reverse: 10,
    Journey._undo_a_payment: 3,
    Journey._agree_a_policy: 3,
    Journey._pass_days: 14,
    Journey.close: 6,
    Journey._reopen: 2,
    Journey._join: 1,
    Journey._leave: 1,
    Journey._change_a_share: 1,
}
"""What is done, and how often beside the others."""
