"""Settlements: the pool's worked example, funding, and small nets. Amounts are minor units."""

import pytest

from pool_api.domain.netting import settle
from pool_api.domain.pool import Policy, StockFunding
from tests.domain.settlements import DEFAULT, TREES, nets_settled

BY_SHARES = Policy(stock_funding=StockFunding.SHARES)

# the pool's worked example: dues at the end of its first month, closing stock 190 credits for 1,342.67
DUES = {"ALDER": 260_200, "BIRCH": -96_107, "CEDAR": 43_667, "DOGWOOD": -73_493}
STOCK_COST = 134_267
EQUAL = dict.fromkeys(DUES, 1)


class TestWorkedExample:
    """Own rules: the pool's worked example."""

    def test_payers_go_on_financing_the_stock_in_proportion_to_their_dues(self) -> None:
        settlement = settle(DUES, STOCK_COST, DEFAULT, EQUAL)

        assert (("ALDER", 114_972), ("CEDAR", 19_295)) == settlement.carried
        assert (
            ("ALDER", 145_228),
            ("BIRCH", -96_107),
            ("CEDAR", 24_372),
            ("DOGWOOD", -73_493),
        ) == settlement.nets

    def test_by_equal_shares_every_member_finances_the_stock(self) -> None:
        settlement = settle(DUES, STOCK_COST, BY_SHARES, EQUAL)

        assert (
            ("ALDER", 33_567),
            ("BIRCH", 33_567),
            ("CEDAR", 33_567),
            ("DOGWOOD", 33_566),
        ) == settlement.carried
        assert (
            ("ALDER", 226_633),
            ("BIRCH", -129_674),
            ("CEDAR", 10_100),
            ("DOGWOOD", -107_059),
        ) == settlement.nets


class TestFundingByShares:
    """Own rules where no source stands beside a case."""

    @pytest.mark.parametrize(
        ("parts", "shares", "cost"),
        [
            # Balinski & Young, The Quota Method of Apportionment (1975), as held in the tests of M. Lackner's package
            # "apportionment": votes and seats
            ([51, 44, 2, 2, 1], [5_117, 4_400, 162, 161, 160], 100),
            ([2, 4, 1, 5], [14, 28, 7, 35], 12),
            ([0, 2, 4, 0, 0], [0, 14, 28, 0, 0], 6),
            ([1, 0, 0, 0, 1, 1], [10, 9, 8, 8, 11, 12], 3),
            ([1, 0, 0, 1, 0], [2, 1, 1, 2, 2], 2),
        ],
    )
    def test_the_cost_is_apportioned_by_largest_remainders_in_order_of_member_code(
        self, parts: list[int], shares: list[int], cost: int
    ) -> None:
        weights = dict(reversed([*zip(TREES, shares, strict=False)]))
        settlement = settle({"ALDER": cost}, cost, BY_SHARES, weights)

        assert tuple((tree, part) for tree, part in zip(TREES, parts, strict=False) if part) == settlement.carried

    def test_a_member_without_a_share_finances_nothing(self) -> None:
        settlement = settle(DUES, STOCK_COST, BY_SHARES, {"BIRCH": 2, "CEDAR": 1})

        assert (("BIRCH", 89_511), ("CEDAR", 44_756)) == settlement.carried

    def test_a_member_with_a_share_finances_without_a_due(self) -> None:
        settlement = settle({"ALDER": 900}, 900, BY_SHARES, {"ALDER": 1, "BIRCH": 2})

        assert (("ALDER", 300), ("BIRCH", 600)) == settlement.carried
        assert (("ALDER", 600), ("BIRCH", -600)) == settlement.nets

    def test_without_any_share_above_0_those_that_have_one_finance_equally(self) -> None:
        settlement = settle({"ALDER": 900}, 900, BY_SHARES, {"BIRCH": 0, "CEDAR": 0})

        assert (("BIRCH", 450), ("CEDAR", 450)) == settlement.carried

    def test_without_shares_all_finance_equally(self) -> None:
        settlement = settle({"ALDER": 900, "BIRCH": 0}, 900, BY_SHARES, {})

        assert (("ALDER", 450), ("BIRCH", 450)) == settlement.carried


class TestFundingByPayers:
    """Own rules."""

    def test_with_an_empty_stock_nothing_is_carried(self) -> None:
        assert () == settle({"ALDER": 500, "BIRCH": -500}, 0, DEFAULT, EQUAL).carried

    def test_who_is_owed_just_the_stock_is_paid_nothing(self) -> None:
        settlement = settle({"ALDER": 500, "BIRCH": 100}, 600, DEFAULT, EQUAL)

        assert (("ALDER", 500), ("BIRCH", 100)) == settlement.carried
        assert () == settlement.nets

    def test_a_stock_cost_below_zero_stays_with_those_that_owe(self) -> None:
        settlement = settle({"ALDER": 200, "BIRCH": -300}, -100, DEFAULT, EQUAL)

        assert (("BIRCH", -100),) == settlement.carried
        assert (("ALDER", 200), ("BIRCH", -200)) == settlement.nets

    def test_dues_that_are_not_the_cost_of_the_stock_are_a_mistake(self) -> None:
        with pytest.raises(ValueError, match="add up to 134267, the closing stock cost 134266"):
            settle(DUES, STOCK_COST - 1, DEFAULT, EQUAL)


class TestSmallNets:
    """Own rules."""

    FROM_5_00 = Policy(smallest_payment=500)

    def test_are_carried_forward_and_the_largest_of_the_other_side_gives_way(self) -> None:
        # 300, -350 and -150 are too small and leave 2.00 too much owed, which the largest claim carries
        settlement = nets_settled(1_200, -1_000, 300, -350, -150, policy=self.FROM_5_00)

        assert (("ALDER", 200), ("CEDAR", 300), ("DOGWOOD", -350), ("ELM", -150)) == settlement.small
        assert (("ALDER", 1_000), ("BIRCH", -1_000)) == settlement.nets

    def test_one_that_gets_too_small_by_giving_way_is_carried_and_the_next_gives_way(self) -> None:
        # without BIRCH's -4.50, 4.50 too much is owed; DOGWOOD's 5.50 would become 1.00, so it is carried whole; now
        # 1.00 too little is owed, and CEDAR's -6.00 gives way
        settlement = nets_settled(500, -450, -600, 550, policy=self.FROM_5_00)

        assert (("BIRCH", -450), ("CEDAR", -100), ("DOGWOOD", 550)) == settlement.small
        assert (("ALDER", 500), ("CEDAR", -500)) == settlement.nets

    def test_whoever_is_owed_never_pays_for_what_others_carry(self) -> None:
        # 7 x -4.00 are carried; ALDER's 15.00 can't bear 28.00, so it is carried whole and BIRCH gives way for the rest
        settlement = nets_settled(1_500, 1_400, *[-400] * 7, -100, policy=self.FROM_5_00)

        assert () == settlement.nets
        assert 0 == sum(amount for _, amount in settlement.small)

    def test_of_equally_large_ones_the_earlier_code_gives_way(self) -> None:
        settlement = nets_settled(1_000, 1_000, -1_900, -100, policy=self.FROM_5_00)

        assert (("ALDER", 900), ("BIRCH", 1_000), ("CEDAR", -1_900)) == settlement.nets

    def test_a_net_of_just_the_smallest_payment_is_paid(self) -> None:
        assert (("ALDER", 500), ("BIRCH", -500)) == nets_settled(500, -500, policy=self.FROM_5_00).nets
        assert () == nets_settled(499, -499, policy=self.FROM_5_00).nets
