"""What the journal adds up to: each kind's moves, and what reversals, closes and reopenings do to the book."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from pool_api.domain.book import Book, SettlementPayment, close_of, held_change, moves
from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
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
    quantity_of,
)
from pool_api.domain.values import STOCK, Month
from tests.domain.journals import numbered

SEPTEMBER, OCTOBER = date(2026, 9, 30), date(2026, 10, 1)
PAYMENT = SettlementPayment(id="2026-09-1", month=Month(2026, 9), payer="BIRCH", payee="ALDER", amount=500)


def start() -> Book:
    return Book(stock=50, held={"ALDER": 40, "BIRCH": 30}, open={("ALDER", "BIRCH"): 10}, custodian="ALDER")


def closing(loans: list[dict[str, Any]]) -> Close:
    payments = [{"payer": "BIRCH", "payee": "ALDER", "amount": 500}]
    return Close(
        month="2026-09", computed_at=0, digest="d", sheet={"loans_settled": loans}, settlement={"payments": payments}
    )


# Own rule: what each kind does to (stock, held by ALDER, held by BIRCH, open from ALDER to BIRCH).
EFFECTS: list[tuple[Body, tuple[int, int, int, int]]] = [
    (Purchase(into=STOCK, paid_by="ALDER", quantity=7, amount=49), (7, 0, 0, 0)),
    (Purchase(into="BIRCH", paid_by="ALDER", quantity=7, amount=49), (0, 0, 7, 0)),
    (Draw(member="ALDER", quantity=7), (-7, 7, 0, 0)),
    (Loan(lender="ALDER", borrower="BIRCH", quantity=7), (0, -7, 7, 7)),
    (Loan(lender="ALDER", borrower="BIRCH", quantity=7, unit_price="7.25"), (0, -7, 7, 0)),
    (Return(borrower="BIRCH", lender="ALDER", quantity=7), (0, 7, -7, -7)),
    (Use(member="BIRCH", quantity=7, item="CAL-S", job="J-1"), (0, 0, -7, 0)),
    (WriteOff(holder=STOCK, quantity=7, reason=WriteOffReason.EXPIRED), (-7, 0, 0, 0)),
    (WriteOff(holder="ALDER", quantity=7, reason=WriteOffReason.LOST), (0, -7, 0, 0)),
    (Outside(member="ALDER", direction=Direction.IN, party="a shop", quantity=7, amount=1), (0, 7, 0, 0)),
    (Outside(member="ALDER", direction=Direction.OUT, party="a shop", quantity=7, amount=1), (0, -7, 0, 0)),
    (Relocation(from_member="ALDER", to_member="BIRCH", quantity=7), (0, 0, 0, 0)),
    (Charge(from_member="ALDER", to_member="BIRCH", amount=7, reason="courier"), (0, 0, 0, 0)),
    (Payment(from_member="ALDER", to_member="BIRCH", amount=7), (0, 0, 0, 0)),
    (Acknowledgement(entry=1, member="ALDER", verdict=Verdict.CONFIRMED), (0, 0, 0, 0)),
]


def laid_out(book: Book) -> tuple[int, int, int, int]:
    return (book.stock, book.held["ALDER"], book.held["BIRCH"], book.open["ALDER", "BIRCH"])


@pytest.mark.parametrize(("body", "effect"), EFFECTS, ids=range(len(EFFECTS)))
def test_each_kind_moves_credits_where_it_says_and_a_reversal_moves_them_back(
    body: Body, effect: tuple[int, int, int, int]
) -> None:
    book, entry = start(), numbered(1, body, SEPTEMBER)
    book.apply(entry)
    assert tuple(a + b for a, b in zip(laid_out(start()), effect, strict=True)) == laid_out(book)

    book.apply(numbered(2, Reversal(entry=1, quantity=quantity_of(body)), SEPTEMBER), entry)
    assert laid_out(start()) == laid_out(book)
    assert {1: quantity_of(body) or 1} == book.undone


def test_an_opening_sets_out_what_the_old_books_said() -> None:
    opening = Opening(
        members=(OpeningMember(member="ALDER", held=5, cost=35, due=20),),
        stock_quantity=3,
        stock_cost=20,
        loans=(OpeningLoan(lender="ALDER", borrower="BIRCH", quantity=2),),
    )
    book = Book()
    book.apply(numbered(1, opening, SEPTEMBER))

    assert (3, {"ALDER": 5}, {("ALDER", "BIRCH"): 2}) == (book.stock, book.held, book.open)


def test_parts_of_an_entry_are_reversed_one_after_another() -> None:
    draw = numbered(1, Draw(member="ALDER", quantity=7), SEPTEMBER)
    book = start()
    book.apply(draw)
    for number, quantity in ((2, 3), (3, 4)):
        book.apply(numbered(number, Reversal(entry=1, quantity=quantity), SEPTEMBER), draw)

    assert laid_out(start()) == laid_out(book)
    assert {1: 7} == book.undone


@pytest.mark.parametrize(("body", "effect"), EFFECTS, ids=range(len(EFFECTS)))
def test_what_each_holder_gains_is_known_without_the_book(body: Body, effect: tuple[int, int, int, int]) -> None:
    entry, reversal = numbered(1, body, SEPTEMBER), numbered(2, Reversal(entry=1, quantity=quantity_of(body)), OCTOBER)

    for holder, gained in zip((None, "ALDER", "BIRCH"), effect, strict=False):
        assert gained == held_change(holder, entry)
        assert -gained == held_change(holder, reversal, entry)
    assert 0 == held_change("CEDAR", entry)
    with pytest.raises(ValueError, match="goes with the entry"):
        held_change("ALDER", reversal)


@pytest.mark.parametrize(
    "body", [Loan(lender="ALDER", borrower="BIRCH", quantity=7), Return(borrower="BIRCH", lender="ALDER", quantity=7)]
)
def test_a_loan_reversed_in_a_later_month_goes_back_without_touching_the_open_loans(body: Body) -> None:
    entry = numbered(1, body, SEPTEMBER)
    reversal = numbered(2, Reversal(entry=1, quantity=7), OCTOBER)

    assert {(-move.change, move.member) for move in moves(entry) if move.borrower is None} == {
        (move.change, move.member) for move in moves(reversal, entry)
    }
    assert all(move.borrower is None for move in moves(reversal, entry))


def test_one_that_was_still_open_is_taken_from_the_open_loan_and_beyond_it_is_open_the_other_way() -> None:
    lent = numbered(1, Loan(lender="ALDER", borrower="BIRCH", quantity=14), SEPTEMBER)
    book = Book(held={"ALDER": 20, "BIRCH": 20}, open={("ALDER", "BIRCH"): 10})
    for number, quantity, left in ((2, 4, (6, 0)), (3, 10, (0, 4))):
        book.apply(numbered(number, Reversal(entry=1, quantity=quantity, still_open=True), OCTOBER), lent)
        assert left == (book.open["ALDER", "BIRCH"], book.open.get(("BIRCH", "ALDER"), 0))


def test_a_close_that_settles_takes_earlier_months_loans_too() -> None:
    pair = {"lender": "ALDER", "borrower": "BIRCH"}
    sheet = {"loans_settled": [{**pair, "quantity": 4}], "carried_settled": [{**pair, "quantity": 6}]}
    book = Book(open={("ALDER", "BIRCH"): 10})
    close = numbered(1, replace(closing([]), sheet=sheet), SEPTEMBER)
    book.apply(close)

    assert 0 == book.open["ALDER", "BIRCH"]


def test_a_relocation_makes_the_other_side_custodian() -> None:
    book = start()
    book.apply(numbered(1, Relocation(from_member="ALDER", to_member="BIRCH", quantity=7), SEPTEMBER))

    assert "BIRCH" == book.custodian


def test_a_close_settles_open_loans_and_asks_for_payments_and_a_reopening_takes_both_back() -> None:
    close = numbered(1, closing([{"lender": "ALDER", "borrower": "BIRCH", "quantity": 10}]), SEPTEMBER)
    book = start()
    book.apply(close)
    assert (Month(2026, 9), 0, {PAYMENT.id: PAYMENT}) == (
        book.closed_through, book.open["ALDER", "BIRCH"], book.payments
    )  # fmt: skip

    book.apply(numbered(2, Reopening(month="2026-09", reason="late invoice"), OCTOBER), close)
    assert (Month(2026, 8), 10, {}) == (book.closed_through, book.open["ALDER", "BIRCH"], book.payments)


def test_once_the_first_month_is_reopened_no_month_is_closed() -> None:
    book, close = Book(first_month=Month(2026, 9)), numbered(1, closing([]), SEPTEMBER)
    book.apply(close)
    book.apply(numbered(2, Reopening(month="2026-09", reason="late invoice"), OCTOBER), close)

    assert book.closed_through is None


def test_a_return_dated_after_the_closed_month_leaves_a_loan_the_other_way() -> None:
    book = start()
    book.apply(numbered(1, Return(borrower="BIRCH", lender="ALDER", quantity=4), OCTOBER))
    close = numbered(2, closing([{"lender": "ALDER", "borrower": "BIRCH", "quantity": 10}]), SEPTEMBER)
    book.apply(close)
    assert (0, 4) == (book.open["ALDER", "BIRCH"], book.open["BIRCH", "ALDER"])

    book.apply(numbered(3, Reopening(month="2026-09", reason="late invoice"), OCTOBER), close)
    assert (6, 0) == (book.open["ALDER", "BIRCH"], book.open["BIRCH", "ALDER"])


def test_a_settlement_payment_is_paid_in_parts_and_unpaid_by_a_reversal() -> None:
    book = start()
    book.apply(numbered(1, closing([]), SEPTEMBER))
    part = numbered(2, Payment(from_member="BIRCH", to_member="ALDER", amount=200, pays=PAYMENT.id), OCTOBER)
    book.apply(part)
    assert replace(PAYMENT, paid=200) == book.payments[PAYMENT.id]

    book.apply(numbered(3, Reversal(entry=2), OCTOBER), part)
    assert PAYMENT == book.payments[PAYMENT.id]
    assert {2: 1} == book.undone


def test_what_goes_beyond_a_settlement_payment_does_not_pay_it() -> None:
    book = start()
    book.apply(numbered(1, closing([]), SEPTEMBER))
    over = numbered(
        2, Payment(from_member="BIRCH", to_member="ALDER", amount=620, pays=PAYMENT.id, beyond=120), OCTOBER
    )
    book.apply(over)
    assert (500, 0) == (book.payments[PAYMENT.id].paid, book.payments[PAYMENT.id].unpaid)

    book.apply(numbered(3, Reversal(entry=2), OCTOBER), over)
    assert PAYMENT == book.payments[PAYMENT.id]


def test_a_copy_moves_on_alone() -> None:
    book = start()
    book.apply(numbered(1, closing([]), SEPTEMBER))
    before, twin = book.copy(), book.copy()
    draw = numbered(2, Draw(member="ALDER", quantity=1), OCTOBER)
    twin.apply(draw)
    twin.apply(numbered(3, Reversal(entry=2, quantity=1), OCTOBER), draw)
    twin.apply(numbered(4, Loan(lender="ALDER", borrower="BIRCH", quantity=1), OCTOBER))
    twin.apply(numbered(5, Payment(from_member="BIRCH", to_member="ALDER", amount=1, pays=PAYMENT.id), OCTOBER))

    assert before == book
    assert before != twin


def test_a_reopening_without_its_close_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="close that it undoes"):
        close_of(numbered(1, Draw(member="ALDER", quantity=1), SEPTEMBER))
