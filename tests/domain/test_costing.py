"""The month sheet: the pool's worked example with every figure, what each kind of entry does, and what its reversal in
a later month takes back. All rules are own rules; amounts are cents."""

from datetime import date
from fractions import Fraction

import pytest

from pool_api.domain.entries import (
    Body,
    Charge,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningLoan,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Return,
    Reversal,
    canonical,
)
from pool_api.domain.errors import NoPrice
from pool_api.domain.layers import Costed
from pool_api.domain.pool import LoanPrice, LoansAtClose, Member, Policy, StockCosting
from pool_api.domain.sheets import Sheet, SheetWarning, sheet_json
from pool_api.domain.values import STOCK, Currency
from tests.domain.examples import moved, of, worked_example
from tests.domain.journals import CODES, Journal, bought, chained, sheet_of, under, use, write_off

MONTH_AVERAGE = Policy()
EVERY_POLICY = [
    Policy(stock_costing=costing, loan_price=price, loans_at_close=at_close)
    for costing in StockCosting
    for price in LoanPrice
    for at_close in LoansAtClose
]
each_policy = pytest.mark.parametrize("policy", EVERY_POLICY, ids=str)


def sheets(journal: Journal, policy: Policy = MONTH_AVERAGE) -> list[Sheet]:
    return [sheet for sheet, _ in chained(journal, under(policy))]


class TestWorkedExample:
    def test_the_pool_price_is_4240_over_600(self) -> None:
        sheet = sheets(worked_example())[0]

        assert sheet.price == Fraction(424_000, 600)
        assert Currency("EUR").unit_text(sheet.price) == "7.0667"

    @pytest.mark.parametrize(
        ("costing", "draws", "closing"),
        [
            (StockCosting.MONTH_AVERAGE, [84_800, 106_000, 56_533, 42_400], 134_267),
            (StockCosting.MOVING_AVERAGE, [82_800, 103_500, 55_200, 43_800], 138_700),
            (StockCosting.FIFO, [82_800, 103_500, 55_200, 41_400], 141_100),
        ],
    )
    def test_the_draws_by_each_costing(self, costing: StockCosting, draws: list[int], closing: int) -> None:
        sheet = sheets(worked_example(), Policy(stock_costing=costing))[0]

        assert draws == [each.cost for each in sheet.stock.outflows]
        assert (190, closing) == (sheet.stock.closing.quantity, sheet.stock.closing.cost)
        assert closing == sum(sheet.dues.values())

    def test_the_loans_are_settled_net_of_returns_at_the_pool_price(self) -> None:
        found = [
            (each.lender, each.borrower, each.quantity, each.amount, each.cost)
            for each in sheets(worked_example())[0].loans_settled
        ]

        assert [("BIRCH", "DOGWOOD", 14, 9_893, 9_894), ("CEDAR", "DOGWOOD", 30, 21_200, 21_200)] == found

    @pytest.mark.parametrize(
        ("code", "figures"),
        [  # available, blended unit cost, lent, used, closing, lending gain, due
            ("ALDER", ((120, 84_800), Fraction(84_800, 120), (0, 0), (96, 67_840), (24, 16_960), 0, 260_200)),
            ("BIRCH", ((150, 106_000), Fraction(106_000, 150), (14, 9_894), (110, 77_733), (26, 18_373), -1, -96_107)),
            ("CEDAR", ((80, 56_533), Fraction(56_533, 80), (30, 21_200), (40, 28_266), (10, 7_067), 0, 43_667)),
            ("DOGWOOD", ((124, 92_493), Fraction(92_493, 124), (0, 0), (70, 52_214), (54, 40_279), 0, -73_493)),
        ],
    )
    def test_each_member(self, code: str, figures: tuple[object, ...]) -> None:
        member = of(sheets(worked_example())[0], code)

        assert figures == (
            member.available,
            member.unit_cost,
            member.loans_from_it,
            member.uses,
            member.closing,
            member.lending_gain,
            member.due.total,
        )

    def test_its_json_has_a_canonical_form(self) -> None:
        written = sheet_json(sheets(worked_example())[0])

        assert written["price"] == "2120/3"
        assert written["members"][0]["due"]["total"] == 260_200
        assert canonical(written) == canonical(sheet_json(sheets(worked_example())[0]))


class TestKinds:
    """What single entries do, beside 100 credits that the stock got for 700.00 and of which BIRCH drew 20."""

    def sheet(self, *bodies: Body) -> Sheet:
        journal = Journal()
        journal.write(bought(100, 70_000), 1)
        journal.write(Draw(member="BIRCH", quantity=20), 2)
        for day, body in enumerate(bodies, start=3):
            journal.write(body, day)
        return sheets(journal)[0]

    def test_a_purchase_for_another_member_is_owed_by_it(self) -> None:
        sheet = self.sheet(Purchase(into="CEDAR", paid_by="ALDER", quantity=10, amount=9_000))

        assert {"ALDER": 79_000, "BIRCH": -14_000, "CEDAR": -9_000} == moved(sheet)
        assert Costed(10, 9_000) == of(sheet, "CEDAR").closing

    def test_a_purchase_into_own_hands_is_nobody_s_business(self) -> None:
        sheet = self.sheet(Purchase(into="CEDAR", paid_by="CEDAR", quantity=10, amount=9_000))

        assert {"ALDER": 70_000, "BIRCH": -14_000} == moved(sheet)
        assert Fraction(900) == of(sheet, "CEDAR").unit_cost

    def test_a_gain_is_a_purchase_for_nothing(self) -> None:
        sheet = self.sheet(Purchase(into=STOCK, paid_by="ALDER", quantity=40, amount=0))

        assert Fraction(500) == sheet.price

    def test_outside_credits_come_with_a_cost_of_their_own_and_leave_like_a_use(self) -> None:
        sheet = self.sheet(
            Outside(member="BIRCH", direction=Direction.IN, party="a friend", quantity=20, amount=10_000),
            Outside(member="BIRCH", direction=Direction.OUT, party="a friend", quantity=10, amount=99_999),
        )

        assert Fraction(600) == of(sheet, "BIRCH").unit_cost
        assert Costed(10, 6_000) == of(sheet, "BIRCH").outside_out
        assert Costed() == of(sheet, "BIRCH").uses
        assert {"ALDER": 70_000, "BIRCH": -14_000} == moved(sheet)
        assert 6_000 == sheet.costs[4]

    def test_an_agreed_price_is_not_netted(self) -> None:
        sheet = self.sheet(
            Loan(lender="BIRCH", borrower="CEDAR", quantity=5, unit_price="7.505"),
            Loan(lender="CEDAR", borrower="BIRCH", quantity=2),
        )

        assert [(3, 5, 3_753)] == [(each.entry, each.quantity, each.amount) for each in sheet.loans_agreed]
        assert [("CEDAR", "BIRCH", 2, 1_400)] == [
            (each.lender, each.borrower, each.quantity, each.amount) for each in sheet.loans_settled
        ]
        assert of(sheet, "BIRCH").lending_gain == 253

    def test_charges_and_payments_move_dues_alone(self) -> None:
        sheet = self.sheet(
            Charge(from_member="BIRCH", to_member="CEDAR", amount=500, reason="freight"),
            Payment(from_member="BIRCH", to_member="ALDER", amount=4_000),
            Payment(from_member="BIRCH", to_member="ALDER", amount=9_000, pays="2026-10-1"),
            Payment(from_member="BIRCH", to_member="ALDER", amount=1_020, pays="2026-10-2", beyond=20),
        )

        assert {"ALDER": 65_980, "BIRCH": -10_480, "CEDAR": 500} == moved(sheet)

    def test_a_write_off_of_stock_is_borne_by_shares(self) -> None:
        """By those who were members on its day, in the order of their codes."""
        journal = Journal()
        journal.write(bought(10, 1_000), 1)
        journal.write(write_off(STOCK, 1), 10)
        there = date(2026, 1, 1)
        members = [
            Member(code="DOGWOOD", name="Dogwood", joined_on=there, share=2),
            Member(code="ALDER", name="Alder", joined_on=there),
            Member(code="BIRCH", name="Birch", joined_on=there, left_on=date(2026, 11, 9)),
            Member(code="CEDAR", name="Cedar", joined_on=date(2026, 11, 11)),
            Member(code="ELM", name="Elm", joined_on=date(2026, 11, 10), left_on=date(2026, 11, 10)),
        ]
        sheet = sheet_of(journal.entries, Policy(), members)

        assert {"ALDER": 25, "DOGWOOD": 50, "ELM": 25} == sheet.shares[2]
        assert {"ALDER": 975, "DOGWOOD": -50, "ELM": -25} == moved(sheet)

    def test_who_passes_on_more_than_it_has_is_warned_of_on_the_first_such_day(self) -> None:
        journal = Journal()
        journal.write(bought(10, 1_000), 1)
        journal.write(Draw(member="BIRCH", quantity=10), 20)
        journal.write(use("BIRCH", 4), 5)
        journal.write(use("BIRCH", 3), 7)

        assert (SheetWarning("below_zero", date(2026, 11, 5), "BIRCH", 7),) == sheets(journal)[0].warnings

    def test_loans_without_any_pool_price_are_told_but_not_priced(self) -> None:
        journal = Journal()
        journal.write(Purchase(into="BIRCH", paid_by="BIRCH", quantity=10, amount=1_000), 1)
        journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=4), 2)
        sheet = sheets(journal)[0]

        assert isinstance(sheet.obstacle, NoPrice)
        assert [(4, None, 0)] == [(each.quantity, each.unit_price, each.amount) for each in sheet.loans_settled]

    def test_a_month_without_supply_uses_the_last_price(self) -> None:
        journal = Journal()
        journal.write(bought(10, 7_000), 1)
        journal.write(Draw(member="BIRCH", quantity=10), 2)
        journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=4), 1, month=2)
        january = sheets(journal)[2]

        assert january.stock.price is None
        assert [2_800] == [each.amount for each in january.loans_settled]
        assert january.obstacle is None

    def test_loans_that_were_open_when_the_book_began_are_settled_with_the_month_s(self) -> None:
        journal = Journal()
        journal.write(
            Opening(
                members=(
                    OpeningMember(member="BIRCH", held=6, cost=10_000, due=0),
                    OpeningMember(member="CEDAR", held=4, cost=0, due=7_000),
                ),
                stock_quantity=10,
                stock_cost=7_000,
                loans=(OpeningLoan(lender="BIRCH", borrower="CEDAR", quantity=4),),
            )
        )
        journal.write(Return(lender="BIRCH", borrower="CEDAR", quantity=1), 3)
        sheet = sheets(journal)[0]

        assert [("BIRCH", "CEDAR", 3, 2_100, 3_000)] == [
            (each.lender, each.borrower, each.quantity, each.amount, each.cost) for each in sheet.loans_settled
        ]
        assert Costed(7, 7_000) == of(sheet, "BIRCH").closing
        assert Costed(3, 2_100) == of(sheet, "CEDAR").closing
        assert {"BIRCH": 2_100, "CEDAR": -2_100} == moved(sheet)


class TestReversalsInALaterMonth:
    """100 credits for 700.00 in November, of which BIRCH drew 20; December reverses what November did beside."""

    def december(self, body: Body, quantity: int | None, policy: Policy = MONTH_AVERAGE) -> Sheet:
        journal = Journal()
        journal.write(bought(100, 70_000), 1)
        journal.write(Draw(member="BIRCH", quantity=20), 2)
        journal.write(Draw(member="CEDAR", quantity=20), 2)
        number = journal.write(body, 3)
        journal.write(Reversal(entry=number, quantity=quantity), 4, month=1)
        return sheets(journal, policy)[1]

    @each_policy
    @pytest.mark.parametrize(
        ("body", "quantity", "dues", "held"),
        [
            (bought(30, 9_000), 10, {"ALDER": -3_000}, {"BIRCH": 0, "CEDAR": 0}),
            (Draw(member="BIRCH", quantity=10), 5, {"BIRCH": 3_500}, {"BIRCH": -5, "CEDAR": 0}),
            (
                Purchase(into="BIRCH", paid_by="ALDER", quantity=10, amount=9_000),
                5,
                {"ALDER": -4_500, "BIRCH": 4_500},
                {"BIRCH": -5, "CEDAR": 0},
            ),
            (
                Loan(lender="BIRCH", borrower="CEDAR", quantity=10),
                5,
                {"BIRCH": -3_500, "CEDAR": 3_500},
                {"BIRCH": 5, "CEDAR": -5},
            ),
            (
                Loan(lender="BIRCH", borrower="CEDAR", quantity=10, unit_price="8"),
                5,
                {"BIRCH": -4_000, "CEDAR": 4_000},
                {"BIRCH": 5, "CEDAR": -5},
            ),
            (use("BIRCH", 10), 4, {}, {"BIRCH": 4, "CEDAR": 0}),
            (write_off("BIRCH", 10), 4, {}, {"BIRCH": 4, "CEDAR": 0}),
            (
                write_off(STOCK, 10),
                4,
                {"ALDER": 700, "BIRCH": 700, "CEDAR": 700, "DOGWOOD": 700},
                {"BIRCH": 0, "CEDAR": 0},
            ),
            (
                Charge(from_member="BIRCH", to_member="CEDAR", amount=500, reason="freight"),
                None,
                {"BIRCH": 500, "CEDAR": -500},
                {"BIRCH": 0, "CEDAR": 0},
            ),
            (
                Payment(from_member="BIRCH", to_member="CEDAR", amount=500),
                None,
                {"BIRCH": -500, "CEDAR": 500},
                {"BIRCH": 0, "CEDAR": 0},
            ),
        ],
    )
    def test_each_kind_takes_back_its_original_amount(
        self, body: Body, quantity: int | None, dues: dict[str, int], held: dict[str, int], policy: Policy
    ) -> None:
        """One that was settled by then, under every policy; all credits cost the same."""
        sheet = self.december(body, quantity, policy)
        change = {
            each.member: each.closing.quantity - each.opening.quantity
            for each in sheet.members
            if each.member in ("BIRCH", "CEDAR")
        }

        assert dues == moved(sheet)
        assert held == change

    def test_the_lending_gain_is_taken_back(self) -> None:
        sheet = self.december(Loan(lender="BIRCH", borrower="CEDAR", quantity=10, unit_price="8"), 5)

        assert -500 == of(sheet, "BIRCH").lending_gain
        assert Costed(5, 3_500) == of(sheet, "BIRCH").reversals_in
        assert Costed(5, 4_000) == of(sheet, "CEDAR").reversals_out

    def test_what_a_member_cannot_bear_at_the_original_amount_leaves_at_its_blended_cost(self) -> None:
        """BIRCH bought 10 for 90.00 and used 9 of its 20 at 8.00; giving 10 back for 90.00 would leave 1 at less than
        nothing, so 10 leave at what they cost now and the difference is shown."""
        journal = Journal()
        journal.write(Purchase(into="BIRCH", paid_by="ALDER", quantity=10, amount=9_000), 1)
        journal.write(Purchase(into="BIRCH", paid_by="BIRCH", quantity=10, amount=7_000), 1)
        journal.write(use("BIRCH", 9), 2)
        journal.write(Reversal(entry=1, quantity=10), 1, month=1)
        birch = of(sheets(journal)[1], "BIRCH")

        assert Costed() == birch.reversals_out
        assert Costed(10, 8_000) == birch.given_back
        assert Costed(1, 800) == birch.closing
        assert 1_000 == birch.difference
        assert 9_000 == birch.due.total

    def test_a_member_that_has_just_what_goes_back_gives_it_at_the_original_amount(self) -> None:
        journal = Journal()
        journal.write(Purchase(into="BIRCH", paid_by="ALDER", quantity=10, amount=9_000), 1)
        journal.write(Reversal(entry=1, quantity=10), 1, month=1)
        birch = of(sheets(journal)[1], "BIRCH")

        assert Costed(10, 9_000) == birch.reversals_out
        assert Costed() == birch.given_back
        assert birch.unit_cost is None

    def test_a_write_off_of_stock_undone_in_parts_gives_each_member_back_what_it_bore(self) -> None:
        journal = Journal()
        journal.write(bought(3, 100), 1)
        lost = journal.write(write_off(STOCK, 3), 2)
        for day, month in ((1, 1), (2, 1), (1, 2)):
            journal.write(Reversal(entry=lost, quantity=1), day, month=month)
        december, january = sheets(journal)[1:]
        given = {code: moved(december)[code] + moved(january)[code] for code in CODES}

        assert {"ALDER": 25, "BIRCH": 25, "CEDAR": 25, "DOGWOOD": 25} == given

    def test_a_return_undone_is_a_loan_at_the_price_of_the_month_that_netted_it(self) -> None:
        journal = Journal()
        journal.write(bought(100, 70_000), 1)
        journal.write(Draw(member="BIRCH", quantity=20), 2)
        journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=10), 3)
        back = journal.write(Return(lender="BIRCH", borrower="CEDAR", quantity=8), 4)
        journal.write(Reversal(entry=back, quantity=3), 1, month=1)
        december = sheets(journal)[1]

        assert {"BIRCH": 2_100, "CEDAR": -2_100} == moved(december)
        assert Costed(15, 10_500) == of(december, "BIRCH").closing
        assert Costed(5, 3_500) == of(december, "CEDAR").closing

    def test_a_write_off_of_a_stock_that_cost_less_than_nothing_is_undone_in_parts_too(self) -> None:
        journal = Journal()
        journal.write(bought(10, 1_000), 1)
        dear = journal.write(bought(10, 50_000), 1)
        journal.write(Draw(member="BIRCH", quantity=10), 2)
        journal.write(bought(100, 1_000), 1, month=1)
        journal.write(Reversal(entry=dear, quantity=10), 2, month=1)
        lost = journal.write(write_off(STOCK, 5), 3, month=1)
        for day in (1, 2):
            journal.write(Reversal(entry=lost, quantity=2), day, month=2)
        found = sheets(journal)

        assert found[1].costs[lost] < 0 < found[1].stock.closing.quantity
        for sheet in found:
            assert sheet.stock.closing.cost == sum(sheet.dues.values())
