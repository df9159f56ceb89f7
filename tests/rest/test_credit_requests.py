"""Requests for credits through the client: asked, seen by those who can serve, taken up once as a loan, expiring."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from pool_client.errors import Missing, NotAllowed, PoolError, Refused
from pool_client.models.directory import Role
from pool_client.models.entries import Command, Loan, Purchase
from pool_client.models.requests import CreditRequest, RequestState

from tests.served import NOON, POOL, SHOPS, Served

BY = NOON + timedelta(hours=5)
REQUEST = "00000001"


@pytest.fixture
def holding(service: Served) -> Served:
    """ALDER holds 30, BIRCH 24, CEDAR 23; every member has a clerk, by its code."""
    for member in SHOPS:
        service.keys[member] = service.book().make_key(name=member, role=Role.CLERK, member=member).secret or ""
    service.book().record_all(
        [
            Command(
                body=Purchase(paid_by=member, into=member, quantity=quantity, amount=Decimal(quantity)),
                effective_on=date(2026, 11, 2),
            )
            for member, quantity in (("ALDER", 30), ("BIRCH", 24), ("CEDAR", 23))
        ]
    )
    return service


@pytest.fixture
def asked(holding: Served) -> Served:
    """DOGWOOD needs 24 credits within five hours."""
    made = holding.book("DOGWOOD").ask(member="DOGWOOD", quantity=24, needed_by=BY, note="customer waiting")
    assert (REQUEST, "DOGWOOD", 24, BY, "customer waiting") == (
        made.request_id, made.member, made.quantity, made.needed_by, made.note,
    )  # fmt: skip
    return holding


def seen(served: Served, key: str = "keeper", *, ended: bool = False) -> list[str]:
    return [each.request_id for each in served.book(key).credit_requests(ended=ended)]


def found(served: Served) -> CreditRequest:
    return served.book().credit_request(request_id=REQUEST)


def code_of(attempt: Any) -> str:
    with pytest.raises(PoolError) as refused:
        attempt()
    return refused.value.code or ""


class TestSeeing:
    def test_those_who_hold_enough_see_it_and_whoever_reads_all(self, asked: Served) -> None:
        keys = ("ALDER", "BIRCH", "CEDAR", "DOGWOOD", "keeper", "reader")

        assert {"ALDER", "BIRCH", "DOGWOOD", "keeper", "reader"} == {key for key in keys if seen(asked, key)}
        assert 24 == asked.book("BIRCH").credit_request(request_id=REQUEST).quantity
        with pytest.raises(Missing):
            asked.book("CEDAR").credit_request(request_id=REQUEST)

    def test_what_is_lent_elsewhere_can_not_be_lent_again(self, asked: Served) -> None:
        asked.book().record(Loan(lender="ALDER", borrower="CEDAR", quantity=7))

        assert [] == seen(asked, "ALDER")
        assert [REQUEST] == seen(asked, "CEDAR")

    def test_it_expires_by_itself(self, asked: Served) -> None:
        asked.clock.at = BY

        assert ([], [REQUEST]) == (seen(asked), seen(asked, ended=True))
        assert RequestState.EXPIRED is found(asked).state
        assert ([], [REQUEST]) == (seen(asked, "BIRCH", ended=True), seen(asked, "DOGWOOD", ended=True))
        assert "request-over" == code_of(lambda: asked.book("BIRCH").take_up(request_id=REQUEST, lender="BIRCH"))
        assert "request-over" == code_of(lambda: asked.book("DOGWOOD").withdraw_request(request_id=REQUEST))

    def test_open_ones_are_found_among_many(self, holding: Served) -> None:
        for quantity in (1, 25, 2, 26, 3):
            holding.book("DOGWOOD").ask(member="DOGWOOD", quantity=quantity, needed_by=BY)
        holding.book().take_up(request_id="00000003", lender="ALDER")

        assert ["00000005", "00000001"] == seen(holding, "BIRCH")
        assert ["00000005", "00000004", "00000002", "00000001"] == seen(holding)
        assert ["00000005", "00000004", "00000003", "00000002", "00000001"] == seen(holding, ended=True)
        page = holding.send("GET", "/credit-requests?limit=1", key="BIRCH").json()
        rest = holding.send("GET", f"/credit-requests?limit=1&cursor={page['next']}", key="BIRCH").json()
        assert (["00000001"], None) == ([each["request_id"] for each in rest["items"]], rest.get("next"))


class TestTakingUp:
    def test_one_of_them_lends_in_one_step(self, asked: Served) -> None:
        entry = asked.book("BIRCH").take_up(
            request_id=REQUEST, lender="BIRCH", note="until Friday", idempotency_key="lend-to-1"
        )

        assert Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24) == entry.body
        assert (f"Credit request {REQUEST}: until Friday", date(2026, 11, 10)) == (entry.note, entry.effective_on)
        assert entry == asked.book("BIRCH").take_up(
            request_id=REQUEST, lender="BIRCH", note="until Friday", idempotency_key="lend-to-1"
        )
        told = found(asked)
        assert (RequestState.TAKEN_UP, "BIRCH", entry.number) == (told.state, told.lender, told.entry)
        assert [REQUEST] == seen(asked, "BIRCH", ended=True)
        assert [] == seen(asked, "ALDER", ended=True)
        assert 4 == asked.book().positions().number
        assert asked.book().verification().sound

    def test_of_many_at_once_one_lends_and_the_others_are_refused(self, asked: Served) -> None:
        def take_up(key: str) -> int:
            body = {"lender": key}
            return asked.send("POST", f"/credit-requests/{REQUEST}/loan", body, key=key).status_code

        with ThreadPoolExecutor(8) as threads:
            answers = list(threads.map(take_up, ["ALDER", "BIRCH"] * 4))

        assert [201] + [409] * 7 == sorted(answers)
        assert 4 == asked.book().positions().number
        assert found(asked).lender in {"ALDER", "BIRCH"}

    def test_taken_up_or_withdrawn_but_not_both(self, asked: Served) -> None:
        def end(key: str) -> int:
            what, body = ("loan", {"lender": key}) if key == "BIRCH" else ("withdrawal", {})
            return asked.send("POST", f"/credit-requests/{REQUEST}/{what}", body, key=key).status_code

        with ThreadPoolExecutor(2) as threads:
            answers = list(threads.map(end, ["BIRCH", "DOGWOOD"]))

        assert [201, 409] == sorted(answers)
        assert (4 if answers[0] == 201 else 3) == asked.book().positions().number

    def test_who_holds_less_leaves_it_open(self, asked: Served) -> None:
        with pytest.raises(Refused) as refused:
            asked.book("CEDAR").take_up(request_id=REQUEST, lender="CEDAR")

        assert "not-enough-held" == refused.value.code
        assert RequestState.OPEN is found(asked).state
        assert 4 == asked.book("BIRCH").take_up(request_id=REQUEST, lender="BIRCH").number

    def test_nobody_lends_what_is_another_members(self, asked: Served) -> None:
        for key in ("DOGWOOD", "ALDER", "reader"):
            with pytest.raises(NotAllowed):
                asked.book(key).take_up(request_id=REQUEST, lender="BIRCH")
        assert "same-member" == code_of(lambda: asked.book("DOGWOOD").take_up(request_id=REQUEST, lender="DOGWOOD"))
        assert "unknown-member" == code_of(lambda: asked.book().take_up(request_id=REQUEST, lender="ELM"))
        with pytest.raises(Missing):
            asked.book("BIRCH").take_up(request_id="00000002", lender="BIRCH")
        assert 3 == asked.book().positions().number


class TestAsking:
    def test_for_ones_own_member_and_an_instant_to_come(self, holding: Served) -> None:
        clerk = holding.book("DOGWOOD")

        with pytest.raises(NotAllowed):
            clerk.ask(member="CEDAR", quantity=24, needed_by=BY)
        assert "too-soon" == code_of(lambda: clerk.ask(member="DOGWOOD", quantity=24, needed_by=NOON))
        assert "unknown-member" == code_of(lambda: holding.book().ask(member="ELM", quantity=24, needed_by=BY))
        assert [] == seen(holding, ended=True)

    def test_asked_again_with_its_key_it_is_one_request(self, holding: Served) -> None:
        said = {"member": "DOGWOOD", "quantity": 24, "needed_by": "2026-11-10T17:00:00Z"}
        made = holding.send("POST", "/credit-requests", said, idempotency_key="ask-for-24")
        holding.book().take_up(request_id=REQUEST, lender="BIRCH")
        again = holding.send("POST", "/credit-requests", said, idempotency_key="ask-for-24")

        assert (201, made.json(), "true") == (again.status_code, again.json(), again.headers["Idempotency-Replayed"])
        assert f"/v1/pools/{POOL}/credit-requests/{REQUEST}" == made.headers["Location"]
        other = holding.send("POST", "/credit-requests", {**said, "quantity": 25}, idempotency_key="ask-for-24")
        assert (422, "key-reused") == (other.status_code, other.json()["code"])

    def test_its_own_clerk_withdraws_it_and_nobody_elses(self, asked: Served) -> None:
        with pytest.raises(NotAllowed):
            asked.book("BIRCH").withdraw_request(request_id=REQUEST)
        keyed = {"request_id": REQUEST, "reason": "customer left", "idempotency_key": "withdraw-1"}
        told = asked.book("DOGWOOD").withdraw_request(**keyed)

        assert (RequestState.WITHDRAWN, "customer left", None) == (told.state, told.reason, told.lender)
        assert told == found(asked) == asked.book("DOGWOOD").withdraw_request(**keyed)
        assert "request-over" == code_of(lambda: asked.book("BIRCH").take_up(request_id=REQUEST, lender="BIRCH"))
        assert 3 == asked.book().positions().number
