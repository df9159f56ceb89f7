"""What people are shown of reconciliations: what needs a word, in whose hands it is, and what was signed off."""

import json
from dataclasses import replace
from datetime import date
from typing import Any

from pool_client import show_mending
from pool_client.calls import mending
from pool_client.calls.call import Answer, Call
from pool_client.models.mending import Answer as Reply
from pool_client.models.mending import Refusal, ToRecord
from pool_client.models.vendor import Mend, Parting
from pool_client.table import Table, plain

from tests.clients.document import OPERATIONS, answer_schema, sample
from tests.clients.samples import DAY


def given(call: Call[Any]) -> Any:
    """Give what a call would give of a service that says all it can."""
    told = sample(answer_schema(OPERATIONS[call.method, call.path]) or {}, full=True)
    return call.understand(Answer(status=200, headers={}, content=json.dumps(told).encode()))


def lines(tables: list[Table]) -> list[str]:
    return [line for table in tables for line in plain(table)]


RECONCILIATION = given(mending.reconciliation("riverside", month="2026-11"))
DEALT_WITH = given(mending.preview_all("riverside", month="2026-11", kind="quantity", verdict="accepted", reason="r"))
ACT = given(mending.take_back("riverside", month="2026-11", match="0" * 64, word="w"))


def test_a_difference_says_what_mends_it_and_what_that_asks_for() -> None:
    fields = {"into": "stock", "order_number": None, "quantity": 500}
    mend = Mend(kind="record_purchase", fields=fields, asks=("paid_by", "amount"))
    difference = replace(RECONCILIATION.differences[0], key="bae5a3cb77", kind="missing_in_journal", mend=mend)
    row = show_mending.reconciliation(replace(RECONCILIATION, differences=(difference,)))[0].rows[0]

    assert ("bae5a3cb", "missing in journal") == row[:2]
    assert "record purchase: into stock, quantity 500; asks paid_by, amount" == row[3]
    without = replace(difference, mend=None, decision=None, handed=None)
    assert ("–", "–") == show_mending.reconciliation(replace(RECONCILIATION, differences=(without,)))[0].rows[0][3:]


def test_matches_that_are_in_doubt_are_shown_with_their_reasons() -> None:
    sure = replace(RECONCILIATION.matches[0], status="matched")
    doubtful = replace(RECONCILIATION.matches[0], status="suggested", key="c0ffee1234")
    found = replace(RECONCILIATION, matches=(sure, doubtful, doubtful), suggested=2, undecided=1)
    tables = show_mending.reconciliation(found)

    assert "1 matched, 2 suggested, 1 to decide." in tables[0].words
    assert ["c0ffee12"] * 2 == [row[0] for row in tables[1].rows]
    titles = [table.title for table in show_mending.reconciliation(replace(RECONCILIATION, matches=(sure,)))]
    assert "Suggested matches" not in titles


def test_a_proof_says_where_journal_and_record_part() -> None:
    parting = Parting(day=DAY, journal_balance=1_024, record_balance=1_000, keys=())
    proof = replace(RECONCILIATION.proof[0], member="ALDER", parting=parting)
    table = show_mending.reconciliation(replace(RECONCILIATION, proof=(proof,)))[-1]

    assert [("ALDER", "journal"), ("ALDER", "record")] == [row[:2] for row in table.rows]
    assert "ALDER: journal 1,024, record 1,000 at the end of 2026-11-03." == table.words[0]


def test_a_difference_in_a_members_hands_says_whose_and_what_was_answered() -> None:
    handed = replace(ACT, act="handed", member="CEDAR", answer=None)
    answered = replace(ACT, act="answered", member="CEDAR", answer=Reply.MEND, fields={"kind": "return"}, word="yes")
    open_ = replace(RECONCILIATION.differences[0], decision=None, handed=(handed,))

    def told(difference: Any) -> str:
        rows = show_mending.reconciliation(replace(RECONCILIATION, differences=(difference,)))[0].rows
        return rows[0][4]

    assert "with CEDAR" == told(open_)
    assert "with CEDAR, who says: mend (kind return), yes" == told(replace(open_, handed=(handed, answered)))
    assert "–" == told(replace(open_, handed=None))


def test_a_sign_off_says_what_it_was_signed_with_and_whether_that_still_holds() -> None:
    def told(**changed: bool) -> str:
        signed = replace(RECONCILIATION.sign_off, entry=42, **changed)
        return show_mending.reconciliation(replace(RECONCILIATION, sign_off=signed))[-1].words[-2]

    assert "Signed off by entry 42." == told(accepted_open=False, changed=False)
    assert "Signed off by entry 42 although not all was decided." == told(accepted_open=True, changed=False)
    assert "Signed off by entry 42; it has changed since." == told(accepted_open=False, changed=True)
    unsigned = lines(show_mending.reconciliation(replace(RECONCILIATION, sign_off=None)))
    assert not any(line.startswith("Signed off") for line in unsigned)
    assert f"Digest: {RECONCILIATION.digest}" in unsigned


def test_what_becomes_of_all_of_a_kind_is_told_one_by_one() -> None:
    record = ToRecord(kind="loan", effective_on=date(2026, 11, 3), note="", body={"lender": "ALDER", "quantity": 5})
    done = replace(DEALT_WITH.differences[0], records=(record,), entries=(7,), refusal=None)
    refused = replace(done, records=(), entries=(), refusal=Refusal(code="mend-incomplete", detail="State paid_by."))
    found = replace(DEALT_WITH, differences=(done, refused), verdict="accepted", left=0)

    (table,) = show_mending.decided(found)
    assert "entry 7: loan of 2026-11-03, lender ALDER, quantity 5" == table.rows[0][2]
    assert "refused: State paid_by." == table.rows[1][2]
    assert ("1 accepted, 1 refused and left undecided.",) == table.words
    preview = show_mending.previewed(replace(found, left=3))[0]
    assert ("3 more are left for another time.", "Nothing is recorded yet; say --record to do it.") == preview.words[1:]


def test_nothing_in_hand_is_said_in_a_word() -> None:
    assert ["Differences in hand", "None."] == lines(show_mending.handed([]))
