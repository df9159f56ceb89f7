"""What people are shown of joint orders and of requests for credits, and what their commands say before they ask."""

import json
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import httpx
import pytest
from pool_client import show_rounds
from pool_client.calls import requests, rounds
from pool_client.command import run
from pool_client.models.requests import CreditRequest, RequestState
from pool_client.models.rounds import Round, RoundState, RoundStep

from tests.clients.document import answered
from tests.clients.scripted import problem
from tests.clients.shop import SET, Shop
from tests.clients.test_show_buying import given, lines

ROUND: Round = given(rounds.round_("riverside", round_id="00000003"))
REQUEST: CreditRequest = given(requests.credit_request("riverside", request_id="00000003"))
ZONE = ZoneInfo("Europe/Vienna")
AT = datetime(2026, 11, 20, 11, 30, tzinfo=UTC)


def shown(**other: Any) -> str:
    return lines(show_rounds.round_(replace(ROUND, **other), ZONE))


class TestShowing:
    def test_who_has_not_answered(self) -> None:
        assert "Not answered: BIRCH, CEDAR." in shown(unanswered=("BIRCH", "CEDAR"))
        assert "Not answered" not in shown(unanswered=())

    def test_how_far_it_has_come(self) -> None:
        assert ": past its deadline\n" in shown(state=RoundState.PAST_DEADLINE)
        assert ": open\n" in shown(state=RoundState.OPEN)
        assert "Deadline 2026-11-20 12:30;" in shown(deadline=AT)

    def test_what_the_next_break_would_bring(self) -> None:
        assert ROUND.effect
        there = ROUND.effect.next_break
        assert there
        told = replace(there, more=2, saves_per_credit=Decimal("1.0000"), saves=Decimal("498.00"))

        assert "2 more credits reach the next break at " in shown(effect=replace(ROUND.effect, next_break=told))
        assert "1.0000 less a credit, 498.00 less for those who have committed." in shown(
            effect=replace(ROUND.effect, next_break=told)
        )
        first = replace(told, saves_per_credit=None)
        assert " less " not in shown(effect=replace(ROUND.effect, next_break=first, cheaper=()))

    def test_so_few_have_no_price(self) -> None:
        effect = replace(ROUND.effect, order=None, next_break=None, cheaper=()) if ROUND.effect else None

        assert "An order of so few credits has no price." in shown(effect=effect)
        assert "price" not in shown(effect=None)

    def test_what_it_became(self) -> None:
        assert ROUND.closing
        closing = replace(ROUND.closing, quantity=500, amount=Decimal("3451.00"), listed=None, left=2, entries=(7, 8))

        told = shown(closing=closing)
        assert "Bought 500 for 3,451.00, paid by " in told
        assert "entries 7, 8; 2 beyond the commitments stay in stock." in told
        assert "(by the ladder 3,450.00)" in shown(closing=replace(closing, listed=Decimal("3450.00")))

    def test_a_step_with_its_reason(self) -> None:
        step = RoundStep(
            round_id="00000003", number=4, step="called_off", made_by="keeper", made_at=AT, reason="prices fall"
        )

        assert "Order round 00000003 called off: prices fall." == lines(show_rounds.step(step, ZONE))


class TestRequests:
    def test_who_needs_how_many_by_when(self) -> None:
        asked = replace(REQUEST, request_id="00000004", member="DOGWOOD", quantity=24, needed_by=AT)

        assert "Credit request 00000004: DOGWOOD needs 24 by 2026-11-20 12:30." == lines(show_rounds.asked(asked, ZONE))

    def test_what_has_become_of_it(self) -> None:
        asked = replace(REQUEST, note="customer waiting", reason=None, lender=None, entry=None)
        open_, taken, withdrawn = (
            replace(asked, state=RequestState.OPEN),
            replace(asked, state=RequestState.TAKEN_UP, lender="BIRCH", entry=17),
            replace(asked, state=RequestState.WITHDRAWN, reason="customer left"),
        )
        _, _, *rows = lines(show_rounds.requests([open_, taken, withdrawn], ZONE)).splitlines()

        assert [["–", "–", "customer waiting"], ["BIRCH", "17", "customer waiting"], ["–", "–", "customer left"]] == [
            [each.strip() for each in row.split("  ") if each][-3:] for row in rows
        ]
        assert ["open", "taken up", "withdrawn"] == [
            next(word for word in ("taken up", "withdrawn", "open") if word in row) for row in rows
        ]


class TestCommands:
    @pytest.mark.parametrize(
        ("said", "meant"),
        [
            ("2026-11-20 12:00", "2026-11-20T11:00:00.000000Z"),
            ("2026-07-20T12:00", "2026-07-20T10:00:00.000000Z"),
            ("2026-11-20 12:00+00:00", "2026-11-20T12:00:00.000000Z"),
            ("2026-11-20T12:00:30Z", "2026-11-20T12:00:30.000000Z"),
            ("17:30", "2026-11-21T16:30:00.000000Z"),
        ],
    )
    def test_a_deadline_is_in_the_time_zone_of_the_pool(self, said: str, meant: str) -> None:
        """Europe/Vienna: an hour before UTC, in summer two; at 23:30 UTC it is the next day there."""
        sent = []

        def serve(request: httpx.Request) -> httpx.Response:
            sent.append(request)
            return answered(request)

        with httpx.Client(transport=httpx.MockTransport(serve)) as http:
            late = datetime(2026, 11, 20, 23, 30, tzinfo=UTC)
            assert 0 == run(["open-round", said], SET, http, now=lambda: late)

        assert [("GET", "riverside"), ("POST", "order-rounds")] == [
            (request.method, request.url.path.rpartition("/")[2]) for request in sent
        ]
        assert meant == json.loads(sent[-1].content)["deadline"]

    @pytest.mark.parametrize("said", ["noon", "2026-11-20", "25:00", "2026-11-31 12:00", "1200-x"])
    def test_what_is_no_day_and_time_is_asked_of_nobody(self, shop: Shop, said: str) -> None:
        assert 2 == shop.run("open-round", said, **SET)
        assert f"{said} is no day and time" in shop.err
        assert [] == shop.requests

    def test_a_commitment_that_is_there_is_changed_by_its_tag(self, shop: Shop) -> None:
        shop.serve = answered

        assert 0 == shop.run("commit", "00000003", "ALDER", "0", **SET)
        assert ["GET", "PUT"] == [request.method for request in shop.requests]
        assert '"3"' == shop.requests[-1].headers["If-Match"]

    def test_the_first_one_has_none(self, shop: Shop) -> None:
        shop.serve = lambda request: problem(404, "not-found") if request.method == "GET" else answered(request)

        assert 0 == shop.run("commit", "00000003", "ALDER", "12", **SET)
        assert "If-Match" not in shop.requests[-1].headers
