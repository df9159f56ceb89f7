"""The double entry of a month, by hand: the worked example's ledger, and what each kind of entry debits and credits.

The rule that all of it keeps is the one of every textbook: each transaction is written on two sides, and its debits
equal its credits (OpenStax, Principles of Accounting 1, chapter 3; L. Pacioli, Summa de arithmetica, 1494, Particularis
de computis et scripturis, chapter 14; both named from memory). The figures are own cases, worked by hand; cents."""

from collections.abc import Mapping, Sequence

import pytest

from pool_api.domain.activity import Activity
from pool_api.domain.bookkeeping import AccountCodes, Reason, Role, Transaction, transactions
from pool_api.domain.costing import Terms, month_sheet
from pool_api.domain.effects import Original
from pool_api.domain.entries import (
    Body,
    Charge,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Return,
    Reversal,
)
from pool_api.domain.pool import LoansAtClose, Policy
from pool_api.domain.reversals import Divisible
from pool_api.domain.sheets import OpenLoan, Position
from pool_api.domain.values import STOCK, Currency
from tests.domain.examples import worked_example
from tests.domain.journals import (
    CODES,
    MONTHS,
    SETTLEMENT,
    Journal,
    bought,
    chained,
    numbered,
    shops,
    under,
    use,
    write_off,
)

NETS = {"ALDER": 145_228, "BIRCH": -96_107, "CEDAR": 24_372, "DOGWOOD": -73_493}
"""What the worked example's close turns into payments, by the funding `payers`."""


def booked(
    journal: Journal,
    holder: str,
    month: int = 0,
    nets: Mapping[str, int] | None = None,
    policies: Sequence[Policy] = (Policy(),),
) -> list[Transaction]:
    sheet = [each for each, _ in chained(journal, under(*policies))][month]
    targets = {each.number: each for each in journal.entries}
    return list(transactions(holder, sheet, journal.of(sheet.month), targets, nets or {}))


def lines(found: list[Transaction]) -> list[tuple[int | None, str, dict[str, int]]]:
    return [(each.entry, each.reason.value, {role.value: amount for role, amount in each.postings}) for each in found]


def balances(found: list[Transaction]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for each in found:
        for role, amount in each.postings:
            sums[role.value] = sums.get(role.value, 0) + amount
    return {role: amount for role, amount in sums.items() if amount}


def test_the_ledger_of_one_shop_of_the_worked_example_line_by_line() -> None:
    assert [
        (4, "entry", {"credits": 106_000, "pool": -106_000}),
        (12, "entry", {"used": 77_733, "credits": -77_733}),
        (None, "loans_settled", {"pool": 9_893, "lending": 1, "credits": -9_894}),
        (None, "settlement", {"pool": 96_107, "settlement": -96_107}),
    ] == lines(booked(worked_example(), "BIRCH", nets=NETS))


@pytest.mark.parametrize(
    ("holder", "expected"),
    [
        (
            "ALDER",
            {"credits": 16_960, "pool": 114_972, "settlement": 145_228, "bank": -345_000, "used": 67_840},
        ),
        ("BIRCH", {"credits": 18_373, "settlement": -96_107, "used": 77_733, "lending": 1}),
        ("CEDAR", {"credits": 7_067, "pool": 19_295, "settlement": 24_372, "bank": -79_000, "used": 28_266}),
        ("DOGWOOD", {"credits": 40_279, "settlement": -73_493, "opening": -19_000, "used": 52_214}),
        (STOCK, {"credits": 134_267, "pool": -134_267}),
    ],
)
def test_the_trial_balances_of_the_worked_example(holder: str, expected: dict[str, int]) -> None:
    found = balances(booked(worked_example(), holder, nets=NETS))

    assert expected == found
    assert 0 == sum(expected.values())


def test_until_its_close_a_month_has_its_whole_due_in_the_pools_account() -> None:
    found = balances(booked(worked_example(), "ALDER"))

    assert (260_200, None) == (found["pool"], found.get("settlement"))


ALDERS: tuple[tuple[str, Body, dict[str, int]], ...] = (
    ("a purchase of its own", Purchase(into="ALDER", paid_by="ALDER", quantity=2, amount=15),
     {"credits": 15, "bank": -15}),
    ("one for another", Purchase(into="BIRCH", paid_by="ALDER", quantity=2, amount=15), {"pool": 15, "bank": -15}),
    ("one by another", Purchase(into="ALDER", paid_by="BIRCH", quantity=2, amount=15), {"credits": 15, "pool": -15}),
    ("one into stock", bought(2, 15), {"pool": 15, "bank": -15}),
    ("a draw", Draw(member="ALDER", quantity=3), {"credits": 21, "pool": -21}),
    ("a use", use("ALDER", 3), {"used": 30, "credits": -30}),
    ("a write-off", write_off("ALDER", 3), {"written_off": 30, "credits": -30}),
    ("a quarter of the stock's", write_off(STOCK, 8), {"stock_loss": 14, "pool": -14}),
    (
        "credits that came from outside",
        Outside(member="ALDER", direction=Direction.IN, party="a shop", quantity=3, amount=12),
        {"credits": 12, "bank": -12},
    ),
    (
        "credits that went outside",
        Outside(member="ALDER", direction=Direction.OUT, party="a shop", quantity=3, amount=12),
        {"bank": 12, "passed_on": 30, "credits": -30, "proceeds": -12},
    ),
    ("an agreed loan", Loan(lender="ALDER", borrower="BIRCH", quantity=3, unit_price="0.12"),
     {"pool": 36, "credits": -30, "lending": -6}),
    ("one to it", Loan(lender="BIRCH", borrower="ALDER", quantity=3, unit_price="0.12"), {"credits": 36, "pool": -36}),
    ("a charge", Charge(from_member="ALDER", to_member="BIRCH", amount=9, reason="freight"),
     {"charges": 9, "pool": -9}),
    ("a charge to it", Charge(from_member="BIRCH", to_member="ALDER", amount=9, reason="freight"),
     {"pool": 9, "charges": -9}),
    ("a payment", Payment(from_member="ALDER", to_member="BIRCH", amount=9), {"pool": 9, "bank": -9}),
    ("a payment to it", Payment(from_member="BIRCH", to_member="ALDER", amount=9), {"bank": 9, "pool": -9}),
    ("a settlement's payment", Payment(from_member="BIRCH", to_member="ALDER", amount=9, pays=SETTLEMENT.id),
     {"bank": 9, "settlement": -9}),
    ("one that goes beyond it", Payment(from_member="ALDER", to_member="BIRCH", amount=9, pays="2026-10-2", beyond=4),
     {"pool": 4, "settlement": 5, "bank": -9}),
    ("one to it that does", Payment(from_member="BIRCH", to_member="ALDER", amount=9, pays=SETTLEMENT.id, beyond=4),
     {"bank": 9, "pool": -4, "settlement": -5}),
)  # fmt: skip
"""What a shop books that opens with 10 credits at 1.00, beside a stock of 40 at 2.80, so that a credit of its own costs
10 cents and one in stock 7."""

KINDS = pytest.mark.parametrize(("body", "expected"), [case[1:] for case in ALDERS], ids=[case[0] for case in ALDERS])


def opened_with(body: Body) -> Journal:
    journal = Journal()
    members = tuple(OpeningMember(member=code, held=10, cost=100, due=70) for code in CODES)
    journal.write(Opening(members=members, stock_quantity=40, stock_cost=280))
    journal.write(body, 5)
    return journal


@KINDS
def test_what_an_entry_debits_and_credits(body: Body, expected: dict[str, int]) -> None:
    assert (2, "entry", expected) == lines(booked(opened_with(body), "ALDER"))[1]


@KINDS
def test_a_reversal_in_a_later_month_books_the_same_the_other_way(body: Body, expected: dict[str, int]) -> None:
    journal = opened_with(body)
    journal.write(Reversal(entry=2, quantity=getattr(body, "quantity", None)), 3, 1)

    (back,) = (each for each in booked(journal, "ALDER", 1) if each.reason is Reason.ENTRY)

    assert {role: -amount for role, amount in expected.items()} == lines([back])[0][2]
    assert (3, 3) == (back.entry, back.on.day)


@KINDS
def test_a_reversal_in_the_same_month_leaves_nothing_to_book(body: Body, expected: dict[str, int]) -> None:
    journal = opened_with(body)
    journal.write(Reversal(entry=2, quantity=getattr(body, "quantity", None)), 6)

    assert expected
    assert [(1, "entry", {"credits": 100, "pool": 70, "opening": -170})] == lines(booked(journal, "ALDER"))


def test_a_part_that_went_outside_and_came_back_takes_its_part_of_the_proceeds() -> None:
    journal = opened_with(Outside(member="ALDER", direction=Direction.OUT, party="a shop", quantity=3, amount=2))
    journal.write(Reversal(entry=2, quantity=2), 6)
    journal.write(Reversal(entry=2, quantity=1), 3, 1)

    assert {"bank": 1, "passed_on": 10, "credits": -10, "proceeds": -1} == lines(booked(journal, "ALDER"))[1][2]
    assert {"credits": 10, "proceeds": 1, "bank": -1, "passed_on": -10} == lines(booked(journal, "ALDER", 1))[0][2]


CARRY = Policy(loans_at_close=LoansAtClose.CARRY)
SETTLE = Policy()


def lent_and_returned() -> Journal:
    """ALDER, whose credits cost 10 cents each, lends BIRCH 4 when one in stock costs 7; BIRCH gives 1 back a month
    later."""
    journal = opened_with(Loan(lender="ALDER", borrower="BIRCH", quantity=4))
    journal.write(Return(lender="ALDER", borrower="BIRCH", quantity=1), 3, 1)
    return journal


def test_a_loan_that_is_carried_on_is_owed_in_credits_until_it_comes_back() -> None:
    journal = lent_and_returned()
    carried = [
        (None, "loans_carried", {"loans": 28, "lending": 12, "credits": -40}),
        (None, "loans_carried", {"credits": 28, "loans": -28}),
    ]
    back = [
        (None, "loans_returned", {"credits": 7, "loans": -7}),
        (None, "loans_returned", {"loans": 7, "credits": -9, "lending": 2}),
    ]

    assert carried == [lines(booked(journal, code, policies=[CARRY]))[-1] for code in ("ALDER", "BIRCH")]
    assert back == [lines(booked(journal, code, 1, policies=[CARRY]))[-1] for code in ("ALDER", "BIRCH")]


def test_what_was_carried_on_becomes_due_when_the_policy_settles() -> None:
    journal = opened_with(Loan(lender="ALDER", borrower="BIRCH", quantity=4))
    policies = [CARRY, SETTLE, SETTLE]

    assert [(None, "loans_settled", {"pool": 28, "loans": -28})] == lines(
        booked(journal, "ALDER", 1, policies=policies)
    )
    assert [(None, "loans_settled", {"loans": 28, "pool": -28})] == lines(
        booked(journal, "BIRCH", 1, policies=policies)
    )


def test_a_reversal_that_takes_more_than_a_loan_is_worth_by_now_leaves_a_difference() -> None:
    """4 credits lent for 40 of which returns of others have left 34: what the reversal takes is not there."""
    loan = Loan(lender="ALDER", borrower="BIRCH", quantity=4)
    reversal = numbered(9, Reversal(entry=2, quantity=4, still_open=True), MONTHS[0].first)
    whole = Divisible(quantity=4, amount=40)
    activity = Activity()
    activity.undo(reversal)
    sheet = month_sheet(
        month=MONTHS[0],
        opening=Position(
            members=(OpeningMember(member="BIRCH", held=9, cost=90, due=0),),
            loans=(OpenLoan(lender="ALDER", borrower="BIRCH", quantity=4, value=34),),
        ),
        activity=activity,
        originals={2: Original(body=loan, value=whole, cost=whole, shares={})},
        terms=Terms(policy=CARRY, members=shops(), currency=Currency("EUR")),
    )
    targets = {2: numbered(2, loan, MONTHS[0].previous().first)}

    alder, birch = (lines(list(transactions(code, sheet, [reversal], targets, {}))) for code in ("ALDER", "BIRCH"))

    assert [(9, "entry", {"credits": 40, "loans": -40}), (None, "difference", {"loans": 6, "differences": -6})] == alder
    assert [(9, "entry", {"loans": 40, "credits": -40}), (None, "difference", {"differences": 6, "loans": -6})] == birch


def test_a_draw_that_waited_for_credits_is_booked_when_they_come() -> None:
    journal = Journal()
    journal.write(Draw(member="ALDER", quantity=4), 20)
    journal.write(bought(4, 30, "BIRCH"), 2, 1)

    assert [] == booked(journal, "ALDER")
    assert [(1, "late_cost", {"credits": 30, "pool": -30})] == lines(booked(journal, "ALDER", 1))
    assert {} == balances(booked(journal, STOCK, 1))


def test_a_stock_write_off_that_waited_is_shared_when_it_costs_something() -> None:
    journal = Journal()
    journal.write(write_off(STOCK, 4), 20)
    journal.write(bought(4, 40, "BIRCH"), 2, 1)

    assert [(1, "late_cost", {"stock_loss": 10, "pool": -10})] == lines(booked(journal, "ALDER", 1))
    assert {} == balances(booked(journal, STOCK, 1))


def test_credits_used_before_they_were_there_cost_when_they_come() -> None:
    journal = Journal()
    journal.write(use("ALDER", 4), 20)
    journal.write(Purchase(into="ALDER", paid_by="ALDER", quantity=4, amount=30), 2, 1)

    assert [
        (2, "entry", {"credits": 30, "bank": -30}),
        (None, "made_up", {"differences": 30, "credits": -30}),
    ] == lines(booked(journal, "ALDER", 1))


def test_what_moves_neither_cost_nor_money_is_not_booked() -> None:
    journal = opened_with(Relocation(from_member="ALDER", to_member="BIRCH", quantity=40))

    assert [1] == [each.entry for each in booked(journal, "ALDER")]


def test_every_role_has_a_code_that_is_its_own() -> None:
    codes = AccountCodes(used="4711")

    assert "4711" == codes.of(Role.USED)
    assert len(Role) == len({codes.of(role) for role in Role})
