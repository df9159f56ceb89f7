"""The common stock over months: what waits, what is undone, what is refused, and that no cost is ever lost."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import Draw, Opening, Purchase, Reversal
from pool_api.domain.layers import EMPTY, Costed, Impossible, Layer, Movement, StockState, Waiting, Way
from pool_api.domain.pool import Policy, StockCosting
from pool_api.domain.stock import Outflow, Shortage, flow, replay, spells
from pool_api.domain.values import STOCK
from tests.domain.journals import (
    MONTHS,
    Journal,
    Wish,
    accepted,
    bought,
    by,
    costs,
    month_of,
    openings,
    under,
    wishes,
    write_off,
)

AVERAGE, MOVING, FIFO = StockCosting.MONTH_AVERAGE, StockCosting.MOVING_AVERAGE, StockCosting.FIFO
NOVEMBER, DECEMBER, JANUARY = MONTHS


class TestRefundsAtOriginalCost:
    """Two hazards that users of bookkeeping programs report: a return to the vendor at its own price that leaves value
    without units, and one that leaves an absurd average."""

    @pytest.mark.parametrize("costing", [AVERAGE, MOVING])
    def test_value_without_units_is_impossible(self, costing: StockCosting) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1)
        dear = journal.write(bought(10, 120), 2)
        journal.write(Draw(member="BIRCH", quantity=10), 3)
        journal.write(Reversal(entry=dear, quantity=10), 1, month=1)

        december = replay(journal.entries, by(costing))[DECEMBER]
        assert (Impossible(dear, 10, date(2026, 12, 1), credits=0, cost=-10),) == december.impossible

    def test_under_first_in_first_out_nothing_is_left_over(self) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1)
        dear = journal.write(bought(10, 120), 2)
        journal.write(Draw(member="BIRCH", quantity=10), 3)
        journal.write(Reversal(entry=dear, quantity=10), 1, month=1)

        assert replay(journal.entries, by(FIFO))[DECEMBER].closing == EMPTY

    def test_a_wrong_purchase_undone_in_its_month_reprices_what_was_sold_meanwhile(self) -> None:
        """100 at 6.071 and 10 at 3.1, sell 5, take the 100 back; ten-thousandths."""
        month = replay(self.wrong_purchase(month=0).entries, by(AVERAGE))[NOVEMBER]

        assert costs(month) == [155_000]
        assert month.closing.cost == 155_000

    def test_undone_later_it_leaves_at_what_was_paid(self) -> None:
        """The source's average of 0.38, exactly 1.9955 for 5: far off, but neither below zero nor without credits."""
        month = replay(self.wrong_purchase(month=1).entries, by(AVERAGE))[DECEMBER]

        assert month.price == Fraction(19_955, 5)

    def wrong_purchase(self, month: int) -> Journal:
        journal = Journal()
        wrong = journal.write(bought(100, 6_071_000), 1)
        journal.write(bought(10, 310_000), 2)
        journal.write(Draw(member="BIRCH", quantity=5), 3)
        journal.write(Reversal(entry=wrong, quantity=100), 4, month=month)
        return journal


class TestWaiting:
    """Own rule: what isn't there when it leaves waits, and the next inflow costs it."""

    @pytest.mark.parametrize("costing", [MOVING, FIFO])
    def test_a_draw_dated_before_its_purchase_is_costed_by_it(self, costing: StockCosting) -> None:
        month = month_of([(1, 10, 100), (5, 20, 300), (3, -15, 0)], costing)

        assert month.outflows == (Outflow(3, "BIRCH", date(2026, 11, 3), 15, 100 + 75),)
        assert month.closing.cost == 225
        assert month.shortages == (Shortage(date(2026, 11, 3), 5),)

    def test_under_the_month_average_only_the_warning_remains(self) -> None:
        month = month_of([(1, 10, 100), (5, 20, 300), (3, -15, 0)], AVERAGE)

        assert costs(month) == [200]
        assert month.shortages == (Shortage(date(2026, 11, 3), 5),)

    @pytest.mark.parametrize("costing", StockCosting)
    def test_what_a_whole_month_lacks_is_costed_in_the_next(self, costing: StockCosting) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1, month=1)
        late = journal.write(Draw(member="BIRCH", quantity=4), 9)
        months = replay(journal.entries, by(costing))

        assert months[NOVEMBER].outflows == (Outflow(late, "BIRCH", date(2026, 11, 9), 4, 0, missing=4),)
        assert months[NOVEMBER].closing.waiting == (Waiting(late, "BIRCH", date(2026, 11, 9), 4),)
        assert months[NOVEMBER].closing.quantity == -4
        assert months[NOVEMBER].price is None
        assert months[DECEMBER].late == (Outflow(late, "BIRCH", date(2026, 11, 9), 4, 40),)
        assert months[DECEMBER].price == 10
        assert months[DECEMBER].closing.cost == 60
        assert months[DECEMBER].shortages == (Shortage(date(2026, 12, 1), 4),)

    @pytest.mark.parametrize("costing", StockCosting)
    def test_a_purchase_taken_back_before_its_credits_are_there_waits_without_cost(self, costing: StockCosting) -> None:
        """The late draw was recorded last: what it makes of the month is reported, and nothing is lost."""
        opening = StockState(layers=(Layer(1, 10, 100),))
        movements = [
            Movement(4, 4, date(2026, 12, 1), Way.OUT, 10, holder="BIRCH"),
            Movement(2, 1, date(2026, 12, 2), Way.WITHDRAWN, 10, 100),
            Movement(3, 3, date(2026, 12, 3), Way.IN, 10, 120),
        ]
        month = flow(DECEMBER, opening, movements, costing)

        assert month.available == Costed(10, 120)
        assert month.closing.quantity == 0
        assert sum(costs(month)) + month.closing.cost == 120

    @pytest.mark.parametrize("costing", StockCosting)
    def test_so_it_does_over_the_end_of_a_month(self, costing: StockCosting) -> None:
        opening = StockState(layers=(Layer(1, 10, 100),))
        drawn = Movement(4, 4, date(2026, 12, 1), Way.OUT, 10, holder="BIRCH")
        taken_back = Movement(2, 1, date(2026, 12, 2), Way.WITHDRAWN, 10, 100)
        december = flow(DECEMBER, opening, [drawn, taken_back], costing)
        quiet = flow(JANUARY, december.closing, [], costing)
        january = flow(JANUARY, quiet.closing, [Movement(3, 3, date(2027, 1, 3), Way.IN, 30, 360)], costing)

        assert december.closing.quantity == quiet.closing.quantity == -10
        assert december.closing.cost == quiet.closing.cost
        assert january.closing.quantity == 20
        assert sum(costs(december)) + sum(each.cost for each in january.late) + january.closing.cost == 360


class TestReversalsOfEarlierMonths:
    """Own rules."""

    def test_a_draw_comes_back_as_the_front_layer(self) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1)
        drawn = journal.write(Draw(member="BIRCH", quantity=10), 2)
        journal.write(bought(10, 200), 3)
        back = journal.write(Reversal(entry=drawn, quantity=4), 1, month=1)
        journal.write(Draw(member="CEDAR", quantity=5), 2, month=1)
        december = replay(journal.entries, by(FIFO))[DECEMBER]

        assert december.back == Costed(4, 40)
        assert costs(december) == [40 + 20]
        assert december.closing.layers == (Layer(3, 9, 180, gone=1, gone_cost=20),)
        assert back == 4

    def test_a_purchase_leaves_its_own_layer_first_then_the_oldest(self) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1)
        wrong = journal.write(bought(10, 200), 2)
        journal.write(Draw(member="BIRCH", quantity=12), 3)
        journal.write(bought(10, 300), 4)
        journal.write(Reversal(entry=wrong, quantity=10), 1, month=1)
        december = replay(journal.entries, by(FIFO))[DECEMBER]

        # 8 of its own at 160 and 2 of the next at 60 make 220; what was paid is 200, so 20 stay with what remains
        assert december.closing.layers == (Layer(4, 8, 240 + 20),)

    def test_the_difference_to_what_was_paid_falls_on_its_own_layer_while_that_remains(self) -> None:
        journal = Journal()
        journal.write(bought(10, 100), 1)
        wrong = journal.write(bought(3, 100), 2)
        journal.write(Reversal(entry=wrong, quantity=1), 1, month=1)
        journal.write(Reversal(entry=wrong, quantity=1), 2, month=1)
        december = replay(journal.entries, by(FIFO))[DECEMBER]

        assert december.withdrawn == Costed(2, 33 + 33)
        assert december.closing.layers == (Layer(1, 10, 100), Layer(wrong, 1, 34, gone=2, gone_cost=66))

    def test_no_layer_falls_below_zero_while_others_can_bear_the_difference(self) -> None:
        opening = StockState(layers=(Layer(1, 10, 30), Layer(2, 10, 500)))
        movements = [Movement(9, 7, date(2026, 12, 1), Way.WITHDRAWN, 5, 100)]
        december = flow(DECEMBER, opening, movements, FIFO)

        assert december.closing.layers == (Layer(1, 5, 0), Layer(2, 10, 430))
        assert december.impossible == ()

    @pytest.mark.parametrize("costing", StockCosting)
    def test_a_cost_below_zero_is_impossible(self, costing: StockCosting) -> None:
        journal = Journal()
        dear = journal.write(bought(10, 1_000), 1)
        journal.write(bought(10, 0), 1)
        journal.write(Draw(member="BIRCH", quantity=9), 2)
        journal.write(Draw(member="BIRCH", quantity=1), 3)
        journal.write(Reversal(entry=dear, quantity=9), 1, month=1)

        assert [dear] == [each.entry for each in replay(journal.entries, by(costing))[DECEMBER].impossible]

    @pytest.mark.parametrize("costing", StockCosting)
    def test_a_write_off_comes_back_at_what_it_cost_the_last_part_taking_the_rest(self, costing: StockCosting) -> None:
        journal = Journal()
        journal.write(bought(3, 100), 1)
        lost = journal.write(write_off("stock", 3), 2)
        for month in (1, 1, 2):
            journal.write(Reversal(entry=lost, quantity=1), month, month=month)
        months = replay(journal.entries, by(costing))

        assert months[DECEMBER].back == Costed(2, 33 + 33)
        assert months[JANUARY].back == Costed(1, 34)
        assert months[JANUARY].closing.cost == 100


def test_a_month_in_which_the_stock_does_not_move_is_left_out() -> None:
    """Own rule."""
    journal = Journal()
    journal.write(bought(3, 100), 1)
    journal.write(Draw(member="BIRCH", quantity=1), 1, month=2)

    assert [NOVEMBER, JANUARY] == list(replay(journal.entries, by(FIFO)))


def test_spells_tell_the_first_day_and_the_deepest_point() -> None:
    """Own case."""
    days = [date(2026, 11, day) for day in range(1, 7)]
    balances = zip(days, [-1, -3, 0, 5, -2, -1], strict=True)

    assert list(spells(balances)) == [Shortage(days[0], 3), Shortage(days[4], 2)]


@given(opening=openings, asked=wishes(75), costing=st.sampled_from(StockCosting), in_order=st.booleans())
def test_cost_in_is_cost_out_and_cost_kept(
    *, opening: Opening | None, asked: list[Wish], costing: StockCosting, in_order: bool
) -> None:
    journal = accepted(opening, asked, under(Policy(stock_costing=costing)), in_order=in_order)
    state = None if opening else EMPTY
    for month in replay(journal.entries, by(costing)).values():
        assert month.available.cost == sum(costs(month)) + sum(each.cost for each in month.late) + month.closing.cost
        assert month.closing.quantity == (
            month.available.quantity
            + sum(each.quantity for each in month.opening.waiting if each.holder is None)
            - sum(each.quantity for each in month.opening.waiting)
            - sum(each.quantity for each in month.outflows)
        )
        assert state is None or month.opening == state
        state = month.closing


@given(openings, wishes(30, reversals=False))
def test_first_in_first_out_is_the_same_per_period_and_perpetually(opening: Opening | None, asked: list[Wish]) -> None:
    """A law that the textbooks state: for entries in order, taking all inflows first changes no cost."""
    journal = accepted(opening, asked, under(Policy(stock_costing=FIFO)), in_order=True)
    for month in replay(journal.entries, by(FIFO)).values():
        moved = [
            Movement(number, number, NOVEMBER.first, Way.IN, *amounts)
            for number, amounts in _bought_in(journal).items()
        ]
        moved += [
            Movement(each.entry, each.entry, NOVEMBER.last, Way.OUT, each.quantity, holder=each.holder)
            for each in month.outflows
        ]

        assert costs(month) == costs(flow(NOVEMBER, month.opening, moved, FIFO))


def _bought_in(journal: Journal) -> dict[int, Costed]:
    return {
        each.number: Costed(each.body.quantity, each.body.amount)
        for each in journal.entries
        if isinstance(each.body, Purchase) and each.body.into == STOCK
    }


@given(st.lists(st.tuples(st.integers(1, 28), st.integers(1, 9), st.integers(0, 900)), min_size=1, max_size=12))
def test_a_draw_and_its_reversal_in_one_month_leave_no_trace(events: list[tuple[int, int, int]]) -> None:
    journal, twin = Journal(), Journal()
    for day, quantity, amount in events:
        journal.write(bought(quantity, amount), day)
        twin.write(bought(quantity, amount), day)
    drawn = journal.write(Draw(member="BIRCH", quantity=events[0][1]), 28)
    journal.write(Reversal(entry=drawn, quantity=events[0][1]), 30)

    for costing in StockCosting:
        one, two = (replay(each.entries, by(costing))[NOVEMBER] for each in (twin, journal))
        assert one.closing == two.closing
