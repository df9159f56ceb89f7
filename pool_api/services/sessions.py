"""Signing in and out: sessions of people, and their passwords. A token's text is given once and never stored.

Everything here that takes a password hashes it, which is slow on purpose: whoever calls it bounds how many run at one
time, and how often somebody may try (rest/sign_ins.py).
"""

import logging
from dataclasses import dataclass, replace

from pool_api.domain import access, second_factor
from pool_api.domain.access import Caller, Membership
from pool_api.domain.access_log import SERVER, Actor, EventKind, person_at
from pool_api.domain.errors import CodeNeeded, NotFound, SignInRefused, TicketVoid
from pool_api.domain.keys import Kind, issue
from pool_api.domain.people import check_password, sign_in_name
from pool_api.domain.values import instant_text
from pool_api.services import access_log
from pool_api.services.office import Office
from pool_api.services.passwords import common_passwords
from pool_api.services.second_factors import take
from pool_api.store import people, second_factors
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.people import Person, Session
from pool_api.store.second_factors import SecondFactor

_NEW_PASSWORD_BYTES = 16

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedIn:
    """A session just made, with the text of its token."""

    person: Person
    session: Session
    token: str


def is_usual(office: Office, name: str, peer: str) -> bool:
    """Tell whether somebody has signed in by a name from an address before."""
    with reading(office.engine, None) as connection:
        return people.was_at(connection, sign_in_name(name), peer)


def sign_in(office: Office, *, name: str, password: str, label: str, peer: str) -> SignedIn:
    """Make a session of the person who has a name and a password.

    Refuses: SignInRefused, in the same words and time whether the name, the password or neither is right; CodeNeeded
             when both are and the person has a second factor, which nobody else is told."""
    with reading(office.engine, None) as connection:
        person = people.find_person(connection, sign_in_name(name))
    right = office.passwords.holds(password, person.password if person else None)
    if person is None or not right or person.shut_out_at is not None:
        raise _refused(office, person, peer)
    renewed = office.passwords.hash(password) if office.passwords.is_weak(person.password) else None
    with writing(office.engine, None) as connection:
        if people.lock_person(connection, person.person_id) != person:
            # the password was changed, or the person shut out, while this one was looked at
            raise _refused(office, person, peer)
        if renewed is not None:
            people.write_password(connection, person.person_id, renewed, office.instant())
            person = replace(person, password=renewed)
        factor = second_factors.read_factor(connection, person.person_id)
        if factor is None or factor.secret is None or factor.confirmed_at is None:
            return open_session(office, connection, person, label=label, peer=peer)
    _log.info("code asked for: peer %s, person %s", peer, person.person_id)
    until = office.now() + second_factor.TICKET_LASTS
    raise CodeNeeded(ticket=second_factor.ticket(factor.secret, person.person_id, person.password, until))


def complete_sign_in(office: Office, *, name: str, ticket: str, code: str, label: str, peer: str) -> SignedIn:
    """Make a session of the person who has given its password, by the ticket for it, and a code.

    Refuses: TicketVoid, in the same words whatever is wrong with name and ticket; CodesPaused; CodeRefused."""
    with reading(office.engine, None) as connection:
        person = people.find_person(connection, sign_in_name(name))
        factor = second_factors.read_factor(connection, person.person_id) if person else None
    if person is None or person.shut_out_at is not None or not _is_ticket(office, ticket, person, factor):
        _note_refusal(office, person, peer)
        raise TicketVoid
    take(office, person_at(person.person_id, peer), person.person_id, code)
    with writing(office.engine, None) as connection:
        if people.lock_person(connection, person.person_id) != person:
            raise TicketVoid  # as above
        return open_session(office, connection, person, label=label, peer=peer)


def _refused(office: Office, person: Person | None, peer: str) -> SignInRefused:
    _note_refusal(office, person, peer)
    return SignInRefused()


def _note_refusal(office: Office, person: Person | None, peer: str) -> None:
    about = person.person_id if person else None
    _log.warning("sign-in refused: peer %s, person %s", peer, about or "unknown")
    access_log.note_refusal(office, EventKind.SIGN_IN_REFUSED, Actor(peer=peer), about=about)


def note_throttled(office: Office, *, name: str, peer: str) -> None:
    """Write that somebody has to wait before a password is looked at again. Never refuses."""
    with reading(office.engine, None) as connection:
        person = people.find_person(connection, sign_in_name(name))
    about = person.person_id if person else None
    access_log.note_refusal(office, EventKind.SIGN_IN_THROTTLED, Actor(peer=peer), about=about)


def note_throttled_again(office: Office, caller: Caller) -> None:
    """As note_throttled, for somebody who has signed in and gives the password again."""
    access_log.note_refusal(office, EventKind.SIGN_IN_THROTTLED, caller, about=caller.key_id)


def _is_ticket(office: Office, text: str, person: Person, factor: SecondFactor | None) -> bool:
    if factor is None or factor.secret is None or factor.confirmed_at is None:
        return False
    return second_factor.is_ticket(text, factor.secret, person.person_id, person.password, office.now())


def open_session(office: Office, connection: Connection, person: Person, *, label: str, peer: str) -> SignedIn:
    """Write a session of a person who has just given a password, and a code where it has a second factor."""
    issued = issue(Kind.SESSION, office.random_hex)
    now = office.instant()
    session = Session(
        session_id=issued.public,
        person_id=person.person_id,
        label=label,
        peer=peer,
        made_at=now,
        confirmed_at=now,
        last_used_at=now,
        expires_at=instant_text(office.now() + office.sessions.longest),
    )
    people.write_session(connection, session, issued.digest)
    who = person_at(person.person_id, peer, session.session_id)
    access_log.note(office, connection, EventKind.SIGNED_IN, who, about=person.person_id, label=label or None)
    _log.info("signed in: person %s, session %s, peer %s", person.person_id, session.session_id, peer)
    return SignedIn(person=person, session=session, token=issued.text)


def read_own(office: Office, caller: Caller) -> Session | None:
    """Give the caller's own session, None for a key, which has none."""
    if caller.session is None:
        return None
    with reading(office.engine, None) as connection:
        return people.read_session(connection, caller.key_id, caller.session)


def list_own_pools(office: Office, caller: Caller) -> list[tuple[Membership, str]]:
    """Give what the caller is in its pools, with their names, by pool."""
    own = [Membership(pool=caller.pool, role=caller.role, member=caller.member)] if caller.pool else caller.memberships
    return [(each, office.directory(each.pool).pool.name) for each in own]


def list_sessions(office: Office, caller: Caller, *, after: str, limit: int) -> list[Session]:
    """Give the caller's sessions that last, whose id comes after a text, by id. Refuses: NotPermitted for a key."""
    access.check_person(caller)
    used_since = instant_text(office.now() - office.sessions.idle)
    with reading(office.engine, None) as connection:
        return people.read_sessions(
            connection, caller.key_id, office.instant(), used_since=used_since, after=after, limit=limit
        )


def end_session(office: Office, caller: Caller, session_id: str | None = None) -> None:
    """End one of the caller's sessions, its present one unless another is named. Doing it twice is as good as once.

    Refuses: NotPermitted for a key; NotFound for a session that isn't the caller's."""
    ended = session_id or access.check_person(caller)
    access.check_person(caller)
    with writing(office.engine, None) as connection:
        if people.read_session(connection, caller.key_id, ended) is None:
            raise NotFound(what="session", name=ended)
        if people.end_sessions(connection, caller.key_id, office.instant(), only=ended):
            access_log.note(office, connection, EventKind.SIGNED_OUT, caller, about=caller.key_id, session=ended)
    office.callers.clear()
    _log.info("signed out: person %s, session %s", caller.key_id, ended)


def end_other_sessions(office: Office, caller: Caller) -> None:
    """End all of the caller's sessions but the present one. Refuses: NotPermitted for a key."""
    kept = access.check_person(caller)
    with writing(office.engine, None) as connection:
        count = people.end_sessions(connection, caller.key_id, office.instant(), but=kept)
        access_log.note(office, connection, EventKind.SESSIONS_ENDED, caller, about=caller.key_id, count=count)
    office.callers.clear()
    _log.info("signed out elsewhere: person %s, kept session %s", caller.key_id, kept)


def confirm(office: Office, caller: Caller, password: str) -> Session:
    """Note that the caller has given its password again. Refuses: NotPermitted for a key; SignInRefused."""
    own = access.check_person(caller)
    _check_own(office, caller, password)
    with writing(office.engine, None) as connection:
        people.note_confirmation(connection, own, office.instant())
        found = people.read_session(connection, caller.key_id, own)
    office.callers.clear()
    if found is None:
        raise NotFound(what="session", name=own)
    return found


def change_password(office: Office, caller: Caller, *, current: str, new: str) -> None:
    """Give the caller another password, and end its other sessions.

    Refuses: NotPermitted for a key; SignInRefused when current isn't its password; PasswordUnfit."""
    own = access.check_person(caller)
    _check_own(office, caller, current)
    check_password(new, common_passwords(), [caller.name, *_names(office, access.own_pools(caller))])
    hashed = office.passwords.hash(new)
    now = office.instant()
    with writing(office.engine, None) as connection:
        people.write_password(connection, caller.key_id, hashed, now)
        people.note_confirmation(connection, own, now)
        people.end_sessions(connection, caller.key_id, now, but=own)
        access_log.note(office, connection, EventKind.PASSWORD_CHANGED, caller, about=caller.key_id)
    office.callers.clear()
    _log.info("password changed: person %s, session %s", caller.key_id, own)


def _check_own(office: Office, caller: Caller, password: str) -> None:
    with reading(office.engine, None) as connection:
        person = people.read_person(connection, caller.key_id)
    if not office.passwords.holds(password, person.password if person else None):
        _log.warning("password refused: person %s, session %s", caller.key_id, caller.session)
        access_log.note_refusal(office, EventKind.PASSWORD_REFUSED, caller, about=caller.key_id)
        raise SignInRefused


def _names(office: Office, pools: list[str]) -> list[str]:
    return [*pools, *(office.directory(pool).pool.name for pool in pools)]


def new_password(office: Office, name: str) -> str:
    """Give a person a random password of 128 bits, and end its sessions. By whoever has the database at hand.

    Refuses: NotFound when nobody signs in by the name."""
    text, now = office.random_hex(_NEW_PASSWORD_BYTES), office.instant()
    hashed = office.passwords.hash(text)
    with writing(office.engine, None) as connection:
        person = _named(connection, name)
        people.write_password(connection, person.person_id, hashed, now)
        people.end_sessions(connection, person.person_id, now)
        access_log.note(office, connection, EventKind.PASSWORD_GIVEN_ANEW, SERVER, about=person.person_id)
    office.callers.clear()
    _log.info("password given anew: person %s", person.person_id)
    return text


def shut_out(office: Office, name: str, *, out: bool) -> None:
    """Shut a person out of the service, and end its sessions; or let it in again. By whoever has the database at hand.

    Refuses: NotFound when nobody signs in by the name."""
    now = office.instant()
    with writing(office.engine, None) as connection:
        person = _named(connection, name)
        people.shut_out(connection, person.person_id, now if out else None)
        people.end_sessions(connection, person.person_id, now)
        kind = EventKind.SHUT_OUT if out else EventKind.LET_IN
        access_log.note(office, connection, kind, SERVER, about=person.person_id)
    office.callers.clear()
    _log.info("%s: person %s", "shut out" if out else "let in again", person.person_id)


def _named(connection: Connection, name: str) -> Person:
    found = people.find_person(connection, sign_in_name(name))
    if found is None:
        raise NotFound(what="person", name=name)
    return found
