"""Rounds: what stands by their steps, what commitments come to, and what closing records."""

from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.arrangements import Step, StepKind, later
from pool_api.domain.entries import Draw, Purchase
from pool_api.domain.errors import RoundEmpty, RoundOver, RoundUnanswered, TooSoon, VersionStale
from pool_api.domain.rounds import Round, RoundState, bought, effect, round_of
from pool_api.domain.values import half_up
from tests.domain.plans import ladder

TIERS = ladder([(1, 150), (100, 135), (250, 120), (500, 100)])
"""Own ladder, in minor units."""

BEFORE, DEADLINE, AFTER, LATER = (f"2026-11-20T1{hour}:00:00.000000Z" for hour in (0, 1, 2, 3))
SHOPS = ("ALDER", "BIRCH", "CEDAR")


def steps(*said: tuple[StepKind, str | int | None]) -> Iterator[Step]:
    """Give steps: a committed one says MEMBER=QUANTITY, one with an instant says until when it holds."""
    for number, (kind, what) in enumerate(said, start=1):
        committed = kind is StepKind.COMMITTED
        member, _, quantity = str(what).partition("=") if committed else (None, "", "")
        yield Step(
            number=number,
            kind=kind,
            member=member,
            until=None if committed else str(what),
            content={"quantity": int(quantity)} if committed else {},
            made_by="keeper/-/k1",
            made_at=BEFORE,
        )


def round_with(*said: tuple[StepKind, str | int | None]) -> Round:
    return round_of("00000001", list(steps((StepKind.OPENED, DEADLINE), *said)))


def committed(*words: str) -> Round:
    return round_with(*((StepKind.COMMITTED, each) for each in words))


class TestWhatStands:
    def test_the_last_commitment_of_a_member_counts(self) -> None:
        found = committed("CEDAR=9", "ALDER=120", "CEDAR=0", "ALDER=130")

        assert {"ALDER": 130, "CEDAR": 0} == found.quantities
        assert (130, 5) == (found.total, found.version)
        assert ["ALDER", "CEDAR"] == list(found.quantities)

    def test_nothing_is_an_answer(self) -> None:
        assert ["BIRCH"] == committed("ALDER=12", "CEDAR=0").unanswered(SHOPS)

    def test_the_deadline_itself_is_too_late(self) -> None:
        found = committed("ALDER=12")

        assert [RoundState.OPEN, RoundState.PAST_DEADLINE] == [found.state(at) for at in (BEFORE, DEADLINE)]
        found.permit_commitment(BEFORE)
        with pytest.raises(RoundOver, match="past its deadline"):
            found.permit_commitment(DEADLINE)

    def test_an_extension_opens_it_again(self) -> None:
        found = round_with((StepKind.COMMITTED, "ALDER=12"), (StepKind.EXTENDED, LATER))

        assert (LATER, RoundState.OPEN, 1) == (found.deadline, found.state(AFTER), len(found.extended))
        found.permit_commitment(AFTER)

    @pytest.mark.parametrize(
        ("kind", "state"),
        [(StepKind.CLOSED, RoundState.CLOSED), (StepKind.CALLED_OFF, RoundState.CALLED_OFF)],
    )
    def test_what_is_over_stays_over(self, kind: StepKind, state: RoundState) -> None:
        found = round_with((StepKind.COMMITTED, "ALDER=12"), (kind, None))

        assert state is found.state(BEFORE)
        with pytest.raises(RoundOver):
            found.permit_commitment(BEFORE)
        with pytest.raises(RoundOver):
            found.permit_change()

    def test_a_deadline_is_later_than_what_it_follows(self) -> None:
        assert "2026-11-20T11:00:00.000000Z" == later("2026-11-20T11:00:00Z", BEFORE)
        for stated in (BEFORE, "2026-11-20T09:59:59.9Z"):
            with pytest.raises(TooSoon):
                later(stated, BEFORE)


class TestClosing:
    @staticmethod
    def attempt(found: Round, at: str, *, seen: int | None = None, word: bool = False) -> None:
        found.permit_close(at, seen or found.version, SHOPS, accept_unanswered=word)

    def test_after_the_deadline_silence_is_no_obstacle(self) -> None:
        self.attempt(committed("ALDER=12"), DEADLINE)

    def test_before_the_deadline_it_needs_a_word(self) -> None:
        found = committed("ALDER=12", "CEDAR=0")

        with pytest.raises(RoundUnanswered, match="BIRCH") as refused:
            self.attempt(found, BEFORE)
        assert ["BIRCH"] == refused.value.members
        self.attempt(found, BEFORE, word=True)
        self.attempt(committed("ALDER=12", "BIRCH=0", "CEDAR=0"), BEFORE)

    def test_as_it_was_seen_and_not_otherwise(self) -> None:
        with pytest.raises(VersionStale):
            self.attempt(committed("ALDER=12", "ALDER=13"), AFTER, seen=2)

    def test_nothing_is_no_order(self) -> None:
        with pytest.raises(RoundEmpty):
            self.attempt(committed("ALDER=0", "BIRCH=0", "CEDAR=0"), AFTER)

    def test_one_purchase_into_stock_and_a_draw_of_each_who_wants_something(self) -> None:
        purchase = Purchase(into="stock", paid_by="BIRCH", quantity=30, amount=4_500)

        assert (
            purchase,
            Draw(member="ALDER", quantity=12),
            Draw(member="CEDAR", quantity=16),
        ) == bought({"CEDAR": 16, "BIRCH": 0, "ALDER": 12}, purchase)


class TestEffect:
    def test_one_price_for_all(self) -> None:
        """Figures: METHODS.md D3 of the project's notes, row `equal price`."""
        found = effect(TIERS, {"ALDER": 300, "BIRCH": 120, "CEDAR": 60, "DOGWOOD": 20})

        assert {"ALDER": 30_000, "BIRCH": 12_000, "CEDAR": 6_000, "DOGWOOD": 2_000} == found.shares
        assert found.order
        assert (Fraction(50_000), None, ()) == (found.order.cost, found.next_break, found.cheaper)

    def test_two_more_cost_less_in_total(self) -> None:
        """By hand: 498 × 120 = 59,760; 500 × 100 = 50,000; 498 × 20 = 9,960."""
        found = effect(TIERS, {"ALDER": 300, "BIRCH": 198}).next_break

        assert found
        assert (500, 2, Fraction(20), 9_960, -9_760) == (
            found.order.quantity, found.more, found.saves_per_credit, found.saves, found.costs_more,
        )  # fmt: skip
        assert [500] == [each.quantity for each in effect(TIERS, {"ALDER": 498}).cheaper]

    def test_a_break_far_away_costs_more_in_total(self) -> None:
        """By hand: 100 × 135 = 13,500; 250 × 120 = 30,000; 100 × 15 = 1,500."""
        found = effect(TIERS, {"ALDER": 100}).next_break

        assert found
        assert (150, Fraction(15), 1_500, 16_500) == (found.more, found.saves_per_credit, found.saves, found.costs_more)

    @pytest.mark.parametrize("quantities", [{}, {"ALDER": 0}, {"ALDER": 24}])
    def test_below_the_smallest_order_the_first_tier_is_the_next_break(self, quantities: dict[str, int]) -> None:
        found = effect(ladder([(25, 150), (100, 135)]), quantities)

        assert (None, {}, ()) == (found.order, found.shares, found.cheaper)
        assert found.next_break
        assert (25, 25 - sum(quantities.values()), None) == (
            found.next_break.order.quantity, found.next_break.more, found.next_break.saves,
        )  # fmt: skip

    @given(
        st.dictionaries(st.sampled_from("ABCDEFGH"), st.integers(0, 300), min_size=1),
        st.lists(st.tuples(st.integers(2, 900), st.integers(1, 999)), max_size=4, unique_by=lambda tier: tier[0]),
    )
    def test_shares_add_up_and_are_as_even_as_whole_units_can_be(
        self, quantities: dict[str, int], tiers: list[tuple[int, int]]
    ) -> None:
        by = ladder([(1, 1_000), *sorted(tiers)])
        found, total = effect(by, quantities), sum(quantities.values())

        assert (found.order is None) == (total == 0)
        if found.order:
            assert half_up(found.order.cost) == sum(found.shares.values())
            assert all(
                abs(found.shares[member] - Fraction(found.order.cost * quantity, total)) < 1
                for member, quantity in quantities.items()
            )
        if found.next_break and found.order:
            assert found.next_break.more > 0
            alone = by.order(total + found.next_break.more)
            assert alone
            assert half_up(alone.cost) - half_up(found.order.cost) == found.next_break.costs_more
