"""Commands that say again what an entry says, and those that say something else under its reference."""

from dataclasses import replace
from datetime import date

import pytest

from pool_api.domain.entries import Body, Command, Draw, Payment, Reversal
from pool_api.domain.errors import ReferenceTaken
from pool_api.domain.references import recorded_as
from tests.domain.journals import numbered

DAY = date(2026, 11, 3)
PAID = Payment(from_member="BIRCH", to_member="ALDER", amount=500, pays="2026-09-1")


def asked(body: Body, day: date = DAY, note: str = "") -> Command:
    return Command(body=body, effective_on=day, recorded_by="k", note=note, reference="R-1")


@pytest.mark.parametrize(
    ("recorded", "again"),
    [
        (Draw(member="ALDER", quantity=4), Draw(member="ALDER", quantity=4)),
        (Reversal(entry=2, quantity=4, still_open=True), Reversal(entry=2)),
        (Reversal(entry=2, quantity=4, still_open=True), Reversal(entry=2, quantity=4)),
        (replace(PAID, beyond=200), replace(PAID, beyond=None)),
        (PAID, replace(PAID, beyond=None)),
        (PAID, PAID),
    ],
)
def test_what_says_the_same_again_is_the_entry(recorded: Body, again: Body) -> None:
    entry = numbered(7, recorded, DAY)

    assert entry is recorded_as(entry, asked(again))


@pytest.mark.parametrize(
    "other",
    [
        asked(replace(PAID, amount=501, beyond=None)),
        asked(replace(PAID, pays=None, beyond=None)),
        asked(PAID),
        asked(replace(PAID, beyond=None), day=date(2026, 11, 4)),
        asked(replace(PAID, beyond=None), note="twice"),
        asked(Reversal(entry=7)),
    ],
)
def test_anything_else_is_refused_with_the_entry(other: Command) -> None:
    with pytest.raises(ReferenceTaken) as told:
        recorded_as(numbered(7, replace(PAID, beyond=200), DAY), other)

    assert ("R-1", 7) == (told.value.reference, told.value.entry)


@pytest.mark.parametrize("other", [Reversal(entry=2, quantity=3), Reversal(entry=3), Reversal(entry=3, quantity=4)])
def test_another_reversal_is_refused(other: Reversal) -> None:
    with pytest.raises(ReferenceTaken):
        recorded_as(numbered(7, Reversal(entry=2, quantity=4), DAY), asked(other))
