"""Joint orders through the client: opened, committed to, closed once into a purchase and its draws, or called off."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from pool_client.errors import Missing, NotAllowed, PoolError, Refused, Stale
from pool_client.models.buying import Tier
from pool_client.models.directory import Role
from pool_client.models.entries import Draw, Purchase
from pool_client.models.rounds import Round, RoundOrder, RoundState

from tests.served import FIRST_DAY, NOON, POOL, Served

DEADLINE = NOON + timedelta(days=2)
ROUND = "00000001"
ORDER = RoundOrder(paid_by="ALDER", order_number="N-1")


def d(amount: str) -> Decimal:
    return Decimal(amount)


@pytest.fixture
def opened(service: Served) -> Served:
    """A pool with a ladder (1: 10.00, 100: 9.00, 500: 6.90) and an open round."""
    steps = ((1, "10.00"), (100, "9.00"), (500, "6.90"))
    tiers = tuple(Tier(from_credits=quantity, unit_price=d(price)) for quantity, price in steps)
    service.book().put_ladder(tiers, valid_from=FIRST_DAY)
    made = service.book().open_round(deadline=DEADLINE, note="for December")
    assert (ROUND, 1, "opened", DEADLINE, "for December") == (
        made.round_id, made.number, made.step, made.deadline, made.note,
    )  # fmt: skip
    return service


def commit(served: Served, **quantities: int) -> None:
    for member, quantity in quantities.items():
        served.book().put_commitment(round_id=ROUND, member=member, quantity=quantity)


def leave(served: Served, member: str) -> None:
    """Let a member have left yesterday."""
    there = served.book().member(code=member)
    served.book().put_member(replace(there.value, left_on=date(2026, 11, 9)), tag=there.tag)


def seen(served: Served, key: str = "keeper") -> Round:
    return served.book(key).round_(round_id=ROUND)


def code_of(attempt: Any) -> str:
    with pytest.raises(PoolError) as refused:
        attempt()
    return refused.value.code or ""


class TestCommitting:
    def test_members_commit_and_everybody_sees_what_it_comes_to(self, opened: Served) -> None:
        commit(opened, ALDER=300, CEDAR=0)
        commit(opened, BIRCH=198)

        for key in ("keeper", "clerk", "reader"):
            found = seen(opened, key)
            assert (RoundState.OPEN, 498, 3, 4) == (found.state, found.committed, found.answered, found.version)
            assert [("ALDER", 300), ("BIRCH", 198), ("CEDAR", 0)] == [
                (each.member, each.quantity) for each in found.commitments
            ]
            assert ("DOGWOOD",) == found.unanswered
        effect = seen(opened).effect
        assert effect and effect.order and effect.next_break  # noqa: PT018 - nothing to tell apart
        assert (d("9.00"), d("4482.00")) == (effect.order.unit_price, effect.order.amount)
        assert [d("2700.00"), d("1782.00"), d("0.00")] == [each.amount for each in effect.shares]
        assert (2, d("2.1000"), d("1045.80"), d("-1032.00")) == (
            effect.next_break.more, effect.next_break.saves_per_credit,
            effect.next_break.saves, effect.next_break.costs_more,
        )  # fmt: skip
        assert [(500, 2, d("1032.00"))] == [(each.quantity, each.more, each.saves) for each in effect.cheaper]

    def test_a_change_states_what_it_replaces(self, opened: Served) -> None:
        book = opened.book()
        first = book.put_commitment(round_id=ROUND, member="ALDER", quantity=12)

        assert "already-there" == code_of(lambda: book.put_commitment(round_id=ROUND, member="ALDER", quantity=13))
        changed = book.put_commitment(round_id=ROUND, member="ALDER", quantity=13, tag=first.tag)
        with pytest.raises(Stale):
            book.put_commitment(round_id=ROUND, member="ALDER", quantity=14, tag=first.tag)
        assert changed == book.commitment(round_id=ROUND, member="ALDER")
        assert 13 == seen(opened).committed

    def test_a_clerk_commits_its_own_member(self, opened: Served) -> None:
        clerk = opened.book("clerk")

        assert 12 == clerk.put_commitment(round_id=ROUND, member="ALDER", quantity=12).value.quantity
        with pytest.raises(NotAllowed):
            clerk.put_commitment(round_id=ROUND, member="BIRCH", quantity=12)

    def test_who_is_not_in_the_pool_commits_to_nothing(self, opened: Served) -> None:
        leave(opened, "CEDAR")

        assert "member-left" == code_of(lambda: commit(opened, CEDAR=1))
        assert "unknown-member" == code_of(lambda: commit(opened, ELM=0))
        assert "CEDAR" not in seen(opened).unanswered
        with pytest.raises(Missing):
            opened.book().put_commitment(round_id="00000002", member="ALDER", quantity=1)

    def test_who_has_left_since_is_committed_to_nothing_before_it_is_closed(self, opened: Served) -> None:
        commit(opened, ALDER=12, CEDAR=5)
        leave(opened, "CEDAR")
        close: dict[str, Any] = {"round_id": ROUND, "accept_unanswered": True}

        assert "member-left" == code_of(lambda: opened.book().close_round(ORDER, seen=3, **close))
        tag = opened.book().commitment(round_id=ROUND, member="CEDAR").tag
        opened.book().put_commitment(round_id=ROUND, member="CEDAR", quantity=0, tag=tag)
        assert 2 == len(opened.book().close_round(ORDER, seen=4, **close).entries)

    def test_until_the_deadline_unless_it_is_extended(self, opened: Served) -> None:
        commit(opened, ALDER=12)
        opened.clock.pass_days(2)

        assert RoundState.PAST_DEADLINE == seen(opened).state
        assert "round-over" == code_of(lambda: commit(opened, BIRCH=12))
        for too_soon in (DEADLINE, NOON):
            attempt: dict[str, Any] = {"round_id": ROUND, "deadline": too_soon, "reason": "two are away"}
            assert "too-soon" == code_of(lambda given=attempt: opened.book().extend_round(**given))
        opened.book().extend_round(round_id=ROUND, deadline=DEADLINE + timedelta(days=1), reason="two are away")
        commit(opened, BIRCH=12)
        found = seen(opened)
        assert (24, DEADLINE + timedelta(days=1)) == (found.committed, found.deadline)
        assert ["two are away"] == [each.reason for each in found.extensions]

    def test_without_a_ladder_commitments_have_no_price(self, service: Served) -> None:
        service.book().open_round(deadline=DEADLINE)
        commit(service, ALDER=12)

        assert None is seen(service).effect
        close: dict[str, Any] = {"round_id": ROUND, "seen": 2, "accept_unanswered": True}
        assert "no-ladder" == code_of(lambda: service.book().close_round(ORDER, **close))
        made = service.book().close_round(RoundOrder(paid_by="ALDER", amount=d("99.00")), **close)
        assert 2 == len(made.entries)
        closing = seen(service).closing
        assert closing and closing.listed is None  # noqa: PT018 - as above


class TestClosing:
    def test_one_purchase_and_its_draws_and_what_is_over_stays_in_stock(self, opened: Served) -> None:
        commit(opened, ALDER=300, BIRCH=198, CEDAR=0)
        opened.clock.pass_days(2)
        order = RoundOrder(paid_by="BIRCH", quantity=500, order_number="N-1", note="two to spare")

        made = opened.book().close_round(order, round_id=ROUND, seen=4)

        assert [
            Purchase(paid_by="BIRCH", quantity=500, amount=d("3450.00"), order_number="N-1"),
            Draw(member="ALDER", quantity=300),
            Draw(member="BIRCH", quantity=198),
        ] == [entry.body for entry in made.entries]
        assert {f"Order round {ROUND}: two to spare"} == {entry.note for entry in made.entries}
        positions = opened.book().positions()
        assert (2, [300, 198, 0, 0]) == (positions.stock, [each.held for each in positions.members])
        found = seen(opened, "clerk")
        assert (RoundState.CLOSED, None, ()) == (found.state, found.effect, found.unanswered)
        assert found.closing
        assert ((1, 2, 3), d("3450.00"), d("3450.00"), 2) == (
            found.closing.entries, found.closing.amount, found.closing.listed, found.closing.left,
        )  # fmt: skip
        assert opened.book().verification().sound

    def test_what_the_vendor_took_is_the_truth(self, opened: Served) -> None:
        commit(opened, ALDER=120)
        order = RoundOrder(paid_by="ALDER", amount=d("1100.50"), effective_on=date(2026, 11, 11))

        made = opened.book().close_round(order, round_id=ROUND, seen=2, accept_unanswered=True)

        assert {date(2026, 11, 11)} == {entry.effective_on for entry in made.entries}
        closing = seen(opened).closing
        assert closing
        assert (120, d("1100.50"), d("1080.00"), 0) == (
            closing.quantity, closing.amount, closing.listed, closing.left,
        )  # fmt: skip

    def test_closed_again_alike_it_is_closed_once_and_otherwise_not_at_all(self, opened: Served) -> None:
        commit(opened, ALDER=120)
        opened.clock.pass_days(2)
        first = opened.book().close_round(ORDER, round_id=ROUND, seen=2, idempotency_key="close-round-1")
        opened.clock.pass_days(1)

        for key in ("close-round-1", "close-round-2"):
            assert first == opened.book().close_round(ORDER, round_id=ROUND, seen=2, idempotency_key=key)
        other = RoundOrder(paid_by="BIRCH", order_number="N-1")
        assert "key-reused" == code_of(
            lambda: opened.book().close_round(other, round_id=ROUND, seen=2, idempotency_key="close-round-1")
        )
        assert "round-over" == code_of(lambda: opened.book().close_round(other, round_id=ROUND, seen=2))
        assert 2 == opened.book().positions().number

    def test_not_before_the_deadline_without_a_word_nor_as_it_was_not_seen(self, opened: Served) -> None:
        assert "round-empty" == code_of(lambda: opened.book().close_round(ORDER, round_id=ROUND, seen=1))
        commit(opened, ALDER=120)

        assert "round-unanswered" == code_of(lambda: opened.book().close_round(ORDER, round_id=ROUND, seen=2))
        with pytest.raises(Stale):
            opened.book().close_round(ORDER, round_id=ROUND, seen=1, accept_unanswered=True)
        commit(opened, BIRCH=1, CEDAR=0, DOGWOOD=0)
        opened.book().close_round(ORDER, round_id=ROUND, seen=5)

    def test_what_the_book_refuses_leaves_the_round_as_it_was(self, opened: Served) -> None:
        commit(opened, ALDER=120, BIRCH=30)
        short = RoundOrder(paid_by="ALDER", quantity=149)
        close: dict[str, Any] = {"round_id": ROUND, "seen": 3, "accept_unanswered": True}

        with pytest.raises(Refused, match=r"^The stock has 29 credits; 30 are more than that\.") as refused:
            opened.book().close_round(short, **close)
        assert "not-enough-in-stock" == refused.value.code
        assert (RoundState.OPEN, 3, 0) == (seen(opened).state, seen(opened).version, opened.book().positions().number)
        assert "unknown-member" == code_of(lambda: opened.book().close_round(RoundOrder(paid_by="ELM"), **close))
        assert 3 == len(opened.book().close_round(ORDER, **close).entries)

    def test_two_who_close_at_once_close_once(self, opened: Served) -> None:
        commit(opened, ALDER=120, BIRCH=30)
        opened.clock.pass_days(2)
        other = opened.book().make_key(name="second keeper", role=Role.KEEPER)
        opened.keys["second"] = other.secret or ""

        def close(key: str) -> tuple[int, ...]:
            made = opened.book(key).close_round(ORDER, round_id=ROUND, seen=3)
            return tuple(entry.number for entry in made.entries)

        with ThreadPoolExecutor(8) as threads:
            found = list(threads.map(close, ["keeper", "second"] * 4))

        assert [(1, 2, 3)] * 8 == found
        assert 3 == opened.book().positions().number

    def test_a_commitment_meanwhile_is_in_the_order_or_refused(self, opened: Served) -> None:
        commit(opened, ALDER=120)

        def attempt(quantity: int) -> str:
            if quantity:
                path = f"/order-rounds/{ROUND}/commitments/BIRCH"
                return str(opened.send("PUT", path, {"quantity": quantity}).status_code)
            body = {"seen": 2, "paid_by": "ALDER", "accept_unanswered": True}
            return str(opened.send("POST", f"/order-rounds/{ROUND}/close", body).status_code)

        with ThreadPoolExecutor(2) as threads:
            committed, closed = threads.map(attempt, [30, 0])

        assert (committed, closed) in {("201", "412"), ("409", "201")}
        assert (2 if closed == "201" else 0) == opened.book().positions().number


class TestCallingOff:
    def test_nothing_is_recorded(self, opened: Served) -> None:
        commit(opened, ALDER=120)
        made = opened.book().call_off_round(round_id=ROUND, reason="prices fall", idempotency_key="call-off-1")

        assert made == opened.book().call_off_round(round_id=ROUND, reason="prices fall", idempotency_key="call-off-1")
        found = seen(opened)
        assert (RoundState.CALLED_OFF, "prices fall", None) == (
            found.state, found.calling_off and found.calling_off.reason, found.effect,
        )  # fmt: skip
        assert 0 == opened.book().positions().number
        attempts = [
            lambda: commit(opened, BIRCH=1),
            lambda: opened.book().call_off_round(round_id=ROUND, reason="again"),
            lambda: opened.book().close_round(ORDER, round_id=ROUND, seen=3),
            lambda: opened.book().extend_round(round_id=ROUND, deadline=DEADLINE + timedelta(1), reason="again"),
        ]
        assert {"round-over"} == {code_of(attempt) for attempt in attempts}


def test_rounds_are_listed_newest_first(opened: Served) -> None:
    opened.book().call_off_round(round_id=ROUND, reason="prices fall")
    opened.book().open_round(deadline=DEADLINE, note="again")

    assert [("00000002", "open", "again", 1), (ROUND, "called_off", "for December", 2)] == [
        (each.round_id, each.state, each.note, each.version) for each in opened.book("clerk").rounds()
    ]


def test_a_round_opens_until_an_instant_to_come(service: Served) -> None:
    assert "too-soon" == code_of(lambda: service.book().open_round(deadline=NOON))
    answer = service.send("POST", "/order-rounds", {"deadline": "2026-11-31T12:00:00Z"})
    assert 422 == answer.status_code
    with pytest.raises(NotAllowed):
        service.book("clerk").open_round(deadline=DEADLINE)
    made = service.send("POST", "/order-rounds", {"deadline": "2026-11-20T12:00:00Z"}, idempotency_key="open-round-1")
    again = service.send("POST", "/order-rounds", {"deadline": "2026-11-20T12:00:00Z"}, idempotency_key="open-round-1")
    assert (201, made.json(), "true") == (again.status_code, again.json(), again.headers["Idempotency-Replayed"])
    assert f"/v1/pools/{POOL}/order-rounds/{ROUND}" == made.headers["Location"]
