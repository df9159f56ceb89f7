"""The formulas of the stock costings: figures of textbooks and handbooks.

Where a source rounds unit costs before multiplying, its totals differ by that much; a comment says so. Draws stand for
a shop's sales or issues. Refunds that a costing must refuse are in test_stock.py."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import Draw, Reversal
from pool_api.domain.layers import EMPTY, Layer, Movement, StockState, Way
from pool_api.domain.pool import StockCosting
from pool_api.domain.stock import flow, replay
from pool_api.domain.values import Currency
from tests.domain.journals import MONTHS, Event, Journal, bought, by, costs, month_of

AVERAGE, MOVING, FIFO = StockCosting.MONTH_AVERAGE, StockCosting.MOVING_AVERAGE, StockCosting.FIFO
NOVEMBER = MONTHS[0]


class TestPrinciplesOfAccounting:
    """OpenStax, Principles of Accounting, Volume 1: Financial Accounting, sections 10.1 to 10.3; whole dollars."""

    JULY: ClassVar[list[Event]] = [
        (1, 150, 150 * 21),
        (5, -120, 0),
        (10, 225, 225 * 27),
        (15, -180, 0),
        (25, 210, 210 * 33),
    ]

    def test_first_in_first_out_costs_what_was_sold_at_7200(self) -> None:
        month = month_of(self.JULY, FIFO)

        assert sum(costs(month)) == 7_200
        assert month.closing.cost == 8_955
        assert month.closing.quantity == 285

    def test_inventory_rises_by_5805_which_the_source_misprints_as_5895(self) -> None:
        assert month_of(self.JULY, FIFO).closing.cost - 3_150 == 5_805

    def test_perpetual_average_costs_what_was_sold_at_7253(self) -> None:
        month = month_of(self.JULY, MOVING)

        assert costs(month) == [2_520, 4_733]
        assert month.closing.cost == 8_902

    def test_periodic_average_keeps_the_exact_quotient(self) -> None:
        """The source rounds the unit to 27.62 first and prints 8,283 and 7,872."""
        month = month_of(self.JULY, AVERAGE)

        assert month.price == Fraction(16_155, 585)
        assert sum(costs(month)) == 8_285
        assert month.closing.cost == 7_870

    @pytest.mark.parametrize(("costing", "cost"), [(FIFO, 2_100), (AVERAGE, 2_762)])
    def test_a_single_unit_costs_21_first_in_first_out_and_27_62_on_average(
        self, costing: StockCosting, cost: int
    ) -> None:
        """The comparison of section 10.1; cents."""
        month = month_of([(1, 150, 315_000), (10, 225, 607_500), (25, 210, 693_000), (30, -1, 0)], costing)

        assert costs(month) == [cost]

    @pytest.mark.parametrize("costing", StockCosting)
    def test_one_unit_cost_makes_all_costings_agree(self, costing: StockCosting) -> None:
        month = month_of([(1, 50, 350), (2, 20, 140), (3, -52, 0)], costing)

        assert costs(month) == [364]
        assert month.closing.cost == 126


class TestHoustonElectronics:
    """Weygandt, Kimmel, Kieso, Financial Accounting, appendix 6A, illustration 6A-4; whole dollars.

    The source prints 12.816 as the last unit cost: its rounded 5,767 over 450. The values are what is held here."""

    YEAR: ClassVar[list[Event]] = [(1, 100, 1_000), (4, 200, 2_200), (8, 300, 3_600), (10, -550, 0), (27, 400, 5_200)]

    def test_moving_average(self) -> None:
        month = month_of(self.YEAR, MOVING)

        assert costs(month) == [6_233]
        assert month.closing == StockState(layers=(Layer(None, 450, 5_767),))

    def test_periodic_average(self) -> None:
        month = month_of(self.YEAR, AVERAGE)  # answers from memory, they follow from the inputs

        assert month.price == 12
        assert costs(month) == [6_600]
        assert month.closing.cost == 5_400

    def test_first_in_first_out(self) -> None:
        month = month_of(self.YEAR, FIFO)  # answers from memory, they follow from the inputs

        assert costs(month) == [6_200]
        assert month.closing.cost == 5_800


class TestDempsey:
    """Weygandt, Kimmel, Kieso, Financial Accounting, problem P6-8A: returns at original cost; cents.

    Printed gross profits on net sales of 5,680: average 2,421, first-in first-out 2,560."""

    def journal(self) -> Journal:
        journal = Journal()
        journal.write(bought(100, 100 * 1_500), 1)
        journal.write(bought(140, 140 * 1_800), 5)
        sale = journal.write(Draw(member="BIRCH", quantity=110), 8)
        journal.write(Reversal(entry=sale, quantity=10), 10)
        lot = journal.write(bought(55, 55 * 2_000), 15)
        journal.write(Reversal(entry=lot, quantity=5), 16)
        journal.write(Draw(member="BIRCH", quantity=90), 20)
        journal.write(bought(20, 20 * 2_200), 25)
        return journal

    def test_moving_average(self) -> None:
        month = replay(self.journal().entries, by(MOVING))[NOVEMBER]

        assert costs(month) == [100 * 1_675, 158_447]
        assert month.closing == StockState(layers=(Layer(None, 120, 220_053),))
        assert round((568_000 - sum(costs(month))) / 100) == 2_421

    def test_first_in_first_out(self) -> None:
        month = replay(self.journal().entries, by(FIFO))[NOVEMBER]

        assert sum(costs(month)) == 312_000
        assert month.closing.cost == 50 * 1_800 + 50 * 2_000 + 20 * 2_200
        assert (568_000 - sum(costs(month))) / 100 == 2_560

    def test_returns_as_movements_of_their_own_give_the_same(self) -> None:
        """What comes back does so at the cost at which it left, what goes back to the vendor at what was paid."""
        month = flow(NOVEMBER, EMPTY, self.movements(1_675 * 10), MOVING)

        assert costs(month) == [184_250, 158_447]
        assert month.closing == StockState(layers=(Layer(None, 120, 220_053),))

    def test_another_set_of_the_problem_has_an_average_of_13_734_after_its_first_purchase(self) -> None:
        month = month_of([(1, 100, 120_000), (5, 137, 137 * 1_500)], AVERAGE)

        assert month.price is not None
        assert Currency("EUR").unit_text(month.price) == "13.7342"

    def test_under_first_in_first_out_a_returned_unit_is_taken_again_first(self) -> None:
        month = flow(NOVEMBER, EMPTY, self.movements(1_800 * 10), FIFO)

        assert costs(month) == [168_000, 162_000]
        assert [layer[:3] for layer in month.closing.layers] == [(2, 50, 90_000), (5, 50, 100_000), (8, 20, 44_000)]
        assert [layer.made for layer in month.closing.layers] == [(140, 252_000), (55, 110_000), (20, 44_000)]

    def movements(self, returned_cost: int) -> list[Movement]:
        day = NOVEMBER.first.replace
        return [
            Movement(1, 1, day(day=1), Way.IN, 100, 150_000),
            Movement(2, 2, day(day=5), Way.IN, 140, 252_000),
            Movement(3, 3, day(day=8), Way.OUT, 110, holder="BIRCH"),
            Movement(4, 3, day(day=10), Way.BACK, 10, returned_cost),
            Movement(5, 5, day(day=15), Way.IN, 55, 110_000),
            Movement(6, 5, day(day=16), Way.WITHDRAWN, 5, 10_000),
            Movement(7, 7, day(day=20), Way.OUT, 90, holder="BIRCH"),
            Movement(8, 8, day(day=25), Way.IN, 20, 44_000),
        ]


def test_material_lee_45_by_moving_average() -> None:
    """Cost and Management Audit II (M.Com text, June 2021), illustration 10, pp. 117-118; paise.

    The source carries the unit to three decimals and amounts to whole rupees: 11,429 and 4,285.50."""
    events = [(1, 1_000, 1_000_000), (3, -500, 0), (9, -250, 0), (15, 1_500, 1_350_000), (20, -1_250, 0)]
    events += [(30, 500, 400_000), (30, -500, 0)]
    month = month_of(events, MOVING)

    assert costs(month) == [500_000, 250_000, 1_142_857, 428_572]
    assert month.closing.cost == 428_571


def test_no_cent_appears_that_a_published_working_makes_up() -> None:
    """A negative example: instantcertcredit.com, course 5, lesson 318, prints 692.50 sold and 138.50 left, together one
    more than the 830.00 that were there, for it rounds 830/300 to 2.77 first; cents. The 300 bought last make 1,338 of
    what is left, as printed."""
    events = [(1, 500, 120_000), (2, -300, 0), (3, 100, 35_000), (4, -250, 0)]
    month = month_of(events, MOVING)

    assert costs(month) == [72_000, 69_167]
    assert month.closing.cost == 13_833
    assert sum(costs(month)) + month.closing.cost == 120_000 + 35_000
    assert month_of([*events, (5, 300, 120_000)], MOVING).closing.cost == 133_833


@pytest.mark.parametrize(
    ("costing", "events", "outflows"),
    [
        (MOVING, [(1, 100, 1_500_000), (2, 50, 700_000), (3, -40, 0)], [586_667]),
        (FIFO, [(1, 100, 1_500_000), (2, 50, 700_000), (3, -40, 0)], [600_000]),
        (MOVING, [(1, 3, 100), (2, -1, 0), (3, -1, 0), (4, -1, 0)], [33, 34, 33]),
        (FIFO, [(1, 3, 100), (2, -1, 0), (3, -1, 0), (4, -1, 0)], [33, 33, 34]),
        (FIFO, [(1, 3, 100), (2, -2, 0), (3, -1, 0)], [67, 33]),
        (FIFO, [(1, 4, 2), (2, -1, 0), (3, -1, 0), (4, -1, 0), (5, -1, 0)], [1, 1, 0, 0]),
        (AVERAGE, [(1, 3, 100), (2, -1, 0), (3, -1, 0), (4, -1, 0)], [34, 33, 33]),
    ],
)
def test_parts_that_divide_unevenly_lose_no_cent(
    costing: StockCosting, events: list[Event], outflows: list[int]
) -> None:
    """Own cases, worked by hand. The moving average takes parts of what is left, so 3 for 100 leave as 33, 34, 33;
    first in, first out takes parts of the layer as it was made: 33, 33 and the rest, as lots whose credits each have a
    cost of their own from the beginning (those would make 66 of two together, rounding down; half up makes 67)."""
    month = month_of(events, costing)

    assert costs(month) == outflows
    assert sum(outflows) + month.closing.cost == sum(amount for _, _, amount in events)


def test_the_end_of_a_month_is_no_end_of_a_layer() -> None:
    """Own case: what a layer was made of outlives the months, so that it leaves as it would have within one."""
    journal = Journal()
    journal.write(bought(3, 100), 1)
    for month in range(3):
        journal.write(Draw(member="BIRCH", quantity=1), 2, month)

    assert [[33], [33], [34]] == [costs(month) for month in replay(journal.entries, by(FIFO)).values()]


def test_what_a_layer_was_made_of_is_forgotten_where_it_is_mixed() -> None:
    """Own case: 3 for 100, one is drawn first in, first out, the next at the moving average of what is left."""
    journal = Journal()
    journal.write(bought(3, 100), 1)
    for month in range(3):
        journal.write(Draw(member="BIRCH", quantity=1), 2, month)
    costings = dict(zip(MONTHS, (FIFO, MOVING, FIFO), strict=True))

    assert [[33], [34], [33]] == [costs(month) for month in replay(journal.entries, costings.__getitem__).values()]


@dataclass
class Lot:
    """A purchase, of which single credits are passed out."""

    quantity: int
    cost: Decimal
    credits_left: int
    cost_left: Decimal

    def take(self, credits: int) -> Decimal:
        """Take as many single credits, at the lot's own unit cost."""
        self.credits_left -= credits
        exact = self.cost * credits / self.quantity
        part = min(exact.quantize(Decimal(1), ROUND_HALF_UP), self.cost_left) if self.credits_left else self.cost_left
        self.cost_left -= part
        return part


@given(
    lots=st.lists(st.tuples(st.integers(1, 9), st.integers(0, 40)), min_size=1, max_size=6),
    wanted=st.lists(st.integers(1, 12), max_size=20),
    ends=st.sets(st.integers(0, 20), max_size=2),
)
def test_single_credits_handed_out_lot_by_lot_cost_the_same_to_the_minor_unit(
    lots: list[tuple[int, int]], wanted: list[int], ends: set[int]
) -> None:
    """A slow twin: a shelf of single credits, each in its lot; the ends of months fall anywhere between the draws."""
    journal = Journal()
    kept = [Lot(quantity, Decimal(cost), quantity, Decimal(cost)) for quantity, cost in lots]
    shelf = [lot for lot in kept for _ in range(lot.quantity)]
    for quantity, cost in lots:
        journal.write(bought(quantity, cost), 1)
    expected = []
    for at, quantity in enumerate(wanted):
        taken, shelf = shelf[:quantity], shelf[quantity:]
        if taken:
            journal.write(Draw(member="BIRCH", quantity=len(taken)), 2, month=sum(end <= at for end in ends))
            expected.append(sum(lot.take(sum(each is lot for each in taken)) for lot in kept))
    months = replay(journal.entries, by(FIFO)).values()
    left = [*months][-1].closing

    assert expected == [cost for month in months for cost in costs(month)]
    assert [(lot.credits_left, lot.cost_left) for lot in kept if lot.credits_left] == [
        (layer.quantity, Decimal(layer.cost)) for layer in left.layers
    ]
    assert all(layer.cost >= 0 for month in months for layer in month.closing.layers)
    assert sum(expected) + left.cost == sum(cost for _, cost in lots)


@pytest.mark.parametrize(
    ("costing", "events", "sold", "left"),
    [
        # FinCal 0.6.3 (R), help page of cogs(); tenths
        (FIFO, [(1, 2, 40), (2, 3, 90), (3, 5, 250), (4, -7, 0)], 230, 150),
        (AVERAGE, [(1, 2, 40), (2, 3, 90), (3, 5, 250), (4, -7, 0)], 266, 114),
        # Kaplan, ACCA Financial Accounting, periodic average cost; cents
        (AVERAGE, [(1, 5, 1_750), (2, 5, 2_000), (3, 5, 2_500), (4, 5, 2_750), (5, -7, 0)], 3_150, 5_850),
    ],
)
def test_tiny_published_examples(costing: StockCosting, events: list[Event], sold: int, left: int) -> None:
    month = month_of(events, costing)

    assert costs(month) == [sold]
    assert month.closing.cost == left
