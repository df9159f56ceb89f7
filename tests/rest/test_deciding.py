"""Deciding on differences: all of a kind, first seen and then done; and mends that are changed before accepting."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client.models.entries import Draw, Loan, Outside, Purchase, Return, Reversal, Use

from tests.rest.record import BOUGHT, LENT, MONTH, accept, body, found, give, recorded, september
from tests.served import POOL, Served

MISSING = (
    "2026-09-08,Sent,nv-birch,-7,waiting,73,\n"
    "2026-09-09,Sent,nv-dogwood,-9,,64,\n"
    "2026-09-10,Unlock,,-3,gearbox,61,\n"
    "2026-09-20,Top-up,,50,,111,350.00\n"
)
ALL = {"kind": "missing_in_journal", "verdict": "accepted", "reason": "as the vendor shows"}


@pytest.fixture
def differing(service: Served) -> Served:
    """Two loans, a use and a purchase that only ALDER's record shows."""
    give(recorded(service), "ALDER", BOUGHT + LENT + MISSING)
    return service


def ask_all(service: Served, how: str, key: str = "", **more: Any) -> Any:
    return service.send("POST", f"/reconciliations/{MONTH}/decisions/{how}", {**ALL, **more}, idempotency_key=key)


def told(answer: Any) -> list[tuple[str, list[int]]]:
    """Give what becomes of each difference: the kinds that are recorded, or the refusal's code; and the numbers."""
    found = []
    for each in answer.json()["differences"]:
        kinds = "+".join(said["kind"] for said in each["records"])
        found.append((each["refusal"]["code"] if "refusal" in each else kinds, each["entries"]))
    return found


def test_what_all_of_a_kind_would_record_is_seen_before_and_records_nothing(differing: Served) -> None:
    before = (differing.book().positions().number, september(differing).undecided)

    seen = ask_all(differing, "preview")

    assert 200 == seen.status_code
    assert [("loan", []), ("loan", []), ("mend-incomplete", []), ("mend-incomplete", [])] == told(seen)
    first, *_, last = seen.json()["differences"]
    assert {"lender": "ALDER", "borrower": "BIRCH", "quantity": 7} == first["records"][0]["body"]
    assert "waiting" == first["records"][0]["note"]
    assert "paid_by" in last["refusal"]["detail"]
    assert before == (differing.book().positions().number, september(differing).undecided)


def test_all_of_a_kind_are_recorded_and_what_needs_more_stays_undecided(differing: Served) -> None:
    done = ask_all(differing, "all")

    assert (201, f"/v1/pools/{POOL}/reconciliations/{MONTH}") == (done.status_code, done.headers["location"])
    assert [("loan", [3]), ("loan", [4]), ("mend-incomplete", []), ("mend-incomplete", [])] == told(done)
    left = september(differing)
    assert {(3, "record_use"), (50, "record_purchase")} == {
        (each.quantity, each.mend.kind) for each in left.differences if each.mend
    }
    assert 2 == left.undecided


def test_what_all_are_given_goes_to_those_that_ask_for_it(differing: Served) -> None:
    given = {"paid_by": "ALDER", "item": "CAL-S", "job": "A-1001"}
    assert ["loan", "loan", "use", "purchase"] == [
        kind for kind, _ in told(ask_all(differing, "preview", fields=given))
    ]

    done = ask_all(differing, "all", fields=given)

    assert [("loan", [3]), ("loan", [4]), ("use", [5]), ("purchase", [6])] == told(done)
    assert (0, ()) == (september(differing).undecided, september(differing).differences)
    assert [True] == [proof.balanced for proof in september(differing).proof]


def test_asked_again_with_the_same_key_the_answer_is_the_same_and_nothing_more_is_recorded(differing: Served) -> None:
    first = ask_all(differing, "all", key="all-of-september")
    again = ask_all(differing, "all", key="all-of-september")
    other = ask_all(differing, "all", key="all-of-september", reason="another")

    assert first.json() == again.json()
    assert "true" == again.headers["idempotency-replayed"]
    assert (422, "key-reused") == (other.status_code, other.json()["code"])
    assert 4 == differing.book().positions().number


THIRTY = "2026-09-08,Received,nv-alder,30,,10,\n"


def test_what_one_needs_may_be_what_a_later_one_brings(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + LENT + "2026-09-08,Sent,nv-cedar,-30,,50,\n")
    give(service, "CEDAR", "2026-09-03,Received,nv-alder,20,,20,\n2026-09-05,Sent,nv-dogwood,-40,,-20,\n" + THIRTY)

    assert ["loan", "loan"] == [kind for kind, _ in told(ask_all(service, "preview"))]
    done = ask_all(service, "all")

    assert [("loan", [4]), ("loan", [3])] == told(done)
    assert [40, 30] == [each["records"][0]["body"]["quantity"] for each in done.json()["differences"]]


def test_what_the_journal_refuses_is_told_before_and_after_with_its_reason(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + LENT + "2026-09-08,Sent,nv-birch,-90,,-10,\n")

    assert [("not-enough-held", [])] == told(ask_all(service, "preview"))
    assert [("not-enough-held", [])] == told(ask_all(service, "all"))
    assert (1, 2) == (september(service).undecided, service.book().positions().number)


def test_all_of_a_kind_are_dismissed_and_others_are_not(differing: Served) -> None:
    differing.book().record(Loan(lender="CEDAR", borrower="BIRCH", quantity=2), effective_on=date(2026, 9, 12))
    give(differing, "CEDAR", "2026-09-03,Received,nv-alder,20,,20,\n")
    dismissed = {"verdict": "dismissed", "reason": "looked into"}

    seen = ask_all(differing, "preview", **dismissed)
    assert 4 == len(seen.json()["differences"])
    assert 5 == september(differing).undecided
    ask_all(differing, "all", **dismissed)

    left = september(differing)
    assert 1 == left.undecided
    assert {("missing_in_journal", "dismissed"), ("missing_at_vendor", None)} == {
        (each.kind, each.decision and each.decision.verdict) for each in left.differences
    }


# --- changed before it is accepted -----------------------------------------------------------------------------------


def test_what_a_mend_offers_is_told_in_the_words_in_which_it_may_be_changed(differing: Served) -> None:
    offered = {each.quantity: dict(each.mend.fields) for each in september(differing).differences if each.mend}

    assert {"giver": "ALDER", "receiver": "BIRCH", "quantity": 7, "effective_on": "2026-09-08", "note": "waiting"} == (
        offered[7]
    )
    assert ("ALDER", "gearbox") == (offered[3]["member"], offered[3]["note"])
    assert ("ALDER", "350.00") == (offered[50]["into"], offered[50]["amount"])
    told_back = accept(differing, found(differing, 7), **offered[7])
    assert Loan(lender="ALDER", borrower="BIRCH", quantity=7) == body(differing, told_back).body


def test_a_transfer_may_have_been_a_return(differing: Served) -> None:
    differing.book().record(Loan(lender="CEDAR", borrower="ALDER", quantity=8), effective_on=date(2026, 9, 4))
    give(differing, "ALDER", "2026-09-04,Received,nv-cedar,8,,88,\n2026-09-11,Sent,nv-cedar,-8,,53,\n")

    mended = body(differing, accept(differing, found(differing, 8), kind="return"))

    assert Return(borrower="ALDER", lender="CEDAR", quantity=8) == mended.body


def test_a_transfer_from_the_stocks_account_may_have_been_a_draw(service: Served) -> None:
    terms = service.send("GET", f"/v1/pools/{POOL}")
    changed = {name: value for name, value in terms.json().items() if name != "id"} | {"custodian": "ALDER"}
    assert 200 == service.send("PUT", f"/v1/pools/{POOL}", changed, If_Match=terms.headers["etag"]).status_code
    recorded(service)
    stock = Purchase(paid_by="ALDER", quantity=10, amount=Decimal("70.00"))
    service.book().record(stock, effective_on=date(2026, 9, 2))
    give(service, "ALDER", BOUGHT + LENT + MISSING + "2026-09-02,Top-up,,10,,110,70.00\n")

    assert Draw(member="BIRCH", quantity=7) == body(service, accept(service, found(service, 7), kind="draw")).body


def test_a_transfer_from_another_account_was_no_draw(differing: Served) -> None:
    refused = accept(differing, found(differing, 7), kind="draw")

    assert (422, "mend-unfit") == (refused.status_code, refused.json()["code"])
    assert "which nobody has" in refused.json()["detail"]


def test_quantity_day_note_and_sides_may_be_others(differing: Served) -> None:
    said: dict[str, Any] = {
        "quantity": 6,
        "effective_on": "2026-09-07",
        "note": "six, by phone",
        "giver": "ALDER",
        "receiver": "DOGWOOD",
    }

    mended = body(differing, accept(differing, found(differing, 7), **said))

    assert Loan(lender="ALDER", borrower="DOGWOOD", quantity=6) == mended.body
    assert (date(2026, 9, 7), "six, by phone") == (mended.effective_on, mended.note)


def test_a_purchase_may_have_gone_elsewhere_and_a_use_be_anothers(differing: Served) -> None:
    bought = body(differing, accept(differing, found(differing, 50), paid_by="BIRCH", into="BIRCH", amount="351.00"))
    used = body(
        differing, accept(differing, found(differing, 3), member="CEDAR", item="CAL-S", job="C-1", price="9.00")
    )

    assert Purchase(into="BIRCH", paid_by="BIRCH", quantity=50, amount=Decimal("351.00")) == bought.body
    assert Use(member="CEDAR", quantity=3, item="CAL-S", job="C-1", price=Decimal("9.00")) == used.body


def test_credits_from_outside_may_have_come_to_less(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + LENT + "2026-09-09,Received,nv-9999,6,,86,\n")

    mended = body(service, accept(service, found(service, 6), amount="40.00", party="a shop in Farhollow", quantity=5))

    assert ("in", "a shop in Farhollow", 5) == (mended.body.direction, mended.body.party, mended.body.quantity)
    assert isinstance(mended.body, Outside)


def test_a_correction_and_a_reversal_may_say_otherwise(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + "2026-09-03,Sent,nv-cedar,-25,,75,\n")
    difference = found(service, 25)
    assert ("quantity", "correct") == (difference.kind, difference.mend and difference.mend.kind)

    answer = accept(service, difference, quantity=22, note="counted again")

    old, new = (service.book().entry(number=number).entry for number in answer.json()["entries"])
    assert Reversal(entry=2, quantity=20, still_open=None) == old.body
    assert (Loan(lender="ALDER", borrower="CEDAR", quantity=22), "counted again") == (new.body, new.note)


@pytest.mark.parametrize(
    ("quantity", "fields", "words"),
    [
        (7, {"paid_by": "ALDER"}, "not paid_by"),
        (7, {"item": "CAL-S", "job": "A-1"}, "not item, job"),
        (50, {"paid_by": "ALDER", "giver": "BIRCH"}, "not giver"),
        (3, {"item": "CAL-S", "job": "A-1", "member": "ZEBRA"}, "ZEBRA is neither a member"),
    ],
)
def test_what_a_mend_does_not_take_is_refused_and_nothing_written(
    differing: Served, quantity: int, fields: dict[str, str], words: str
) -> None:
    refused = accept(differing, found(differing, quantity), **fields)

    assert (422, "mend-unfit") == (refused.status_code, refused.json()["code"])
    assert words in refused.json()["detail"]
    assert (2, 4) == (differing.book().positions().number, september(differing).undecided)
