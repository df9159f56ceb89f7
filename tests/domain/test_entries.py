"""How a fact is written down for good: bodies to JSON and back, canonical bytes, and the chain of hashes."""

import json
from dataclasses import replace
from datetime import date

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.entries import (
    Acknowledgement,
    Body,
    Charge,
    Close,
    Command,
    Direction,
    Draw,
    Loan,
    Opening,
    OpeningLoan,
    OpeningMember,
    Outside,
    Payment,
    Purchase,
    Relocation,
    Reopening,
    Return,
    Reversal,
    SignedAccount,
    SignOff,
    Use,
    Verdict,
    WriteOff,
    WriteOffReason,
    body_json,
    canonical,
    parties,
)
from pool_api.domain.hashing import GENESIS, chained, entry_hash
from pool_api.store.facts import told

EVERY_BODY: tuple[tuple[Body, tuple[str, ...]], ...] = (
    (
        Opening(
            members=(OpeningMember(member="ALDER", held=5, cost=3500, due=-20),),
            stock_quantity=1,
            stock_cost=-20,
            loans=(OpeningLoan(lender="ALDER", borrower="BIRCH", quantity=2),),
        ),
        (),
    ),
    (Purchase(into="stock", paid_by="ALDER", quantity=500, amount=345_000, order_number="N-1"), ("ALDER",)),
    (Purchase(into="BIRCH", paid_by="ALDER", quantity=5, amount=3_500), ("ALDER", "BIRCH")),
    (Purchase(into="ALDER", paid_by="ALDER", quantity=5, amount=3_500), ("ALDER",)),
    (Draw(member="BIRCH", quantity=150), ("BIRCH",)),
    (Loan(lender="BIRCH", borrower="DOGWOOD", quantity=24, unit_price="7.25"), ("BIRCH", "DOGWOOD")),
    (Return(borrower="DOGWOOD", lender="BIRCH", quantity=10), ("DOGWOOD", "BIRCH")),
    (Use(member="ALDER", quantity=96, item="CAL-M", job="J-1", price=90_000, off_road_only=True), ("ALDER",)),
    (WriteOff(holder="stock", quantity=1, reason=WriteOffReason.EXPIRED), ()),
    (WriteOff(holder="ALDER", quantity=1, reason=WriteOffReason.LOST), ("ALDER",)),
    (Outside(member="CEDAR", direction=Direction.IN, party="a shop", quantity=5, amount=10), ("CEDAR",)),
    (Relocation(from_member="ALDER", to_member="BIRCH", quantity=9), ("ALDER", "BIRCH")),
    (Charge(from_member="ALDER", to_member="BIRCH", amount=1, reason="courier"), ("ALDER", "BIRCH")),
    (Payment(from_member="ALDER", to_member="BIRCH", amount=1, pays="2026-09-1"), ("ALDER", "BIRCH")),
    (Payment(from_member="ALDER", to_member="BIRCH", amount=9, pays="2026-09-1", beyond=2), ("ALDER", "BIRCH")),
    (Reversal(entry=3, quantity=2), ()),
    (Reversal(entry=3, quantity=2, still_open=True), ()),
    (Acknowledgement(entry=3, member="ALDER", verdict=Verdict.DISPUTED), ("ALDER",)),
    (Close(month="2026-09", computed_at=9, digest="d" * 64, sheet={"a": 1}, settlement={"payments": []}), ()),
    (Reopening(month="2026-09", reason="an invoice came late"), ()),
    (
        SignOff(
            month="2026-09",
            digest="d" * 64,
            accounts=(SignedAccount(account="nv-alder", on="2026-09-30", journal=5, record=None),),
            matched=7,
            suggested=1,
            open=2,
            broken=0,
            dismissed=1,
            accepted_open=True,
        ),
        (),
    ),
)

JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text("abcdefghijklmnopqrstuvwxyz_", min_size=1), inner),
)


@given(JSON)
def test_canonical_bytes_are_those_of_rfc_8785(value: object) -> None:
    assert rfc8785.dumps(value) == canonical(value)  # type: ignore[arg-type]


# RFC 8785, test data of the author's repository (cyberphone/json-canonicalization): "arrays" and "french".
def test_the_published_canonical_forms_hold() -> None:
    assert b'[56,{"1":[],"10":null,"d":true}]' == canonical([56, {"d": True, "10": None, "1": []}])
    french = canonical({"pêche": 1, "sin": 2, "péché": 3, "peach": 4})
    assert ["peach", "péché", "pêche", "sin"] == list(json.loads(french))


@pytest.mark.parametrize(("body", "sides"), EVERY_BODY, ids=range(len(EVERY_BODY)))
def test_a_body_comes_back_from_its_json_and_names_its_sides(body: Body, sides: tuple[str, ...]) -> None:
    assert body == told(1, body.kind, "2026-11-01", canonical(body_json(body)).decode()).body
    assert sides == parties(body)


# Computed once with the package rfc8785 and hashlib from the entry's members alone: they fix the chain's form.
def test_the_first_links_of_a_chain_are_fixed_for_good() -> None:
    command = Command(
        body=Draw(member="BIRCH", quantity=150), effective_on=date(2026, 9, 3), recorded_by="keeper/-/0a", note="naïve"
    )
    first = chained("riverside", 1, GENESIS, command, "2026-09-03T10:00:00.000000Z")
    second = chained("riverside", 2, first.hash, command, "2026-09-03T10:00:01.000000Z")

    assert first.hash == entry_hash("riverside", first)
    assert FIRST == first.hash
    assert SECOND == second.hash


FIRST = "1ae0a861a137118724602f0e768b0d5b5226438a82fee72e33670deea33c8b53"
SECOND = "d42a4d311d7bd01a301ed811dec5b883e924fb0d3edea2c3161833a270a4ff53"


def test_any_change_of_an_entry_changes_its_hash() -> None:
    command = Command(body=Draw(member="BIRCH", quantity=150), effective_on=date(2026, 9, 3), recorded_by="k")
    entry = chained("riverside", 1, GENESIS, command, "2026-09-03T10:00:00.000000Z")

    changed = [
        replace(entry, number=2),
        replace(entry, body=Draw(member="BIRCH", quantity=151)),
        replace(entry, effective_on=date(2026, 9, 4)),
        replace(entry, recorded_at="2026-09-03T10:00:00.000001Z"),
        replace(entry, recorded_by="l"),
        replace(entry, note="x"),
        replace(entry, reference="r"),
        replace(entry, previous_hash="1" * 64),
    ]

    assert len(changed) + 1 == len({entry.hash, *(entry_hash("riverside", each) for each in changed)})
    assert entry.hash != entry_hash("hillside", entry)


def test_a_reversal_says_that_a_loan_was_still_open_only_if_it_was() -> None:
    """So that those recorded before there were carried loans keep their hashes."""
    assert {"entry": 3, "quantity": 2} == body_json(Reversal(entry=3, quantity=2))
    still_open = Reversal(entry=3, quantity=2, still_open=True)
    assert {"entry": 3, "quantity": 2, "still_open": True} == body_json(still_open)


def test_a_payment_says_that_it_goes_beyond_what_it_answers_only_if_it_does() -> None:
    """So that those recorded before there were overpayments keep their hashes."""
    exact = Payment(from_member="ALDER", to_member="BIRCH", amount=9, pays="2026-09-1")

    assert "beyond" not in body_json(exact)
    assert 2 == body_json(replace(exact, beyond=2))["beyond"]
