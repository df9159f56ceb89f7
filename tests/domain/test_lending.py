"""Loans at the lender's own price, and loans that are carried on: hand-worked cases of own rules; amounts are cents."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import product

import pytest

from pool_api.domain.entries import Body, Draw, Loan, Purchase, Return, Reversal
from pool_api.domain.errors import NoSupply
from pool_api.domain.layers import Costed
from pool_api.domain.lending import Open
from pool_api.domain.pool import LoanPrice, LoansAtClose, Policy, StockCosting
from pool_api.domain.sheets import Lending, OpenLoan, Sheet
from tests.domain.examples import moved, of, worked_example
from tests.domain.journals import Journal, bought, chained, under

LENDER, CARRY, SETTLE = Policy(loan_price=LoanPrice.LENDER), Policy(loans_at_close=LoansAtClose.CARRY), Policy()
LOAN_OF_24, RETURN_OF_10 = 6, 8
"""The numbers of entries of the worked example."""


def amounts(loans: Sequence[Lending]) -> list[tuple[str, str, int, int]]:
    return [(each.lender, each.borrower, each.quantity, each.amount) for each in loans]


def loan(lender: str, borrower: str, quantity: int, value: int) -> OpenLoan:
    return OpenLoan(lender=lender, borrower=borrower, quantity=quantity, value=value)


class TestLendersPrice:
    def circle(self, *more: Body) -> Sheet:
        """Each of three shops has credits of its own at another cost and lends some to the next."""
        journal = Journal()
        for code, quantity, amount in (("ALDER", 100, 70_000), ("BIRCH", 50, 40_000), ("CEDAR", 20, 20_000)):
            journal.write(Purchase(into=code, paid_by=code, quantity=quantity, amount=amount))
        for lender, borrower, quantity in (("ALDER", "BIRCH", 20), ("BIRCH", "CEDAR", 10), ("CEDAR", "ALDER", 5)):
            journal.write(Loan(lender=lender, borrower=borrower, quantity=quantity), 2)
        for body in more:
            journal.write(body, 3)
        return next(sheet for sheet, _ in chained(journal, under(LENDER)))

    def test_a_circle_is_settled_at_what_the_credits_cost_each_lender(self) -> None:
        sheet = self.circle()

        assert [
            ("ALDER", "BIRCH", 20, 14_214),
            ("BIRCH", "CEDAR", 10, 7_745),
            ("CEDAR", "ALDER", 5, 4_624),
        ] == amounts(sheet.loans_settled)
        assert [Fraction(312_000, 439), Fraction(340_000, 439), Fraction(406_000, 439)] == [
            each.unit_price for each in sheet.loans_settled
        ]
        assert Costed(105, 74_624) == of(sheet, "ALDER").available
        assert {"ALDER": 9_590, "BIRCH": -6_469, "CEDAR": -3_121} == moved(sheet)
        assert sheet.obstacle is None

    def test_nobody_gains_by_lending_but_for_rounding(self) -> None:
        assert all(abs(each.lending_gain) <= 1 for each in self.circle().members)

    def test_an_agreed_price_counts_among_what_the_borrower_has(self) -> None:
        """ALDER's own cost is 70,000 and 5 for 5,000 more; CEDAR still lends it 5 at what they cost CEDAR."""
        sheet = self.circle(Loan(lender="DOGWOOD", borrower="ALDER", quantity=5, unit_price="10"))
        price = {each.lender: each.unit_price or 0 for each in sheet.loans_settled}

        assert price["ALDER"] * 110 == 75_000 + 5 * price["CEDAR"]

    def test_only_the_balance_of_two_members_is_priced(self) -> None:
        sheet = self.circle(Loan(lender="BIRCH", borrower="ALDER", quantity=20))

        assert [("BIRCH", "CEDAR", 10), ("CEDAR", "ALDER", 5)] == [each[:3] for each in amounts(sheet.loans_settled)]

    def test_credits_lent_around_that_nobody_had_keep_the_month_from_closing(self) -> None:
        journal = Journal()
        journal.write(bought(10, 7_000))
        for lender, borrower in (("BIRCH", "CEDAR"), ("CEDAR", "DOGWOOD"), ("DOGWOOD", "BIRCH")):
            journal.write(Loan(lender=lender, borrower=borrower, quantity=4), 2)
        sheet = next(sheet for sheet, _ in chained(journal, under(LENDER)))

        assert isinstance(sheet.obstacle, NoSupply)
        assert {"month": "2026-11", "lenders": "CEDAR to DOGWOOD to BIRCH to CEDAR"} == sheet.obstacle.fields()
        assert [None] * 3 == [each.unit_price for each in sheet.loans_settled]
        assert {"ALDER": 7_000} == moved(sheet)

    @pytest.mark.parametrize("at_close", LoansAtClose)
    def test_a_loan_offset_within_its_month_goes_back_at_what_it_cost_the_lender(self, at_close: LoansAtClose) -> None:
        journal = Journal()
        journal.write(Purchase(into="BIRCH", paid_by="BIRCH", quantity=10, amount=7_000))
        journal.write(Purchase(into="CEDAR", paid_by="CEDAR", quantity=10, amount=8_000))
        lent = journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=4), 2)
        journal.write(Loan(lender="CEDAR", borrower="BIRCH", quantity=4), 2)
        journal.write(Reversal(entry=lent, quantity=4), 1, month=1)
        policy = Policy(loan_price=LoanPrice.LENDER, loans_at_close=at_close)
        december = [sheet for sheet, _ in chained(journal, under(policy))][1]

        assert Costed(4, 2_800) == of(december, "BIRCH").reversals_in
        assert {"BIRCH": -2_800, "CEDAR": 2_800} == moved(december)


class TestCarriedLoans:
    """BIRCH and CEDAR have lent DOGWOOD 14 and 30 at 7.0667 in November."""

    def months(self, *december: Body, rules: tuple[Policy, ...] = (CARRY,)) -> list[Sheet]:
        journal = worked_example()
        for body in december:
            journal.write(body, 1, month=1)
        return [sheet for sheet, _ in chained(journal, under(*rules))]

    def test_they_are_valued_as_they_would_have_been_settled_and_no_due_moves(self) -> None:
        carried, settled = self.months()[0], self.months(rules=(SETTLE,))[0]

        assert () == carried.loans_settled
        assert amounts(settled.loans_settled) == amounts(carried.loans_carried)
        assert (loan("BIRCH", "DOGWOOD", 14, 9_893), loan("CEDAR", "DOGWOOD", 30, 21_200)) == carried.open_loans
        assert {"ALDER": 260_200, "BIRCH": -106_000, "CEDAR": 22_467, "DOGWOOD": -42_400} == moved(carried)
        assert [(each.closing, each.lending_gain) for each in settled.members] == [
            (each.closing, each.lending_gain) for each in carried.members
        ]

    def test_a_return_is_worth_its_part_of_the_value(self) -> None:
        """Half up of 98.93 · 5/14 is 35.33; it costs DOGWOOD 5 of its 54 for 402.79, half up 37.30."""
        december = self.months(Return(borrower="DOGWOOD", lender="BIRCH", quantity=5))[1]

        assert [("DOGWOOD", "BIRCH", 5, 3_533)] == amounts(december.loans_returned)
        assert Costed(5, 3_533) == of(december, "BIRCH").loans_to_it
        assert Costed(5, 3_730) == of(december, "DOGWOOD").loans_from_it
        assert -197 == of(december, "DOGWOOD").lending_gain
        assert loan("BIRCH", "DOGWOOD", 9, 6_360) == december.open_loans[0]
        assert {} == moved(december)

    def test_the_last_part_takes_the_rest_of_the_value(self) -> None:
        journal = worked_example()
        for month, quantity in ((1, 5), (2, 9)):
            journal.write(Return(borrower="DOGWOOD", lender="BIRCH", quantity=quantity), 1, month=month)
        january = [sheet for sheet, _ in chained(journal, under(CARRY))][2]

        assert [("DOGWOOD", "BIRCH", 9, 9_893 - 3_533)] == amounts(january.loans_returned)
        assert (loan("CEDAR", "DOGWOOD", 30, 21_200),) == january.open_loans

    def test_more_of_the_same_way_is_added_at_the_new_month_s_price(self) -> None:
        """190 are left for 1,342.67; 10 more for 157.33 make 7.5 each."""
        december = self.months(bought(10, 15_733), Loan(lender="BIRCH", borrower="DOGWOOD", quantity=6))[1]

        assert Fraction(750) == december.price
        assert [("BIRCH", "DOGWOOD", 6, 4_500)] == amounts(december.loans_carried)
        assert loan("BIRCH", "DOGWOOD", 20, 9_893 + 4_500) == december.open_loans[0]

    def test_what_goes_back_beyond_the_loan_is_lent_the_other_way(self) -> None:
        december = self.months(Loan(lender="DOGWOOD", borrower="BIRCH", quantity=20))[1]

        assert [("DOGWOOD", "BIRCH", 14, 9_893)] == amounts(december.loans_returned)
        assert [("DOGWOOD", "BIRCH", 6, 4_240)] == amounts(december.loans_carried)
        assert (loan("CEDAR", "DOGWOOD", 30, 21_200), loan("DOGWOOD", "BIRCH", 6, 4_240)) == december.open_loans

    def test_the_first_month_that_settles_settles_all_that_is_open_for_its_value(self) -> None:
        back = Return(borrower="DOGWOOD", lender="BIRCH", quantity=5)
        _, december, january = self.months(back, rules=(CARRY, SETTLE, SETTLE))

        assert (loan("BIRCH", "DOGWOOD", 9, 6_360), loan("CEDAR", "DOGWOOD", 30, 21_200)) == december.carried_settled
        assert {"BIRCH": 6_360, "CEDAR": 21_200, "DOGWOOD": -27_560} == moved(december)
        assert () == december.open_loans == january.carried_settled
        assert {} == moved(january)


class TestOpen:
    @pytest.mark.parametrize(
        ("there", "change", "left"),
        [
            (Open(10, 100), (5, 70), Open(15, 170)),
            (Open(10, 100), (-4, -60), Open(6, 40)),
            (Open(10, 100), (-4, -150), Open(6, 0)),
            (Open(-10, -100), (4, 150), Open(-6, 0)),
            (Open(10, 100), (-10, -70), Open(0, 0)),
            (Open(10, 100), (-12, -60), Open(-2, -10)),
            (Open(0, 0), (-3, -20), Open(-3, -20)),
        ],
    )
    def test_what_is_taken_takes_its_value_along_as_far_as_there_is_any(
        self, there: Open, change: tuple[int, int], left: Open
    ) -> None:
        assert left == there.changed(*change)


class TestReversalsOfCarriedLoans:
    """The same, of which December reverses a part. Entry 6 lent 24, worth 169.60, that cost BIRCH 169.61."""

    def months(self, entry: int, quantity: int, *rules: Policy) -> list[Sheet]:
        journal = worked_example()
        journal.write(Reversal(entry=entry, quantity=quantity, still_open=True), 1, month=1)
        return [sheet for sheet, _ in chained(journal, under(*rules))]

    def test_it_takes_the_original_amounts_from_the_open_loan_and_from_no_due(self) -> None:
        december = self.months(LOAN_OF_24, 4, CARRY)[1]

        assert loan("BIRCH", "DOGWOOD", 10, 9_893 - 2_827) == december.open_loans[0]
        assert Costed(4, 2_827) == of(december, "BIRCH").reversals_in == of(december, "DOGWOOD").reversals_out
        assert {} == moved(december)

    def test_a_return_undone_is_open_again_at_what_it_was_worth(self) -> None:
        december = self.months(RETURN_OF_10, 10, CARRY)[1]

        assert loan("BIRCH", "DOGWOOD", 24, 9_893 + 7_067) == december.open_loans[0]
        assert {} == moved(december)

    def test_beyond_what_is_still_open_it_is_open_the_other_way(self) -> None:
        """All 24, of which 10 had come back: BIRCH now has 10 of DOGWOOD's, at 169.60 · 10/24."""
        _, december, january = self.months(LOAN_OF_24, 24, CARRY, CARRY, SETTLE)

        assert loan("DOGWOOD", "BIRCH", 10, 7_067) == december.open_loans[1]
        assert {"BIRCH": -7_067, "CEDAR": 21_200, "DOGWOOD": -21_200 + 7_067} == moved(january)

    def test_if_the_close_settled_it_after_all_the_money_comes_back(self) -> None:
        """The policy was changed between the reversal and the close of November."""
        november, december, _ = self.months(LOAN_OF_24, 4, SETTLE)

        assert () == november.open_loans
        assert (loan("DOGWOOD", "BIRCH", 4, 2_827),) == december.carried_settled
        assert {"BIRCH": -2_827, "DOGWOOD": 2_827} == moved(december)

    @pytest.mark.parametrize(("costing", "price"), list(product(StockCosting, LoanPrice)))
    def test_a_loan_wholly_undone_leaves_nobody_with_a_gain(self, costing: StockCosting, price: LoanPrice) -> None:
        """Under every policy by which loans are carried on: as if it had never been."""
        policy = Policy(stock_costing=costing, loan_price=price, loans_at_close=LoansAtClose.CARRY)
        journal = Journal()
        journal.write(bought(100, 70_000))
        journal.write(Draw(member="BIRCH", quantity=20), 2)
        journal.write(Draw(member="CEDAR", quantity=20), 2)
        lent = journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=10), 3)
        journal.write(bought(100, 90_000), 4)
        journal.write(Reversal(entry=lent, quantity=10, still_open=True), 1, month=1)
        november, december, _ = [sheet for sheet, _ in chained(journal, under(policy))]
        drawn = [of(november, code).draws for code in ("BIRCH", "CEDAR")]

        assert drawn == [of(december, code).closing for code in ("BIRCH", "CEDAR")]
        assert [0, 0] == [
            of(november, code).lending_gain + of(december, code).lending_gain for code in ("BIRCH", "CEDAR")
        ]
        assert () == december.open_loans
