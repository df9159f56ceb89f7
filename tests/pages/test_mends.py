"""What mends a difference, in words and fields: the service's own mends, all kinds of them, without a page."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from pool_client.models.vendor import Mend
from pool_web import mends
from pool_web.forms import Form

from pool_api.services.mends import CHANGEABLE

OFFERED: dict[str, tuple[dict[str, Any], tuple[str, ...], str]] = {
    "record_loan": (
        {"giver": "ALDER", "receiver": "BIRCH", "quantity": 1, "effective_on": "2026-09-05"},
        (),
        "Record a loan: 1 credit from ALDER to BIRCH on 5 Sep 2026.",
    ),
    "record_outside": (
        {"member": "ALDER", "direction": "in", "party": "nv-77", "quantity": 20, "effective_on": "2026-09-05"},
        ("amount",),
        "Record a movement outside the pool: 20 credits of ALDER from nv-77 on 5 Sep 2026.",
    ),
    "record_purchase": (
        {"into": "stock", "quantity": 500, "amount": "3450.00", "effective_on": "2026-09-05"},
        ("paid_by",),
        "Record a purchase: 500 credits into stock for 3450.00 on 5 Sep 2026.",
    ),
    "record_use": (
        {"member": "ALDER", "quantity": 3, "effective_on": "2026-09-05"},
        ("item", "job"),
        "Record a use: 3 credits of ALDER on 5 Sep 2026.",
    ),
    "reverse": ({"entry": 7, "quantity": 3}, (), "Undo 3 credits of entry 7."),
    "correct": (
        {"entry": 7, "receiver": "CEDAR", "quantity": 4},
        (),
        "Undo entry 7 and record it anew with to CEDAR, credits 4.",
    ),
    "withdraw": (
        {},
        (),
        "Take the vendor's later word: the earlier row no longer counts. No entry is recorded.",
    ),
}


def mend_of(kind: str) -> Mend:
    fields, asks, _ = OFFERED[kind]
    return Mend(kind=kind, fields=fields, asks=asks)


def filled_in(mend: Mend, **changes: str) -> Form:
    return Form(texts={**mends.offered(mend), **changes}, key="key-000001")


@pytest.mark.parametrize("kind", OFFERED)
def test_an_offer_is_a_sentence(kind: str) -> None:
    assert OFFERED[kind][2] == mends.offer(mend_of(kind))


def test_every_mend_of_the_service_has_its_fields_and_no_others() -> None:
    assert OFFERED.keys() == {str(kind) for kind in CHANGEABLE}
    for kind, takes in CHANGEABLE.items():
        # which entry is reversed isn't asked: it is the one that the sentence names
        assert {each.name for each in mends.FIELDS[kind]} == set(takes) - {"entry"}


@pytest.mark.parametrize("kind", [kind for kind in OFFERED if not OFFERED[kind][1]])
def test_what_is_left_as_offered_is_not_said_again(kind: str) -> None:
    form = filled_in(mend_of(kind))

    assert {} == mends.said(form, mend_of(kind))
    assert {} == form.problems


@pytest.mark.parametrize("kind", [kind for kind in OFFERED if OFFERED[kind][1]])
def test_what_is_asked_for_is_needed_unless_a_shop_only_answers(kind: str) -> None:
    mend, form = mend_of(kind), filled_in(mend_of(kind))

    mends.said(form, mend)
    assert set(mend.asks) == form.problems.keys()
    assert {} == mends.said(filled_in(mend), mend, complete=False)


def test_what_is_changed_is_said_as_what_it_is() -> None:
    mend = mend_of("record_purchase")
    form = filled_in(mend, paid_by="BIRCH", amount="3400.5", quantity="400", effective_on="2026-09-06", note="so")

    assert {
        "paid_by": "BIRCH",
        "amount": Decimal("3400.5"),
        "quantity": 400,
        "effective_on": date(2026, 9, 6),
        "note": "so",
    } == mends.said(form, mend)


def test_a_correction_asks_for_nothing_that_the_vendor_does_not_show_otherwise() -> None:
    asked, changeable = mends.fields_of(mend_of("correct"))

    assert [] == asked
    assert ["receiver", "quantity", "note"] == [each.name for each in changeable]
