"""Requests for credits: how far they have come, whose they are, and the loan that they ask for."""

import pytest

from pool_api.domain.arrangements import Step, StepKind
from pool_api.domain.entries import Loan
from pool_api.domain.errors import RequestOver
from pool_api.domain.requests import CreditRequest, RequestState, request_of

EARLY, NOON, LATE = (f"2026-11-20T{hour}:00:00.000000Z" for hour in (10, 11, 12))
ASKED = Step(
    number=1,
    kind=StepKind.ASKED,
    member="DOGWOOD",
    until=NOON,
    content={"quantity": 24, "note": ""},
    made_by="clerk/DOGWOOD/k1",
    made_at=EARLY,
)


def ended(kind: StepKind, member: str | None = None) -> CreditRequest:
    step = Step(number=2, kind=kind, member=member, content={}, made_by="keeper/-/k1", made_at=EARLY)
    return request_of("00000001", [ASKED, step])


OPEN = request_of("00000001", [ASKED])
TAKEN = ended(StepKind.TAKEN_UP, "BIRCH")
WITHDRAWN = ended(StepKind.WITHDRAWN)


def test_it_expires_by_itself_and_its_instant_is_too_late() -> None:
    states = [OPEN.state(at) for at in (EARLY, NOON, LATE)]

    assert [RequestState.OPEN, RequestState.EXPIRED, RequestState.EXPIRED] == states
    OPEN.permit_end(EARLY)
    with pytest.raises(RequestOver, match="is expired"):
        OPEN.permit_end(NOON)


@pytest.mark.parametrize(("found", "word"), [(TAKEN, "taken up"), (WITHDRAWN, "withdrawn")])
def test_what_has_ended_stays_so(found: CreditRequest, word: str) -> None:
    assert found.state(EARLY) is found.state(LATE)
    with pytest.raises(RequestOver, match=f"is {word}"):
        found.permit_end(EARLY)


def test_all_of_it_is_lent() -> None:
    assert Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24) == OPEN.loan_of("BIRCH")


@pytest.mark.parametrize(
    ("found", "member", "held", "at", "concerned"),
    [
        (OPEN, "BIRCH", 24, EARLY, True),
        (OPEN, "BIRCH", 23, EARLY, False),
        (OPEN, "BIRCH", 24, NOON, False),
        (OPEN, "DOGWOOD", 0, NOON, True),
        (TAKEN, "BIRCH", 0, LATE, True),
        (TAKEN, "CEDAR", 99, EARLY, False),
        (TAKEN, "DOGWOOD", 0, EARLY, True),
        (WITHDRAWN, "CEDAR", 99, EARLY, False),
    ],
)
def test_it_concerns_its_sides_and_while_it_is_open_those_who_hold_enough(
    found: CreditRequest, member: str, held: int, at: str, *, concerned: bool
) -> None:
    assert concerned is found.concerns(member, held, at)
