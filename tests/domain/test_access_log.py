"""Events of access: what they say is plain, and nothing in their chain can be changed without showing."""

import hashlib
import json
import unicodedata
from dataclasses import fields, replace
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from pool_api.domain.access import Caller, Role
from pool_api.domain.access_log import (
    CHAIN,
    MOST_CHARACTERS,
    Actor,
    Event,
    EventKind,
    actor_of,
    broken,
    chained,
    person_at,
    plain,
)
from pool_api.domain.hashing import GENESIS

AT = "2026-11-10T12:00:00.000000Z"
INES = Actor(by="keeper/-/p0f0c8e12ab34", by_id="p0f0c8e12ab34", session="4f0c8e12ab34", peer="192.0.2.1")


def an_event() -> Event:
    return chained(
        1,
        GENESIS,
        AT,
        EventKind.ROLE_CHANGED,
        INES,
        about="p1f0c8e12ab34",
        pool="riverside",
        told_in=["riverside"],
        detail={"role": "clerk", "member": "ALDER", "role_before": None},
    )


def test_an_event_is_hashed_over_all_it_says_in_canonical_json() -> None:
    """The bytes by another implementation of RFC 8785 than ours."""
    said: dict[str, Any] = {
        "chain": CHAIN,
        "number": 1,
        "at": AT,
        "kind": "role_changed",
        "by": INES.by,
        "by_id": INES.by_id,
        "session": INES.session,
        "peer": INES.peer,
        "about": "p1f0c8e12ab34",
        "pool": "riverside",
        "told_in": ["riverside"],
        "detail": {"role": "clerk", "member": "ALDER"},
        "previous_hash": GENESIS,
    }

    assert hashlib.sha256(rfc8785.dumps(said)).hexdigest() == an_event().hash


OTHERWISE: dict[str, Any] = {
    "number": 2,
    "at": "2026-11-10T12:00:00.000001Z",
    "kind": "role_given",
    "actor": replace(INES, peer="192.0.2.2"),
    "about": None,
    "pool": None,
    "told_in": (),
    "detail": {"role": "clerk"},
    "previous_hash": "1" * 64,
    "hash": "2" * 64,
}


@pytest.mark.parametrize("name", [each.name for each in fields(Event)])
def test_whatever_is_changed_in_an_event_shows(name: str) -> None:
    assert broken(an_event(), 0, GENESIS) is None
    assert broken(replace(an_event(), **{name: OTHERWISE[name]}), 0, GENESIS) is not None


@pytest.mark.parametrize("name", [each.name for each in fields(Actor)])
def test_whoever_is_changed_in_an_event_shows(name: str) -> None:
    changed = replace(an_event(), actor=replace(INES, **{name: "another"}))

    assert "the hash does not fit what the event says" == broken(changed, 0, GENESIS)


@given(st.text())
def test_a_plain_text_is_one_line_without_controls_and_of_bounded_length(text: str) -> None:
    said = plain(text)

    assert len(said) <= MOST_CHARACTERS
    assert said.splitlines() in ([], [said])
    assert not {unicodedata.category(each)[0] for each in said} & {"C"}
    assert said == plain(said)
    json.dumps(said, ensure_ascii=False).encode()


@pytest.mark.parametrize("harmful", ["\r\n", "\x00", "\x1b[2J", "\u2028", "\u202e", "\ud800", "\x85"])
def test_every_text_of_an_event_is_plain(harmful: str) -> None:
    found = chained(
        1,
        GENESIS,
        AT,
        EventKind.SIGNED_IN,
        Actor(by=f"a{harmful}b", by_id=f"a{harmful}b", session=f"a{harmful}b", peer=f"a{harmful}b"),
        about=f"a{harmful}b",
        detail={"label": f"a{harmful}b", "count": 3},
    )
    texts = [found.actor.by, found.actor.by_id, found.actor.session, found.actor.peer, found.about]

    assert {plain(f"a{harmful}b")} == {*texts, found.detail["label"]}
    assert harmful not in (found.about or "")
    assert 3 == found.detail["count"]


def test_whoever_acts_is_named_as_entries_name_it() -> None:
    caller = Caller(role=Role.CLERK, pool="riverside", member="ALDER", key_id="0a", name="counter", peer="192.0.2.1")

    assert Actor(by="clerk/ALDER/0a", by_id="0a", session=None, peer="192.0.2.1") == actor_of(caller)
    assert Actor(by="person/-/p1", by_id="p1", session="5a", peer="192.0.2.1") == person_at("p1", "192.0.2.1", "5a")
