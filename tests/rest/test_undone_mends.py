"""A mend that is undone: what it mended is open again and nothing else is, however often; and where that isn't so."""

from datetime import date
from typing import Any

import pytest
from pool_client.models.entries import Loan, Recordable, Reversal
from pool_client.models.vendor import Difference, Reconciliation

from tests.rest.record import BOUGHT, LENT, accept, body, found, give, recorded, september
from tests.served import Served

DAY = date(2026, 9, 8)
SENT = "2026-09-08,Sent,nv-birch,-7,waiting,73,\n"
BACK = "2026-09-08,Received,nv-birch,7,taken back,80,\n"
MEND = 3
"""The entry that the first accepted difference records."""


@pytest.fixture
def differing(service: Served) -> Served:
    """A loan that only ALDER's record shows."""
    give(recorded(service), "ALDER", BOUGHT + LENT + SENT)
    return service


def undo(service: Served, entry: int = MEND, quantity: int | None = None, on: date = DAY) -> None:
    service.book().record(Reversal(entry=entry, quantity=quantity), effective_on=on)


def open_ones(month: Reconciliation) -> list[Difference]:
    return [each for each in month.differences if each.decision is None]


def closings(month: Reconciliation) -> list[tuple[Any, Any]]:
    return [(each.journal.closing, each.record.closing) for each in month.proof]


def test_what_was_mended_is_open_again_and_nothing_else(differing: Served) -> None:
    before, first = september(differing), found(differing, 7)
    accept(differing, first)
    assert [] == open_ones(september(differing))
    undo(differing)

    (again,) = open_ones(september(differing))
    assert ("missing_in_journal", first.rows, first.sentence) == (again.kind, again.rows, again.sentence)
    assert first.mend == again.mend
    assert first.key != again.key
    assert closings(before) == closings(september(differing))


def test_it_is_mended_anew_and_undone_again(differing: Served) -> None:
    keys, entries = set(), []
    for turn in range(3):
        difference = found(differing, 7)
        keys.add(difference.key)
        entry = body(differing, accept(differing, difference, note=f"turn {turn}"))
        entries.append(entry.number)
        assert [] == open_ones(september(differing))
        undo(differing, entry.number)

    assert (3, [3, 5, 7]) == (len(keys), entries)
    assert 1 == september(differing).undecided


def test_what_comes_again_may_be_let_stand(differing: Served) -> None:
    accept(differing, found(differing, 7))
    undo(differing)
    again = found(differing, 7)
    differing.book().decide(month="2026-09", difference=again.key, verdict="dismissed", reason="the vendor is wrong")

    assert 0 == september(differing).undecided
    assert ["dismissed"] == [each.decision.verdict for each in september(differing).differences if each.decision]


def test_the_first_decision_sent_again_records_nothing(differing: Served) -> None:
    first = found(differing, 7)
    told = accept(differing, first).json()
    undo(differing)
    again = accept(differing, first)

    assert (201, [MEND]) == (again.status_code, again.json()["entries"])
    assert told["decided_at"] == again.json()["decided_at"]
    assert (4, 1) == (differing.book().positions().number, september(differing).undecided)


def test_undone_in_parts_it_is_open_only_when_nothing_is_left(differing: Served) -> None:
    accept(differing, found(differing, 7))
    undo(differing, quantity=3)
    assert ["missing_at_vendor"] == [each.kind for each in open_ones(september(differing))]
    undo(differing, quantity=4)

    assert ["missing_in_journal"] == [each.kind for each in open_ones(september(differing))]


def test_a_reversal_of_another_day_is_missing_at_the_vendor(differing: Served) -> None:
    accept(differing, found(differing, 7))
    undo(differing, on=date(2026, 9, 20))

    assert ["missing_at_vendor"] == [each.kind for each in open_ones(september(differing))]


def test_what_the_vendor_took_back_too_is_matched(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + LENT + SENT + BACK)
    sent = next(each for each in open_ones(september(service)) if each.mend and each.mend.fields["giver"] == "ALDER")
    accept(service, sent)
    undo(service)

    assert [] == open_ones(september(service))
    assert [80] == [each.journal.closing for each in september(service).proof if each.member == "ALDER"]


@pytest.mark.parametrize("entry", [Loan(lender="ALDER", borrower="BIRCH", quantity=7)])
def test_what_was_recorded_by_hand_and_undone_stays_as_it_was(differing: Served, entry: Recordable) -> None:
    differing.book().record(entry, effective_on=DAY)
    undo(differing)

    assert ["missing_at_vendor"] == [each.kind for each in open_ones(september(differing))]


def test_of_a_correction_that_is_undone_the_row_is_open(service: Served) -> None:
    give(recorded(service), "ALDER", BOUGHT + "2026-09-03,Sent,nv-cedar,-25,,75,\n")
    _, new = accept(service, found(service, 25)).json()["entries"]
    undo(service, new, on=date(2026, 9, 3))

    (again,) = open_ones(september(service))
    assert ("missing_in_journal", 25) == (again.kind, again.quantity)
    assert 25 == body(service, accept(service, again)).body.quantity
    assert [] == open_ones(september(service))
