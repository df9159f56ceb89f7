"""Whatever order the steps of two requests at two servers come in, the outcome is one of those that are allowed.

Source: the method is that of PostgreSQL's isolation tests: named steps of two sessions, in every order."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

import httpx
import pytest

from tests.databases import Database
from tests.rest.exported import HEADER, exported
from tests.rest.stepping import STEPS, Session, interleaved, orders
from tests.served import POOL, Served, serving

MONTH = "2026-09"
ON = "2026-09-05"


@dataclass(frozen=True, slots=True)
class Two:
    """Two services on one database, and their sessions."""

    one: Served
    other: Served
    sessions: tuple[Session, Session]

    def race(self, order: str, first: "Asked", second: "Asked") -> list[httpx.Response]:
        """Send a request to each."""
        asks = [lambda: first.sent_to(self.one), lambda: second.sent_to(self.other)]
        answers: list[httpx.Response] = interleaved(self.sessions, asks, order)
        return answers

    def head(self) -> int:
        found: int = self.one.send("GET", "/positions").json()["number"]
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A request to come."""

    path: str
    body: Any
    key: str = field(default_factory=lambda: uuid4().hex)

    def sent_to(self, served: Served) -> httpx.Response:
        if isinstance(self.body, str):
            return served.http.post(
                f"/v1/pools/{POOL}{self.path}",
                content=self.body.encode(),
                headers={
                    "Authorization": f"Bearer {served.keys['keeper']}",
                    "Content-Type": "text/csv",
                    "Idempotency-Key": self.key,
                },
            )
        return served.send("POST", self.path, self.body, idempotency_key=self.key)


@pytest.fixture
def two(service: Served, database: Database) -> Iterator[Two]:
    exported(service)
    with serving(database.url, database.prepared) as other:
        yield Two(service, other, (Session(service.office.engine), Session(other.office.engine)))


def codes(answers: list[httpx.Response]) -> list[Any]:
    return sorted(str(answer.json().get("code", answer.status_code)) for answer in answers)


def test_every_order_is_tried_and_stops_where_it_matters(two: Two) -> None:
    tried = list(orders())
    draw = {"member": "ALDER", "quantity": 1, "effective_on": ON}
    two.race("aaabbb", Asked(path="/draws", body=draw), Asked(path="/draws", body=draw))

    assert 20 == len(set(tried))
    assert {STEPS} == {order.count("a") for order in tried}
    assert [STEPS, STEPS] == [session.begun for session in two.sessions]


def test_the_last_credit_has_one_taker(two: Two) -> None:
    draw = {"member": "DOGWOOD", "quantity": 50, "effective_on": ON}
    back = {"into": "stock", "paid_by": "ALDER", "quantity": 50, "amount": "350.00", "effective_on": ON}
    for order in orders():
        before = two.head()

        assert ["201", "not-enough-in-stock"] == codes(
            two.race(order, Asked(path="/draws", body=draw), Asked(path="/draws", body=draw))
        ), order
        assert before + 1 == two.head()
        two.one.send("POST", "/purchases", back, idempotency_key=uuid4().hex)
    assert two.one.book().verification().sound


@pytest.mark.parametrize("other", [2, 3], ids=["the same", "something else"])
def test_one_key_is_one_entry(two: Two, other: int) -> None:
    for place, order in enumerate(orders()):
        before, key = two.head(), f"key-{place:06d}"
        body = {"member": "BIRCH", "item": "CAL", "job": "J", "effective_on": ON}
        asked = [Asked(path="/uses", body={**body, "quantity": quantity}, key=key) for quantity in (2, other)]
        answers = two.race(order, *asked)

        assert (["201", "201"] if other == 2 else ["201", "key-reused"]) == codes(answers), order
        assert before + 1 == two.head()
        made = next(answer for answer in answers if answer.status_code == 201)
        two.one.send(
            "POST", "/reversals", {"entry": made.json()["number"], "effective_on": ON}, idempotency_key=uuid4().hex
        )
    assert two.one.book().verification().sound


def test_a_month_closes_with_an_entry_in_it_or_the_entry_is_too_late(two: Two) -> None:
    use = {"member": "BIRCH", "quantity": 1, "item": "CAL", "job": "J", "effective_on": ON}
    met = set()
    for order in orders():
        digest = two.one.send("GET", f"/months/{MONTH}/settlement").json()["digest"]
        close = Asked(path=f"/months/{MONTH}/close", body={"digest": digest})
        outcome = codes(two.race(order, close, Asked(path="/uses", body=use)))
        met.add(tuple(outcome))

        assert outcome in (["201", "month-closed"], ["201", "preview-stale"]), order
        if "month-closed" in outcome:
            assert (
                201
                == two.other.send(
                    "POST", f"/months/{MONTH}/reopening", {"reason": "again"}, idempotency_key=uuid4().hex
                ).status_code
            )
    assert 2 == len(met)
    assert two.one.book().verification().sound


def test_one_file_brought_in_twice_at_once_doubles_nothing(two: Two) -> None:
    for place, order in enumerate(orders()):
        file = f"{HEADER}2026-09-{place + 3:02d},Sent,nv-birch,-1,,\n"
        asked = [
            Asked(path="/vendor-records?member=ALDER&profile=norvane", body=file, key=f"file-{place}-{name}")
            for name in ("a", "b")
        ]
        answers = two.race(order, *asked)

        assert ["201", "201"] == codes(answers), order
        assert 1 == sum(answer.json()["rows_new"] for answer in answers), order
