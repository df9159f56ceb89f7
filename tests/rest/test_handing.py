"""A difference in a member's hands: its clerks see it and the rows it speaks of, answer, and the keeper decides."""

from typing import Any

import pytest
from pool_client.models.entries import Return
from pool_client.models.mending import Answer
from pool_client.models.vendor import HandedDifference

from tests.rest.record import BOUGHT, LENT, MONTH, body, found, give, recorded, september
from tests.served import Served


@pytest.fixture
def differing(service: Served) -> Served:
    """Two transfers that only ALDER's record shows: 12 from CEDAR, who has borrowed 20, and 5 to BIRCH."""
    rows = "2026-09-10,Received,nv-cedar,12,half of it,92,\n2026-09-11,Sent,nv-birch,-5,,87,\n"
    give(recorded(service), "ALDER", BOUGHT + LENT + rows)
    return service


def hand(service: Served, quantity: int, member: str | None = "CEDAR", **more: Any) -> Any:
    asked = {"difference": found(service, quantity).key, "member": member, "word": "what was this?", **more}
    return service.send("POST", f"/reconciliations/{MONTH}/handings", asked)


def in_hands(service: Served, key: str) -> list[HandedDifference]:
    return list(service.book(key).handed())


def answer(service: Served, difference: str, key: str = "cedar", **more: Any) -> Any:
    asked = {"difference": difference, "answer": "mend", "fields": {"kind": "return"}, "word": "half of it", **more}
    return service.send("POST", f"/reconciliations/{MONTH}/answers", asked, key=key)


def decide(service: Served, difference: str, verdict: str = "accepted", **more: Any) -> Any:
    asked = {"difference": difference, "verdict": verdict, "reason": "as CEDAR says", "as_answered": True, **more}
    return service.send("POST", f"/reconciliations/{MONTH}/decisions", asked)


def test_a_clerk_sees_what_its_member_was_handed_and_the_rows_of_that_alone(differing: Served) -> None:
    assert 201 == hand(differing, 12).status_code
    hand(differing, 5, "BIRCH")

    (seen,) = in_hands(differing, "cedar")

    assert (MONTH, "CEDAR", 12) == (seen.month, seen.member, seen.difference.quantity)
    assert [("nv-alder", 12, "half of it")] == [(row.account, row.quantity, row.note) for row in seen.rows]
    assert [("handed", "CEDAR", "what was this?")] == [
        (act.act, act.member, act.word) for act in seen.difference.handed or ()
    ]
    assert [] == in_hands(differing, "clerk")
    assert [] == list(differing.book("cedar").handed(member="BIRCH"))
    assert ["CEDAR", "BIRCH"] == [each.member for each in in_hands(differing, "keeper")]
    assert ["BIRCH"] == [each.member for each in differing.book("reader").handed(member="BIRCH")]
    assert 403 == differing.send("GET", f"/reconciliations/{MONTH}", key="cedar").status_code


def test_a_handed_difference_stays_open(differing: Served) -> None:
    before = september(differing).undecided
    hand(differing, 12)

    assert before == september(differing).undecided
    assert ["CEDAR"] == [act.member for act in found(differing, 12).handed or ()]
    assert None is found(differing, 5).handed


def test_the_keeper_accepts_what_the_member_answers(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key

    answered = answer(differing, key)
    assert (201, "answered", "CEDAR") == (answered.status_code, answered.json()["act"], answered.json()["member"])
    assert Answer.MEND == (found(differing, 12).handed or ())[-1].answer
    mended = body(differing, decide(differing, key))

    assert Return(borrower="CEDAR", lender="ALDER", quantity=12) == mended.body
    assert [] == in_hands(differing, "cedar")
    assert [5] == [each.quantity for each in september(differing).differences]


def test_what_the_keeper_states_besides_goes_before_what_was_answered(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    answer(differing, key, fields={"kind": "return", "note": "by phone"})

    mended = body(differing, decide(differing, key, fields={"note": "in the shop"}))

    assert ("in the shop", "return") == (mended.note, mended.kind)


def test_a_mistake_of_the_vendors_is_dismissed_as_answered(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    answer(differing, key, answer="vendor_mistaken", fields={})

    refused = decide(differing, key)
    assert (409, "answer-missing") == (refused.status_code, refused.json()["code"])
    assert 201 == decide(differing, key, "dismissed").status_code
    assert [] == in_hands(differing, "cedar")


def test_without_an_answer_nothing_is_decided_by_it(differing: Served) -> None:
    key = found(differing, 12).key
    assert "answer-missing" == decide(differing, key).json()["code"]
    hand(differing, 12)
    assert "answer-missing" == decide(differing, key).json()["code"]
    answer(differing, key, answer="other", fields={}, word="I'll ask")
    assert "answer-missing" == decide(differing, key).json()["code"]

    assert 2 == september(differing).undecided


def test_it_is_handed_on_and_back_and_what_was_said_stays(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    answer(differing, key, answer="other", fields={}, word="ask BIRCH")
    hand(differing, 12, "BIRCH")

    assert [] == in_hands(differing, "cedar")
    assert (404, "not-found") == (answer(differing, key).status_code, answer(differing, key).json()["code"])
    (seen,) = in_hands(differing, "keeper")
    assert ["handed", "answered", "handed"] == [act.act for act in seen.difference.handed or ()]
    assert "answer-missing" == decide(differing, key).json()["code"]

    assert "member" not in hand(differing, 12, None).json()
    assert [] == in_hands(differing, "keeper")
    assert None is found(differing, 12).handed


def test_a_later_answer_counts_and_the_same_request_is_one(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    asked = {"difference": key, "answer": "other", "word": "wait"}
    address = f"/reconciliations/{MONTH}/answers"
    first = differing.send("POST", address, asked, key="cedar", idempotency_key="answer-of-cedar")
    answer(differing, key)
    again = differing.send("POST", address, asked, key="cedar", idempotency_key="answer-of-cedar")

    assert first.json() == again.json()
    assert ["other", "mend"] == [act.answer for act in (found(differing, 12).handed or ())[1:]]


def test_who_may_hand_over_and_answer(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    handing = {"difference": key, "member": "BIRCH"}

    assert 403 == differing.send("POST", f"/reconciliations/{MONTH}/handings", handing, key="cedar").status_code
    assert 403 == differing.send("POST", f"/reconciliations/{MONTH}/handings", handing, key="reader").status_code
    assert 403 == answer(differing, key, key="reader").status_code
    assert 404 == answer(differing, key, key="clerk").status_code
    assert 404 == answer(differing, found(differing, 5).key).status_code
    assert 201 == answer(differing, key, key="keeper").status_code


@pytest.mark.parametrize(
    ("more", "status", "code"),
    [({"member": "ZEBRA"}, 409, "unknown-member"), ({"difference": "0" * 64}, 404, "not-found")],
)
def test_what_can_not_be_handed_over(differing: Served, more: dict[str, str], status: int, code: str) -> None:
    refused = hand(differing, 12, **more)

    assert (status, code) == (refused.status_code, refused.json()["code"])


def test_a_decided_difference_is_neither_handed_over_nor_answered(differing: Served) -> None:
    hand(differing, 12)
    key = found(differing, 12).key
    decide(differing, key, "dismissed", as_answered=False)

    assert "already-decided" == hand(differing, 12).json()["code"]
    assert "already-decided" == answer(differing, key).json()["code"]
