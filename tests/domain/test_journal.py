"""Deciding: what may be recorded, case by case, and every refusal with its rule and figures."""

import inspect
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import pytest

from pool_api.domain import errors, journal
from pool_api.domain.book import Book, SettlementPayment
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
    Command,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningLoan,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Reopening,
    Return,
    Reversal,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
)
from pool_api.domain.errors import DomainError
from pool_api.domain.journal import IRREVERSIBLE, Desk
from pool_api.domain.pool import Member, Policy, Pool, StockCosting
from pool_api.domain.values import STOCK, Currency, Month
from tests.domain.journals import numbered

BEGAN, TODAY, DAY = date(2026, 9, 1), date(2026, 11, 10), date(2026, 11, 3)
TERMS = Pool(
    id="riverside",
    name="Riverside",
    vendor="Norvane",
    currency=Currency("EUR"),
    time_zone="Europe/Vienna",
    began_on=BEGAN,
    custodian="ALDER",
)
MEMBERS = {
    code: Member(code=code, name=code, joined_on=joined, left_on=left)
    for code, joined, left in (
        ("ALDER", BEGAN, None),
        ("BIRCH", BEGAN, None),
        ("CEDAR", BEGAN, date(2026, 11, 2)),
        ("DOGWOOD", date(2026, 11, 4), None),
    )
}
ASKED = SettlementPayment(id="2026-09-1", month=Month(2026, 9), payer="BIRCH", payee="ALDER", amount=500, paid=200)
BOOK = Book(
    number=9,
    stock=60,
    closed_through=Month(2026, 9),
    custodian="ALDER",
    held={"ALDER": 30, "BIRCH": 10},
    open={("ALDER", "BIRCH"): 10},
    undone={1: 40, 2: 1},
    payments={ASKED.id: ASKED},
)
OPENING = Opening(members=(), stock_quantity=0, stock_cost=0)
CLOSE = Close(
    month="2026-09",
    computed_at=5,
    digest="d",
    sheet={"loans_settled": [], **journal.terms_said(TERMS, MEMBERS, Month(2026, 10))},
    settlement={"payments": [{"payer": "BIRCH", "payee": "ALDER", "amount": 500}]},
)
TARGETS = {
    each.number: each
    for each in (
        numbered(1, Draw(member="ALDER", quantity=40), DAY),
        numbered(2, Charge(from_member="ALDER", to_member="BIRCH", amount=5, reason="courier"), DAY),
        numbered(3, Charge(from_member="ALDER", to_member="BIRCH", amount=5, reason="courier"), DAY),
        numbered(4, Loan(lender="ALDER", borrower="BIRCH", quantity=20), DAY),
        numbered(5, Relocation(from_member="BIRCH", to_member="ALDER", quantity=1), DAY),
        numbered(6, Purchase(into=STOCK, paid_by="ALDER", quantity=70, amount=490), DAY),
        numbered(7, OPENING, BEGAN),
        numbered(8, Reversal(entry=6, quantity=1), DAY),
        numbered(9, Purchase(into=STOCK, paid_by="ALDER", quantity=10, amount=100), date(2026, 10, 1)),
    )
}


@dataclass(frozen=True)
class At:
    """What is asked, when, and what differs from the usual facts."""

    body: Body
    day: date = DAY
    facts: dict[str, Any] = field(default_factory=dict)


def decide(asked: At) -> Body:
    facts: dict[str, Any] = {
        "pool": TERMS,
        "members": MEMBERS,
        "book": BOOK.copy(),
        "today": TODAY,
        "targets": TARGETS,
        "history": tuple,
        "last_close": numbered(10, CLOSE, DAY),
        **asked.facts,
    }
    return Desk(**facts).decide(Command(body=asked.body, effective_on=asked.day, recorded_by="k"))


def opened(**given: Any) -> Opening:
    return replace(OPENING, **given)


def closing(month: str, **given: Any) -> Close:
    return replace(CLOSE, month=month, **given)


NEW = {"book": Book(custodian="ALDER")}
FINE: dict[str, At] = {
    "a purchase into stock": At(Purchase(into=STOCK, paid_by="ALDER", quantity=1, amount=0)),
    "a purchase for another member": At(Purchase(into="BIRCH", paid_by="ALDER", quantity=1, amount=7)),
    "a draw of all there is": At(Draw(member="BIRCH", quantity=60)),
    "a loan of all that is held": At(Loan(lender="ALDER", borrower="BIRCH", quantity=30)),
    "a return of all that is open": At(Return(borrower="BIRCH", lender="ALDER", quantity=10)),
    "a use of all that is held": At(Use(member="BIRCH", quantity=10, item="CAL-S", job="J-1")),
    "a write-off of all that is in stock": At(WriteOff(holder=STOCK, quantity=60, reason=WriteOffReason.LOST)),
    "credits from outside": At(Outside(member="BIRCH", direction=Direction.IN, party="a shop", quantity=5, amount=1)),
    "the custodian passing on all of the stock": At(Relocation(from_member="ALDER", to_member="BIRCH", quantity=60)),
    "the last part of a settlement payment": At(
        Payment(from_member="BIRCH", to_member="ALDER", amount=300, pays="2026-09-1")
    ),
    "the last part of one whose payer has left": At(
        Payment(from_member="CEDAR", to_member="ALDER", amount=300, pays="2026-09-1"),
        facts={"book": replace(BOOK, payments={ASKED.id: replace(ASKED, payer="CEDAR")})},
    ),
    "a payment that answers nothing": At(Payment(from_member="ALDER", to_member="BIRCH", amount=10**9)),
    "tomorrow": At(Draw(member="ALDER", quantity=1), date(2026, 11, 11)),
    "the first open day": At(Draw(member="ALDER", quantity=1), date(2026, 10, 1)),
    "a member on its last day": At(Draw(member="CEDAR", quantity=1), date(2026, 11, 2)),
    "a member on its first day": At(Draw(member="DOGWOOD", quantity=1), date(2026, 11, 4)),
    "an acknowledgement by the other side": At(Acknowledgement(entry=4, member="BIRCH", verdict=Verdict.DISPUTED)),
    "an opening": At(
        opened(
            members=(OpeningMember(member="ALDER", held=2, cost=14, due=20),),
            stock_quantity=1,
            stock_cost=20,
            loans=(OpeningLoan(lender="ALDER", borrower="BIRCH", quantity=1),),
        ),
        BEGAN,
        NEW,
    ),
    "the next month's close": At(closing("2026-10")),
    "the first month's close": At(closing("2026-09"), facts=NEW),
    "reopening a month whose payments nobody made": At(
        Reopening(month="2026-09", reason="late invoice"),
        facts={"book": replace(BOOK, payments={ASKED.id: replace(ASKED, paid=0)})},
    ),
}


@pytest.mark.parametrize("case", FINE)
def test_what_the_rules_allow_is_recorded_as_it_was_asked(case: str) -> None:
    assert FINE[case].body == decide(FINE[case])


@pytest.mark.parametrize(
    ("asked", "recorded"),
    [
        (Reversal(entry=4), Reversal(entry=4, quantity=20)),
        (Reversal(entry=4, quantity=1), Reversal(entry=4, quantity=1)),
        (Reversal(entry=3), Reversal(entry=3)),
    ],
)
def test_a_reversal_is_recorded_with_what_it_reverses(asked: Reversal, recorded: Reversal) -> None:
    book = replace(BOOK, held={"ALDER": 0, "BIRCH": 20}, open={("ALDER", "BIRCH"): 20})

    assert recorded == decide(At(asked, facts={"book": book}))


def test_nothing_but_the_answer_comes_of_deciding() -> None:
    book = BOOK.copy()
    decide(At(Draw(member="ALDER", quantity=60), facts={"book": book}))

    assert BOOK == book


REFUSED: dict[str, tuple[At, DomainError]] = {
    "a day before the pool": (
        At(Draw(member="ALDER", quantity=1), date(2026, 8, 31)),
        errors.BeforePoolBegan(effective_on="2026-08-31", began_on="2026-09-01"),
    ),
    "the day after tomorrow": (
        At(Draw(member="ALDER", quantity=1), date(2026, 11, 12)),
        errors.TooFarAhead(effective_on="2026-11-12", latest="2026-11-11"),
    ),
    "the last day of a closed month": (
        At(Draw(member="ALDER", quantity=1), date(2026, 9, 30)),
        errors.MonthClosed(effective_on="2026-09-30", closed_through="2026-09"),
    ),
    "nobody's code": (At(Draw(member="ELM", quantity=1)), errors.UnknownMember(member="ELM")),
    "a member the day before it joined": (
        At(Draw(member="DOGWOOD", quantity=1)),
        errors.MemberNotYetJoined(member="DOGWOOD", joined_on="2026-11-04", effective_on="2026-11-03"),
    ),
    "a member the day after it left": (
        At(Draw(member="CEDAR", quantity=1)),
        errors.MemberLeft(member="CEDAR", left_on="2026-11-02", effective_on="2026-11-03"),
    ),
    "one member on both sides": (
        At(Loan(lender="ALDER", borrower="ALDER", quantity=1)),
        errors.SameMember(member="ALDER"),
    ),
    "no credits": (At(Draw(member="ALDER", quantity=0)), errors.QuantityOutOfRange(quantity=0)),
    "one more than is held": (
        At(Use(member="BIRCH", quantity=11, item="CAL-S", job="J-1")),
        errors.NotEnoughHeld(member="BIRCH", held=10, quantity=11),
    ),
    "one more than is in stock": (
        At(Draw(member="BIRCH", quantity=61)),
        errors.NotEnoughInStock(stock=60, quantity=61),
    ),
    "one more than is open": (
        At(Return(borrower="ALDER", lender="BIRCH", quantity=1)),
        errors.NotEnoughOpen(lender="BIRCH", borrower="ALDER", open=0, quantity=1),
    ),
    "relocating more than the stock": (
        At(Relocation(from_member="ALDER", to_member="BIRCH", quantity=61)),
        errors.NotEnoughInStock(stock=60, quantity=61),
    ),
    "relocating from who isn't custodian": (
        At(Relocation(from_member="BIRCH", to_member="ALDER", quantity=1)),
        errors.NotCustodian(member="BIRCH", custodian="ALDER"),
    ),
    "paying more than is left after one's last day": (
        At(
            Payment(from_member="CEDAR", to_member="ALDER", amount=301, pays="2026-09-1", beyond=None),
            facts={"book": replace(BOOK, payments={ASKED.id: replace(ASKED, payer="CEDAR")})},
        ),
        errors.MemberLeft(member="CEDAR", left_on="2026-11-02", effective_on="2026-11-03"),
    ),
    "paying what nobody asks for": (
        At(Payment(from_member="BIRCH", to_member="ALDER", amount=1, pays="2026-09-2")),
        errors.UnknownSettlementPayment(payment="2026-09-2"),
    ),
    "paying it the other way": (
        At(Payment(from_member="ALDER", to_member="BIRCH", amount=1, pays="2026-09-1")),
        errors.PaymentMismatch(payment="2026-09-1", payer="BIRCH", payee="ALDER"),
    ),
    "paying a cent too much": (
        At(Payment(from_member="BIRCH", to_member="ALDER", amount=301, pays="2026-09-1")),
        errors.MoreThanUnpaid(payment="2026-09-1", unpaid=300, amount=301),
    ),
    "paying what is paid in full": (
        At(
            Payment(from_member="BIRCH", to_member="ALDER", amount=1, pays="2026-09-1", beyond=None),
            facts={"book": replace(BOOK, payments={ASKED.id: replace(ASKED, paid=500)})},
        ),
        errors.PaidInFull(payment="2026-09-1", amount=1),
    ),
    "reversing what isn't there": (At(Reversal(entry=99)), errors.EntryNotFound(entry=99)),
    "reversing all of it again": (At(Reversal(entry=1)), errors.MoreThanLeft(entry=1, left=0, quantity=1)),
    "reversing a charge again": (At(Reversal(entry=2)), errors.MoreThanLeft(entry=2, left=0, quantity=1)),
    "reversing one too many": (
        At(Reversal(entry=4, quantity=21)),
        errors.MoreThanLeft(entry=4, left=20, quantity=21),
    ),
    "reversing part of a charge": (
        At(Reversal(entry=3, quantity=1)),
        errors.NotDivisible(entry=3, kind="charge"),
    ),
    "reversing a relocation": (
        At(Reversal(entry=5)),
        errors.NotReversible(entry=5, kind="relocation", reason=IRREVERSIBLE["relocation"]),
    ),
    "reversing a reversal": (
        At(Reversal(entry=8)),
        errors.NotReversible(entry=8, kind="reversal", reason=IRREVERSIBLE["reversal"]),
    ),
    "reversing the opening in a later month": (
        At(Reversal(entry=7), facts=NEW),
        errors.NotReversible(entry=7, kind="opening", reason="its month is over"),
    ),
    "reversing on the day before": (
        At(Reversal(entry=6, quantity=1), date(2026, 11, 2)),
        errors.ReversalBeforeEntry(entry=6, entry_on="2026-11-03", effective_on="2026-11-02"),
    ),
    "reversing a loan whose credits are used": (
        At(Reversal(entry=4, quantity=11)),
        errors.NotEnoughHeld(member="BIRCH", held=10, quantity=11),
    ),
    "reversing an earlier month's purchase that left its cost": (
        At(
            Reversal(entry=9),
            facts={
                "history": lambda: (
                    TARGETS[9],
                    numbered(10, Purchase(into=STOCK, paid_by="ALDER", quantity=10, amount=50), date(2026, 10, 1)),
                    numbered(11, Draw(member="BIRCH", quantity=10), date(2026, 10, 2)),
                )
            },
        ),
        errors.StockCostImpossible(entry=9, quantity=10, credits=0, cost=-25),
    ),
    "acknowledging as a stranger": (
        At(Acknowledgement(entry=4, member="CEDAR", verdict=Verdict.CONFIRMED)),
        errors.NotOtherSide(entry=4, member="CEDAR", sides="ALDER, BIRCH"),
    ),
    "opening after a close": (At(OPENING), errors.OpeningTooLate(closed_through="2026-09")),
    "opening twice": (At(OPENING, BEGAN, {**NEW, "opening": 1}), errors.OpeningTwice(entry=1)),
    "opening a day late": (
        At(OPENING, date(2026, 9, 2), NEW),
        errors.OpeningNotFirstDay(began_on="2026-09-01", effective_on="2026-09-02"),
    ),
    "opening with dues that are not the stock's cost": (
        At(opened(stock_quantity=1, stock_cost=7), BEGAN, NEW),
        errors.OpeningUnbalanced(dues=0, stock_cost=7),
    ),
    "opening with cost without credits": (
        At(opened(members=(OpeningMember(member="ALDER", held=0, cost=7, due=0),)), BEGAN, NEW),
        errors.CostWithoutCredits(holder="ALDER", cost=7),
    ),
    "opening with a loan to oneself": (
        At(opened(loans=(OpeningLoan(lender="BIRCH", borrower="BIRCH", quantity=1),)), BEGAN, NEW),
        errors.SameMember(member="BIRCH"),
    ),
    "closing a month before the one before it": (
        At(closing("2026-11")),
        errors.MonthsOutOfOrder(month="2026-11", next_month="2026-10"),
    ),
    "closing on the month's last day": (
        At(closing("2026-10"), facts={"today": date(2026, 10, 31)}),
        errors.MonthNotReached(month="2026-10", from_day="2026-11-01"),
    ),
    "closing on figures that are no longer true": (
        At(closing("2026-10"), facts={"moved_since": lambda month, number: (month, number) == (Month(2026, 10), 5)}),
        errors.PreviewStale(month="2026-10", seen="d"),
    ),
    "closing under a policy that is no longer agreed": (
        At(closing("2026-10", sheet={**CLOSE.sheet, "policy": Policy(stock_costing=StockCosting.FIFO).as_json()})),
        errors.PreviewStale(month="2026-10", seen="d"),
    ),
    "reopening an open month": (
        At(Reopening(month="2026-10", reason="r")),
        errors.MonthNotClosed(month="2026-10"),
    ),
    "reopening under a closed month": (
        At(Reopening(month="2026-08", reason="r")),
        errors.NotLastClosed(month="2026-08", last="2026-09"),
    ),
    "reopening when a payment was made": (
        At(Reopening(month="2026-09", reason="r")),
        errors.PaymentsRecorded(month="2026-09", payment="2026-09-1"),
    ),
}


@pytest.mark.parametrize(("beyond", "amount"), [(0, 300), (1, 301), (700, 1_000)])
def test_what_is_paid_beyond_a_settlement_payment_is_stated_once_it_is_accepted(beyond: int, amount: int) -> None:
    body = Payment(from_member="BIRCH", to_member="ALDER", amount=amount, pays="2026-09-1", beyond=None)

    decided = decide(At(body))

    assert replace(body, beyond=beyond) == decided
    assert isinstance(decided, Payment)
    assert 300 == decided.answers


def test_nothing_is_beyond_what_no_settlement_asks_for() -> None:
    body = Payment(from_member="BIRCH", to_member="ALDER", amount=1_000, beyond=None)

    decided = decide(At(body))

    assert replace(body, beyond=0) == decided
    assert isinstance(decided, Payment)
    assert 0 == decided.answers


@pytest.mark.parametrize("case", REFUSED)
def test_what_the_rules_forbid_is_refused_with_the_rule_and_the_figures(case: str) -> None:
    asked, refusal = REFUSED[case]

    with pytest.raises(type(refusal)) as told:
        decide(asked)

    assert (refusal.code, refusal.fields()) == (told.value.code, told.value.fields())


def test_every_refusal_that_deciding_knows_is_tried() -> None:
    known = {name for name, each in inspect.getmembers(journal, inspect.isclass) if issubclass(each, DomainError)}

    assert known <= {type(refusal).__name__ for _, refusal in REFUSED.values()}
