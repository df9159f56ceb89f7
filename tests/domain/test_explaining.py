"""Why figures are what they are, in months that are small enough to be computed by hand. All cases are own cases but
the pool's worked example; amounts are cents."""

from dataclasses import replace

import pytest

from pool_api.domain.comparing import Comparison, Outcome, Version
from pool_api.domain.entries import Charge, Draw, Loan, Opening, OpeningMember, Return, Reversal
from pool_api.domain.errors import FigureNotFound
from pool_api.domain.explaining import Explanation, Figures, Formula, MonthFacts, Origin, figures_of
from pool_api.domain.pool import LoanPrice, LoansAtClose, PaymentPlan, Policy, StockCosting, StockFunding
from tests.domain.examples import worked_example
from tests.domain.explained import explained_months, recomputed, settlement_of
from tests.domain.journals import Journal, bought, shops, under

FIFO = Policy(stock_costing=StockCosting.FIFO)
MOVING = Policy(stock_costing=StockCosting.MOVING_AVERAGE)


def figures(journal: Journal, policy: Policy | None = None, *, month: int = 0) -> Figures:
    return list(explained_months(journal, under(policy or Policy())))[month][2]


def said(explanation: Explanation) -> list[tuple[str, object, object]]:
    """Give the operands: role, value, and which figure, entries or name it is."""
    return [(each.role.value, each.value, each.figure or each.name or each.entries) for each in explanation.operands]


class TestWorkedExample:
    def test_a_loan_is_its_credits_at_the_pool_price_which_rests_on_two_purchases(self) -> None:
        chain = {each.figure: each for each in figures(worked_example()).chain("loans.BIRCH.DOGWOOD.amount", 4)}

        assert (9_893, Formula.ROUNDED) == (
            chain["loans.BIRCH.DOGWOOD.amount"].value,
            chain["loans.BIRCH.DOGWOOD.amount"].formula,
        )
        assert [("factor", 424_000, "stock.available.cost"), ("divisor", 600, "stock.available.quantity")] == said(
            chain["price"]
        )
        assert [("plus", 345_000, (2,)), ("plus", 79_000, (9,))] == said(chain["stock.bought.cost"])
        assert [("plus", 24, (6,)), ("minus", 10, (8,))] == said(chain["passed.BIRCH.DOGWOOD.quantity"])

    def test_a_draw_at_the_month_average_is_a_part_of_all_that_was_available(self) -> None:
        """80 of 600 credits for 424,000: 56,533 and a third; the one cent left over goes to a larger remainder."""
        found = figures(worked_example()).explain("entries.5.cost")

        assert (56_533, Formula.APPORTIONED) == (found.value, found.formula)
        assert [
            ("total", 424_000, "stock.available.cost"),
            ("weight", 80, (5,)),
            ("weights", 600, "stock.available.quantity"),
            ("left_over", 1, ()),
            ("place", 2, ()),
        ] == said(found)

    def test_a_draw_first_in_first_out_takes_parts_of_layers(self) -> None:
        """DOGWOOD's 60 are a part of the first purchase as it was made, 500 credits for 345,000; 150 for 103,500 are
        left of it."""
        found = figures(worked_example(), FIFO)

        draw = found.explain("entries.10.cost")
        assert [
            ("factor", 345_000, "layers.2.2.cost"),
            ("factor", 60, (10,)),
            ("divisor", 500, "layers.2.2.quantity"),
        ] == said(draw)
        assert (41_400, 41_400) == (draw.value, recomputed(draw))
        assert [("plus", 158_700, "layers.2.4.cost"), ("minus", 55_200, "entries.5.cost")] == said(
            found.explain("layers.2.5.cost")
        )

    def test_a_draw_in_a_later_month_takes_its_part_of_the_layer_as_it_was_made_while_cost_is_left(self) -> None:
        """4 credits for 2 cents: half up the first two take one each, and nothing is left for the others."""
        journal = Journal()
        journal.write(bought(4, 2))
        for month in range(3):
            journal.write(Draw(member="BIRCH", quantity=1), 2, month)

        second, third = (figures(journal, FIFO, month=month).explain(f"entries.{month + 2}.cost") for month in (1, 2))
        assert (1, "a layer of the stock as it was made") == (second.value, second.operands[0].name)
        assert [("factor", 2), ("factor", 1), ("divisor", 4)] == [each[:2] for each in said(second)]
        assert (0, Formula.SUM, []) == (third.value, third.formula, said(third))

    def test_a_draw_at_the_moving_average_takes_a_part_of_the_one_layer(self) -> None:
        """150 credits for 103,500 and 100 for 79,000 make 250 for 182,500: 60 of them cost 43,800."""
        found = figures(worked_example(), MOVING)

        assert [
            ("factor", 182_500, "layers.mixed.6.cost"),
            ("factor", 60, (10,)),
            ("divisor", 250, "layers.mixed.6.quantity"),
        ] == said(found.explain("entries.10.cost"))
        assert [("plus", 103_500, "layers.mixed.5.cost"), ("plus", 79_000, (9,))] == said(
            found.explain("layers.mixed.6.cost")
        )

    def test_a_payment_is_what_is_left_of_a_net(self) -> None:
        found = figures(worked_example())

        assert [("minus", -96_107, "settlement.nets.BIRCH")] == said(found.explain("settlement.payments.1.amount"))
        assert [("plus", -96_107, "settlement.open.BIRCH"), ("least", 0, "smallest_payment")] == said(
            found.explain("settlement.nets.BIRCH")
        )

    def test_who_carries_the_stock_does_so_by_its_due_or_by_its_share(self) -> None:
        by_due = figures(worked_example())
        by_share = figures(worked_example(), Policy(stock_funding=StockFunding.SHARES))

        assert [
            ("total", 134_267, "stock.closing.cost"),
            ("weight", 260_200, "settlement.claims.ALDER"),
            ("weights", 303_867, "settlement.weights"),
            ("left_over", 1, ()),
            ("place", 2, ()),
        ] == said(by_due.explain("settlement.carried.ALDER"))
        assert ("weight", 1, "share of DOGWOOD") in said(by_share.explain("settlement.carried.DOGWOOD"))
        assert Origin.MEMBERS is by_share.explain("settlement.carried.DOGWOOD").operands[1].origin

    def test_where_shares_have_changed_since_the_close_its_entry_says_who_carries(self) -> None:
        policy = Policy(stock_funding=StockFunding.SHARES)
        sheet, settlement, _ = next(iter(explained_months(worked_example(), under(policy))))
        facts = MonthFacts(
            sheet=sheet,
            settlement=settlement_of(sheet, settlement),
            close=15,
            entries=worked_example().entries,
            originals={},
            members=[replace(each, share=2 if each.code == "ALDER" else 1) for each in shops()],
        )

        carried = figures_of(facts).explain("settlement.carried.ALDER")
        assert (33_567, Origin.ENTRIES, (15,)) == (
            carried.value,
            carried.operands[0].origin,
            carried.operands[0].entries,
        )


class TestLoans:
    def test_the_lender_s_price_is_one_of_the_month_s_equations(self) -> None:
        """ALGORITHMS A2: b = 312000/439, 340000/439, 406000/439; loans 14,214, 7,745 and 4,624."""
        journal = Journal()
        members = [
            OpeningMember(member=code, held=held, cost=cost, due=0)
            for code, held, cost in (("ALDER", 100, 70_000), ("BIRCH", 50, 40_000), ("CEDAR", 20, 20_000))
        ]
        journal.write(Opening(members=tuple(members), stock_quantity=0, stock_cost=0))
        for lender, borrower, quantity in (("ALDER", "BIRCH", 20), ("BIRCH", "CEDAR", 10), ("CEDAR", "ALDER", 5)):
            journal.write(Loan(lender=lender, borrower=borrower, quantity=quantity))
        found = figures(journal, Policy(loan_price=LoanPrice.LENDER))

        price = found.explain("lending.BIRCH.price")
        assert "340000/439" == str(price.value)
        assert [("factor", "lending.ALDER.price"), ("factor", "loans.ALDER.BIRCH.quantity")] == [
            (each.role.value, each.figure) for each in found.explain("lending.ALDER.BIRCH.cost").operands
        ]
        assert [("plus", "lending.BIRCH.own.cost"), ("plus", "lending.ALDER.BIRCH.cost")] == [
            (each.role.value, each.figure) for each in found.explain("lending.BIRCH.cost").operands
        ]
        assert (7_745, "lending.BIRCH.price") == (
            found.explain("loans.BIRCH.CEDAR.amount").value,
            found.explain("loans.BIRCH.CEDAR.amount").operands[0].figure,
        )

    def test_a_loan_that_was_carried_on_comes_back_at_its_value(self) -> None:
        """14 credits for 9,800 stay open; 5 of them come back: 9,800 · 5 / 14 = 3,500."""
        journal = Journal()
        journal.write(bought(100, 70_000), 1)
        journal.write(Draw(member="BIRCH", quantity=20), 2)
        journal.write(Loan(lender="BIRCH", borrower="CEDAR", quantity=14), 3)
        journal.write(Return(lender="BIRCH", borrower="CEDAR", quantity=5), 4, month=1)
        found = figures(journal, Policy(loans_at_close=LoansAtClose.CARRY), month=1)

        assert [
            ("factor", 9_800, "open.BIRCH.CEDAR.amount"),
            ("factor", 5, "returns.CEDAR.BIRCH.quantity"),
            ("divisor", 14, "open.BIRCH.CEDAR.quantity"),
        ] == said(found.explain("returns.CEDAR.BIRCH.amount"))
        assert Origin.MONTH_BEFORE is found.explain("open.BIRCH.CEDAR.amount").operands[0].origin
        assert [("plus", 9_800, "open.BIRCH.CEDAR.amount"), ("minus", 3_500, "returns.CEDAR.BIRCH.amount")] == said(
            found.explain("left.BIRCH.CEDAR.amount")
        )


class TestReversals:
    def test_in_its_own_month_a_reversal_takes_its_part_of_credits_and_amount(self) -> None:
        journal = Journal()
        number = journal.write(bought(3, 1_000))
        back = journal.write(Reversal(entry=number, quantity=1), 2)
        found = figures(journal)

        assert [("factor", 1_000, (1,)), ("factor", 1, (2,)), ("divisor", 3, (1,))] == said(
            found.explain(f"entries.{back}.value")
        )
        assert [("plus", 1_000, (1,)), ("minus", 333, "entries.2.value")] == said(found.explain("entries.1.amount"))
        assert [("plus", 667, "entries.1.amount")] == said(found.explain("stock.bought.cost"))

    def test_of_an_earlier_month_s_entry_it_takes_what_that_came_to_then(self) -> None:
        journal = Journal()
        journal.write(bought(100, 70_000), 1)
        drawn = journal.write(Draw(member="BIRCH", quantity=30), 2)
        journal.write(Reversal(entry=drawn, quantity=10), 1, month=1)
        found = figures(journal, month=1)

        assert [("factor", 21_000, (2,)), ("factor", 10, (3,)), ("divisor", 30, (2,))] == said(
            found.explain("entries.3.cost")
        )
        assert [("plus", 7_000, "entries.3.cost")] == said(found.explain("members.BIRCH.due.reversals"))
        assert [("plus", 7_000, "entries.3.cost")] == said(found.explain("stock.back.cost"))

    def test_what_a_purchase_taken_back_differs_from_its_layer_is_spread_over_what_remains(self) -> None:
        """20 of 100 credits left for 1,500 each under the moving average of 300,000 / 200; the purchase taken back cost
        1,000 each, so that its 50 leave at 50,000 and not at 75,000."""
        journal = Journal()
        first = journal.write(bought(100, 100_000), 1)
        journal.write(bought(100, 200_000), 2)
        journal.write(Draw(member="BIRCH", quantity=20), 3)
        journal.write(Reversal(entry=first, quantity=50), 1, month=1)
        found = figures(journal, MOVING, month=1)

        assert 75_000 == found.explain("entries.4.parts.1.cost").value
        assert [("plus", 75_000, "entries.4.parts.1.cost"), ("minus", 50_000, "entries.4.cost")] == said(
            found.explain("entries.4.spread.1.cost")
        )

    @pytest.mark.parametrize("policy", [Policy(), FIFO, MOVING])
    def test_a_stock_with_cost_but_no_credits_is_explained_too(self, policy: Policy) -> None:
        """The book refuses such a reversal; a change of policy may bring one about. 10 credits for 1,000 and 10 for
        3,000; 10 are drawn, and the cheap 10 taken back for 1,000: what is left is cost without credits."""
        journal = Journal()
        cheap = journal.write(bought(10, 1_000), 1)
        journal.write(bought(10, 3_000), 2)
        journal.write(Draw(member="BIRCH", quantity=10), 3)
        journal.write(Reversal(entry=cheap, quantity=10), 1, month=1)
        (sheet, _, found) = list(explained_months(journal, under(policy)))[1]

        for place, warning in enumerate(sheet.warnings, start=1):
            explanation = found.explain(f"warnings.{place}.size")
            assert (warning.size, warning.size) == (explanation.value, recomputed(explanation))
        assert ["stock_cost_impossible"] == [each.rule for each in sheet.warnings]


class TestSmallNets:
    def test_the_largest_net_gives_way_to_those_set_aside(self) -> None:
        """ALGORITHMS B4, s = 500: +1,200, -1,000, +300, -350, -150: carried +300, -350, -150, and +200 of the 1,200."""
        journal = Journal()
        for payer, payee, amount in (
            ("BIRCH", "ALDER", 1_000),
            ("DOGWOOD", "ALDER", 200),
            ("DOGWOOD", "CEDAR", 150),
            ("ELM", "CEDAR", 150),
        ):
            journal.write(Charge(from_member=payer, to_member=payee, amount=amount, reason="freight"))
        found = figures(journal, Policy(smallest_payment=500))

        assert [
            ("plus", 1_200, "settlement.open.ALDER"),
            ("plus", 300, "settlement.small.CEDAR"),
            ("plus", -350, "settlement.small.DOGWOOD"),
            ("plus", -150, "settlement.small.ELM"),
            ("least", 500, "smallest_payment"),
        ] == said(found.explain("settlement.nets.ALDER"))
        assert (1_000, 0) == (
            recomputed(found.explain("settlement.nets.ALDER")),
            recomputed(found.explain("settlement.nets.CEDAR")),
        )


class TestNames:
    def test_what_is_not_there_is_refused_with_names_that_are_near(self) -> None:
        found = figures(worked_example())

        with pytest.raises(FigureNotFound) as refused:
            found.explain("members.BIRCH.due.draw")
        assert "members.BIRCH.due.draws" == refused.value.near[0]
        with pytest.raises(FigureNotFound) as refused:
            found.explain("loans.BIRCH.DOGWOOD")
        assert [f"loans.BIRCH.DOGWOOD.{each}" for each in ("amount", "cost", "quantity")] == refused.value.near

    def test_a_member_s_chain_holds_figures_of_its_own_alone(self) -> None:
        found = figures(worked_example())

        assert {"entries.4.cost", "members.BIRCH.due.draws"} == {
            each.figure for each in found.chain("members.BIRCH.due.draws", 9, member="BIRCH")
        }
        with pytest.raises(FigureNotFound) as refused:
            found.explain("members.ALDER.due.total", member="BIRCH")
        assert not [each for each in refused.value.near if "ALDER" in each]

    def test_a_chain_goes_as_deep_as_asked_and_names_each_figure_once(self) -> None:
        found = figures(worked_example())

        alone = [*found.chain("members.BIRCH.due.total", 0)]
        whole = [each.figure for each in found.chain("members.BIRCH.due.total", 20)]
        assert ["members.BIRCH.due.total"] == [each.figure for each in alone]
        assert len(whole) == len(set(whole))
        assert {"price", "stock.bought.cost", "entries.4.cost"} < set(whole)


class TestComparing:
    def test_both_policies_stand_side_by_side_with_what_is_more(self) -> None:
        """DESIGN 4: first in first out BIRCH's draw costs 103,500 instead of 106,000; the loan stays at 9,893."""
        versions = []
        for policy in (Policy(), replace(FIFO, payment_plan=PaymentPlan.HUB)):
            sheet, settlement, _ = next(iter(explained_months(worked_example(), under(policy))))
            versions.append(Version(sheet=sheet, settlement=settlement_of(sheet, settlement)))
        found = {each.member: each for each in Comparison(present=versions[0], alternative=versions[1]).members()}

        assert ["ALDER", "BIRCH", "CEDAR", "DOGWOOD"] == list(found)
        assert (-96_107, -93_607, 2_500) == tuple(
            each.due for each in (found["BIRCH"].present, found["BIRCH"].alternative, found["BIRCH"].difference)
        )
        assert (-1, 233, 234) == tuple(
            each.lending_gain
            for each in (found["BIRCH"].present, found["BIRCH"].alternative, found["BIRCH"].difference)
        )

    def test_nobody_s_blended_cost_differs_from_none(self) -> None:
        nothing = Outcome(unit_cost=None, due=0, net=0, lending_gain=0)

        assert nothing.less(replace(nothing, due=5)) == replace(nothing, due=-5)
