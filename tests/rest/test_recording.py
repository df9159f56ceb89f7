"""Recording over HTTP: once per key, all or nothing, and refused with the rule and its figures."""

import threading
from typing import Any

import pytest

from pool_api.rest.routes.recording import PATHS
from tests.served import Served

STOCKED = {"paid_by": "ALDER", "quantity": 100, "amount": "700.00", "effective_on": "2026-09-02"}
DRAWN = {"member": "BIRCH", "quantity": 40, "effective_on": "2026-09-03"}
LENT = {"lender": "BIRCH", "borrower": "CEDAR", "quantity": 10, "effective_on": "2026-09-04"}


@pytest.fixture
def stocked(service: Served) -> Served:
    """100 credits bought, 40 of them BIRCH's, 10 of those lent to CEDAR: entries 1, 2 and 3."""
    for path, body in (("/purchases", STOCKED), ("/draws", DRAWN), ("/loans", LENT)):
        assert 201 == service.send("POST", path, body).status_code
    return service


def head(served: Served) -> int:
    found: int = served.send("GET", "/positions").json()["number"]
    return found


# --- once per key ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [*PATHS.values(), "batches"])
def test_nothing_is_recorded_without_an_idempotency_key(service: Served, path: str) -> None:
    answer = service.send("POST", f"/{path}", {}, idempotency_key=None)

    assert (400, "idempotency-key-missing") == (answer.status_code, answer.json()["code"])


def test_a_repeated_request_gets_the_first_answer_and_records_nothing_more(stocked: Served) -> None:
    first = stocked.send("POST", "/loans", LENT, idempotency_key="loan-0001")
    again = stocked.send("POST", "/loans", {"note": None, **LENT}, idempotency_key='"loan-0001"')

    assert (201, first.content) == (again.status_code, again.content)
    assert "idempotency-replayed" not in first.headers
    assert "true" == again.headers["idempotency-replayed"]
    assert first.headers["location"] == again.headers["location"]
    assert 4 == head(stocked)


def test_a_repeated_refusal_is_the_same_refusal_even_when_it_would_succeed_now(stocked: Served) -> None:
    ask = {"member": "DOGWOOD", "quantity": 61, "effective_on": "2026-09-05"}
    first = stocked.send("POST", "/draws", ask, idempotency_key="draw-0001")
    stocked.send("POST", "/purchases", STOCKED)

    again = stocked.send("POST", "/draws", ask, idempotency_key="draw-0001")

    assert (409, first.content) == (again.status_code, again.content)
    assert 201 == stocked.send("POST", "/draws", ask).status_code


def test_a_key_that_comes_with_other_content_is_refused(stocked: Served) -> None:
    stocked.send("POST", "/loans", LENT, idempotency_key="loan-0001")

    answer = stocked.send("POST", "/loans", {**LENT, "quantity": 11}, idempotency_key="loan-0001")

    assert (422, "key-reused") == (answer.status_code, answer.json()["code"])
    assert 4 == head(stocked)


def test_a_key_counts_for_one_caller_and_one_operation(stocked: Served) -> None:
    draw = {"member": "ALDER", "quantity": 1, "effective_on": "2026-09-05"}

    answers = [
        stocked.send("POST", "/draws", draw, idempotency_key="same-key"),
        stocked.send("POST", "/draws", draw, idempotency_key="same-key", key="clerk"),
        stocked.send(
            "POST",
            "/uses",
            {**draw, "item": "CAL-S", "job": "J-1"},
            idempotency_key="same-key",
        ),
    ]

    assert [201] * 3 == [answer.status_code for answer in answers]
    assert 3 == len({answer.json()["number"] for answer in answers})


def test_one_key_sent_twenty_times_at_once_records_once(stocked: Served) -> None:
    answers: list[tuple[int, bytes]] = []
    start = threading.Barrier(20)

    def ask() -> None:
        start.wait()
        answer = stocked.send("POST", "/loans", LENT, idempotency_key="loan-race")
        answers.append((answer.status_code, answer.content))

    threads = [threading.Thread(target=ask) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert 1 == len(set(answers))
    assert 201 == answers[0][0]
    assert 4 == head(stocked)


def test_a_reference_finds_its_entry_again_however_late_and_refuses_other_content(stocked: Served) -> None:
    asked = {**LENT, "reference": "B-2026-77"}
    first = stocked.send("POST", "/loans", asked)

    again = stocked.send("POST", "/loans", asked)
    other = stocked.send("POST", "/loans", {**asked, "quantity": 9})

    assert first.json() == again.json()
    assert "true" == again.headers["idempotency-replayed"]
    assert (409, "reference-taken", 4) == (other.status_code, other.json()["code"], other.json()["entry"])


# --- batches ---------------------------------------------------------------------------------------------------------


def test_a_batch_is_recorded_wholly_or_not_at_all_and_says_which_command_was_refused(stocked: Served) -> None:
    fine = {"kind": "draw", "member": "ALDER", "quantity": 30, "effective_on": "2026-09-06"}

    refused = stocked.send("POST", "/batches", {"commands": [fine, fine, fine]})

    told = refused.json()
    assert (409, "not-enough-in-stock", 3, 0, 30) == (
        refused.status_code,
        told["code"],
        told["command"],
        told["stock"],
        told["quantity"],
    )
    assert told["detail"].startswith("Command 3: The stock has 0 credits")
    assert 3 == head(stocked)
    recorded = stocked.send("POST", "/batches", {"commands": [fine, fine]})
    assert [4, 5] == [entry["number"] for entry in recorded.json()["entries"]]


def test_a_batch_may_reverse_what_it_has_just_recorded(stocked: Served) -> None:
    draw = {"kind": "draw", "member": "ALDER", "quantity": 30, "effective_on": "2026-09-06"}

    answer = stocked.send("POST", "/batches", {"commands": [draw, {"kind": "reversal", "entry": 4}]})

    assert 201 == answer.status_code
    assert 60 == stocked.send("GET", "/positions").json()["stock"]


def test_a_batch_takes_5000_commands_and_no_more(stocked: Served) -> None:
    one = {"kind": "charge", "from_member": "ALDER", "to_member": "BIRCH", "amount": "0.01", "reason": "courier"}

    most = stocked.send("POST", "/batches", {"commands": [one] * 5_000})
    more = stocked.send("POST", "/batches", {"commands": [one] * 5_001})

    assert (201, 5_000) == (most.status_code, len(most.json()["entries"]))
    assert 422 == more.status_code
    assert 5_003 == head(stocked)


# --- refusals --------------------------------------------------------------------------------------------------------

REFUSALS: dict[str, tuple[str, dict[str, Any], int, str, str]] = {
    "more than is in stock": (
        "draws", {"member": "ALDER", "quantity": 61}, 409, "not-enough-in-stock",
        "The stock has 60 credits; 61 are more than that.",
    ),
    "more than is held": (
        "loans", {"lender": "BIRCH", "borrower": "ALDER", "quantity": 31}, 409, "not-enough-held",
        "BIRCH holds 30 credits; 31 are more than that.",
    ),
    "more than is open": (
        "returns", {"borrower": "CEDAR", "lender": "BIRCH", "quantity": 11}, 409, "not-enough-held",
        "CEDAR holds 10 credits; 11 are more than that.",
    ),
    "returning what was never lent": (
        "returns", {"borrower": "BIRCH", "lender": "CEDAR", "quantity": 1}, 409, "not-enough-open",
        "BIRCH has 0 credits open from CEDAR; 1 are more than that.",
    ),
    "an unknown member": (
        "draws", {"member": "ELM", "quantity": 1}, 409, "unknown-member", "The pool has no member ELM.",
    ),
    "the same member twice": (
        "loans", {"lender": "BIRCH", "borrower": "BIRCH", "quantity": 1}, 422, "same-member",
        "BIRCH stands on both sides; two different members are needed.",
    ),
    "an amount with too many decimals": (
        "purchases", {"paid_by": "ALDER", "quantity": 1, "amount": "7.125"}, 422, "amount-too-precise",
        "The amount 7.125 has more decimals than EUR has (2).",
    ),
    "a day before the pool began": (
        "draws", {"member": "ALDER", "quantity": 1, "effective_on": "2026-08-31"}, 409, "before-pool-began",
        "2026-08-31 is before the pool began on 2026-09-01.",
    ),
    "a day after tomorrow": (
        "draws", {"member": "ALDER", "quantity": 1, "effective_on": "2026-11-12"}, 409, "too-far-ahead",
        "2026-11-12 is after tomorrow; the latest day that can be recorded now is 2026-11-11.",
    ),
    "reversing more than is left": (
        "reversals", {"entry": 2, "quantity": 41}, 409, "more-than-left",
        "Of entry 2, 40 are left to reverse; 41 are more than that.",
    ),
    "reversing what isn't there": (
        "reversals", {"entry": 99}, 404, "entry-not-found", "The journal has no entry 99.",
    ),
    "reversing before the entry": (
        "reversals", {"entry": 3, "effective_on": "2026-09-03"}, 409, "reversal-before-entry",
        "The reversal on 2026-09-03 would come before entry 3, which is of 2026-09-04.",
    ),
    "acknowledging as a stranger": (
        "acknowledgements", {"entry": 3, "member": "DOGWOOD", "verdict": "confirmed"}, 409, "not-other-side",
        "DOGWOOD is not the other side of entry 3; those who can answer it: BIRCH, CEDAR.",
    ),
    "paying a settlement that isn't there": (
        "payments", {"from_member": "ALDER", "to_member": "BIRCH", "amount": "1.00", "pays": "2026-09-1"}, 409,
        "unknown-settlement-payment", "There is no open settlement payment 2026-09-1.",
    ),
    "an opening that doesn't add up": (
        "openings", {"members": [{"member": "ALDER", "due": "5.00"}], "effective_on": "2026-09-01"}, 422,
        "opening-unbalanced",
        "The dues of the opening add up to 500 minor units, the stock cost 0: they must be equal.",
    ),
    "stock moved by somebody else than its custodian": (
        "relocations", {"from_member": "ALDER", "to_member": "ALDER", "quantity": 1}, 422, "same-member",
        "ALDER stands on both sides; two different members are needed.",
    ),
}  # fmt: skip


def test_a_refusal_names_the_rule_and_the_figures_and_writes_nothing(stocked: Served) -> None:
    wrong = []
    for case, (path, body, *expected) in REFUSALS.items():
        answer = stocked.send("POST", f"/{path}", body)
        told = answer.json()
        found = [answer.status_code, told.get("code"), told.get("detail")]
        media_type, number = answer.headers["content-type"], head(stocked)
        if expected != found or media_type != "application/problem+json" or number != 3:
            wrong.append((case, found, media_type, number))

    assert [] == wrong


INVALID: dict[str, tuple[str, dict[str, Any], str]] = {
    "no credits": ("draws", {"member": "ALDER", "quantity": 0}, "#/quantity"),
    "more than a billion": ("draws", {"member": "ALDER", "quantity": 1_000_000_001}, "#/quantity"),
    "half a credit": ("draws", {"member": "ALDER", "quantity": 1.5}, "#/quantity"),
    "credits as text": ("draws", {"member": "ALDER", "quantity": "1"}, "#/quantity"),
    "an amount as a number": ("purchases", {"paid_by": "ALDER", "quantity": 1, "amount": 7.5}, "#/amount"),
    "an unknown member of the body": ("draws", {"member": "ALDER", "quantity": 1, "number": 5}, "#/number"),
    "a note that is too long": ("draws", {"member": "ALDER", "quantity": 1, "note": "x" * 2_001}, "#/note"),
    "a day that isn't one": (
        "draws",
        {"member": "ALDER", "quantity": 1, "effective_on": "2026-02-30"},
        "#/effective_on",
    ),
}


def test_a_request_of_the_wrong_form_is_told_what_is_wrong_where(stocked: Served) -> None:
    wrong = []
    for case, (path, body, pointer) in INVALID.items():
        answer = stocked.send("POST", f"/{path}", body)
        told = answer.json()
        pointers = [finding["pointer"] for finding in told.get("errors", ())]
        found, number = (answer.status_code, told.get("code")), head(stocked)
        if found != (422, "invalid-request") or pointer not in pointers or number != 3:
            wrong.append((case, found, pointers, number))

    assert [] == wrong


def test_a_closed_month_takes_no_entries_but_its_entries_can_be_reversed_in_the_next(stocked: Served) -> None:
    """Own case: 5 of the credits that cost 7.00 each."""
    book = stocked.book()
    book.close(month="2026-09", digest=book.settlement(month="2026-09").digest)

    late = stocked.send("POST", "/draws", {"member": "ALDER", "quantity": 1, "effective_on": "2026-09-30"})
    mended = stocked.send("POST", "/reversals", {"entry": 2, "quantity": 5, "effective_on": "2026-10-02"})

    assert (409, "month-closed", "2026-09") == (
        late.status_code,
        late.json()["code"],
        late.json()["closed_through"],
    )
    assert 201 == mended.status_code
    sheet = {each["member"]: each for each in stocked.send("GET", "/months/2026-10").json()["members"]}
    assert {"quantity": 5, "cost": "35.00"} == sheet["BIRCH"]["reversals_out"]
    assert "35.00" == sheet["BIRCH"]["due"]["reversals"]


def test_reversing_a_purchase_whose_credits_left_cheaper_is_refused_with_the_cost_it_would_leave(
    service: Served,
) -> None:
    # Figures of a bookkeeping program's help page on returns at the old price: 10 at 10, 10 at 12, 10 sold at the
    # average of 11, and the 10 bought at 12 given back would leave no units at a value of -10.
    for quantity, amount in ((10, "100.00"), (10, "120.00")):
        service.send("POST", "/purchases", {**STOCKED, "quantity": quantity, "amount": amount})
    service.send("POST", "/draws", {**DRAWN, "quantity": 10})
    book = service.book()
    book.close(month="2026-09", digest=book.settlement(month="2026-09").digest)

    answer = service.send("POST", "/reversals", {"entry": 2, "effective_on": "2026-10-01"})

    assert (409, "stock-cost-impossible", 0, -1000) == (
        answer.status_code,
        answer.json()["code"],
        answer.json()["credits"],
        answer.json()["cost"],
    )
