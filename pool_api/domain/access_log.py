"""What happened with access, as a chain of events: who signed in, was refused, was let in or out, and by whom.

An event says who (by), what (kind), when (at, UTC), from which address (peer), to whom (about) and in which pool, with
a few plain details. It holds no name and nothing that a stranger wrote: persons, keys and sessions stand in it by their
ids. Which pools are told of it is part of it, so that who is shown it can't be changed without that showing.

The events of the whole service make one chain, as the entries of a pool make theirs (hashing.py): the digest of each
covers the one before. Another kind needs a row in EventKind, and no change of the database.
"""

import unicodedata
from collections.abc import Collection
from dataclasses import dataclass, replace
from enum import StrEnum

from pool_api.domain.access import Caller, Role, signature, signature_of
from pool_api.domain.entries import Json, digest

CHAIN = "credit-pool-access/1"
"""The domain of the hash, as hashing.CHAIN is for entries."""

MOST_CHARACTERS = 200
"""Of each text in an event; what is longer is cut."""


class EventKind(StrEnum):
    """What happened."""

    SIGNED_IN = "signed_in"
    SIGN_IN_REFUSED = "sign_in_refused"
    SIGN_IN_THROTTLED = "sign_in_throttled"
    SIGNED_OUT = "signed_out"
    SESSIONS_ENDED = "sessions_ended"
    PASSWORD_REFUSED = "password_refused"  # noqa: S105 - a kind of event
    PASSWORD_CHANGED = "password_changed"  # noqa: S105 - a kind of event
    PASSWORD_GIVEN_ANEW = "password_given_anew"  # noqa: S105 - a kind of event
    CODE_REFUSED = "code_refused"
    SECOND_FACTOR_SET_UP = "second_factor_set_up"
    SECOND_FACTOR_TAKEN_OFF = "second_factor_taken_off"
    RECOVERY_CODE_USED = "recovery_code_used"
    RECOVERY_CODES_RENEWED = "recovery_codes_renewed"
    SHUT_OUT = "shut_out"
    LET_IN = "let_in"
    INVITATION_MADE = "invitation_made"
    INVITATION_WITHDRAWN = "invitation_withdrawn"
    INVITATION_ACCEPTED = "invitation_accepted"
    ROLE_GIVEN = "role_given"
    ROLE_CHANGED = "role_changed"
    ROLE_TAKEN_AWAY = "role_taken_away"
    KEY_MADE = "key_made"
    KEY_REVOKED = "key_revoked"
    POOL_MADE = "pool_made"
    WRITE_REFUSED = "write_refused"
    LEFT_OUT = "left_out"


PERSONAL = frozenset(
    {
        EventKind.SIGNED_IN,
        EventKind.SIGN_IN_REFUSED,
        EventKind.SIGN_IN_THROTTLED,
        EventKind.SIGNED_OUT,
        EventKind.SESSIONS_ENDED,
        EventKind.PASSWORD_REFUSED,
        EventKind.PASSWORD_CHANGED,
        EventKind.PASSWORD_GIVEN_ANEW,
        EventKind.CODE_REFUSED,
        EventKind.SECOND_FACTOR_SET_UP,
        EventKind.SECOND_FACTOR_TAKEN_OFF,
        EventKind.RECOVERY_CODE_USED,
        EventKind.RECOVERY_CODES_RENEWED,
        EventKind.SHUT_OUT,
        EventKind.LET_IN,
        EventKind.LEFT_OUT,
    }
)
"""What happens to a person and not in a pool: the pools that the person is in at that moment are told of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Who did something, and from where: by as an entry keeps it (access.signature), by_id the key or person in it;
    all are None for somebody unknown, and peer for a command of the server."""

    by: str | None = None
    by_id: str | None = None
    session: str | None = None
    peer: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened. at is an instant as values.instant_text gives it; about is the id of the person, key or
    invitation that it happened to; told_in holds pool ids in order; detail plain texts and whole numbers by name."""

    number: int
    at: str
    kind: str
    actor: Actor
    about: str | None
    pool: str | None
    told_in: tuple[str, ...]
    detail: Json
    previous_hash: str
    hash: str


SERVER = Actor(by="server")
"""A command of the server, given by whoever has the database at hand."""


def person_at(person_id: str, peer: str, session: str | None = None) -> Actor:
    """Give a person who says who it is, from an address."""
    return Actor(by=signature_of(Role.PERSON, None, person_id), by_id=person_id, session=session, peer=peer)


def actor_of(caller: Caller) -> Actor:
    """Give the one who makes a request."""
    return Actor(by=signature(caller), by_id=caller.key_id, session=caller.session, peer=caller.peer)


def one_line(text: str) -> str:
    """Give a text as one that can do no harm where it is shown: no line ends, no controls, nothing that turns the
    direction of writing."""
    safe = ("\N{REPLACEMENT CHARACTER}" if unicodedata.category(each)[0] == "C" else each for each in text)
    return "".join(" " if unicodedata.category(each) in {"Zl", "Zp"} else each for each in safe)


def plain(text: str) -> str:
    """Give a text as an event holds it: on one line, cut where it is too long."""
    return one_line(text)[:MOST_CHARACTERS]


def chained(
    number: int,
    previous_hash: str,
    at: str,
    kind: EventKind,
    actor: Actor,
    *,
    about: str | None = None,
    pool: str | None = None,
    told_in: Collection[str] = (),
    detail: Json | None = None,
) -> Event:
    """Make the event that follows previous_hash; every text in it is plain, and details that are None are left out."""
    stated = {name: value for name, value in (detail or {}).items() if value is not None}
    said = Event(
        number=number,
        at=at,
        kind=kind,
        actor=Actor(
            by=_plain(actor.by), by_id=_plain(actor.by_id), session=_plain(actor.session), peer=_plain(actor.peer)
        ),
        about=_plain(about),
        pool=pool,
        told_in=tuple(sorted(told_in)),
        detail={name: plain(value) if isinstance(value, str) else value for name, value in stated.items()},
        previous_hash=previous_hash,
        hash="",
    )
    return replace(said, hash=event_hash(said))


def _plain(text: str | None) -> str | None:
    return None if text is None else plain(text)


def event_hash(event: Event) -> str:
    """Give the hash that an event should have: SHA-256 over all it says and the hash before it, in canonical bytes."""
    actor = event.actor
    return digest(
        {
            "chain": CHAIN,
            "number": event.number,
            "at": event.at,
            "kind": event.kind,
            "by": actor.by,
            "by_id": actor.by_id,
            "session": actor.session,
            "peer": actor.peer,
            "about": event.about,
            "pool": event.pool,
            "told_in": list(event.told_in),
            "detail": event.detail,
            "previous_hash": event.previous_hash,
        }
    )


def broken(event: Event, number: int, previous_hash: str) -> str | None:
    """Say what is wrong with an event that should follow the one of a number and hash; None when nothing is."""
    if event.number != number + 1:
        return f"the number should be {number + 1}"
    if event.previous_hash != previous_hash:
        return "the previous hash is not the hash of the event before it"
    if event.hash != event_hash(event):
        return "the hash does not fit what the event says"
    return None
