"""What a stored entry says is read whole, or the entry is refused as damaged."""

from datetime import date
from typing import Any

import pytest

from pool_api.domain.entries import Reversal, Use, body_json, canonical
from pool_api.store.errors import StoreDamaged
from pool_api.store.facts import StoredFact, read_targets, told

DAY = "2026-11-01"
STORED = canonical(body_json(Use(member="ALDER", quantity=3, item="CAL-M", job="J-1"))).decode()


def test_what_people_wrote_may_look_like_json() -> None:
    body = Use(member="ALDER", quantity=3, item="CAL-M", job='{"a":1,"b":"\\"":2}', price=4)

    assert StoredFact(7, date(2026, 11, 1), body) == told(7, "use", DAY, canonical(body_json(body)).decode())


@pytest.mark.parametrize(
    ("kind", "day", "body"),
    [
        ("use", DAY, STORED[:-1]),
        ("use", DAY, f"{STORED}?"),
        ("use", DAY, STORED.replace('"quantity":3', '"quantity":"3"')),
        ("use", DAY, STORED.replace('"quantity":3', '"quantity":3.5')),
        ("use", DAY, STORED.replace(',"quantity":3', "")),
        ("use", DAY, STORED.replace('"quantity":3', '"quantity":3,"said_later":1')),
        ("use", DAY, STORED.replace("off_road_only", "off_load_only")),
        ("write_off", DAY, '{"holder":"ALDER","quantity":1,"reason":"eaten"}'),
        ("use", "2026-11-31", STORED),
        ("gift", DAY, STORED),
    ],
)
def test_what_cannot_be_read_to_the_letter_is_damaged(kind: str, day: str, body: str) -> None:
    with pytest.raises(StoreDamaged):
        told(1, kind, day, body)


def test_targets_among_the_entries_are_not_read_again() -> None:
    no_connection: Any = None
    use = told(1, "use", DAY, STORED)
    other = told(2, "use", DAY, STORED)
    reversal = StoredFact(3, date(2026, 11, 2), Reversal(entry=1, quantity=1))

    assert {1: use} == read_targets(no_connection, "north", [reversal, other, use])
