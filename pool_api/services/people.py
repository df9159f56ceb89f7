"""The people of a pool, and the invitations by which they come in."""

import logging
from dataclasses import dataclass

from pool_api.domain import access
from pool_api.domain.access import Caller, Membership, Right, Role
from pool_api.domain.access_log import Actor, EventKind, person_at
from pool_api.domain.errors import AlreadyJoined, InvitationVoid, NameTaken, NotFound
from pool_api.domain.keys import Kind, issue, key_digest
from pool_api.domain.people import INVITATION_LASTS, check_password, sign_in_name
from pool_api.domain.values import instant_text
from pool_api.services import access_log
from pool_api.services.office import Office
from pool_api.services.passwords import common_passwords
from pool_api.services.sessions import SignedIn, open_session
from pool_api.services.versions import agree
from pool_api.store import answers, journal, people
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.people import Invitation, Person, PoolPerson, Session

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Newcomer:
    """Who accepts an invitation for the first time, by the name and password to sign in with from now on."""

    name: str
    password: str
    label: str
    peer: str


# --- the people of a pool --------------------------------------------------------------------------------------------


def list_people(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[PoolPerson]:
    """Give a pool's people whose id comes after a text, by id, former ones too: entries name them."""
    access.permit_into(caller, pool, Right.READ_PEOPLE)
    with reading(office.engine, pool) as connection:
        return people.read_people(connection, pool, after=after, limit=limit)


def read_one(office: Office, caller: Caller, pool: str, person_id: str) -> PoolPerson:
    """Give one of a pool's people. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_PEOPLE)
    with reading(office.engine, pool) as connection:
        return _found(connection, pool, person_id)


def change(
    office: Office, caller: Caller, pool: str, person_id: str, *, role: Role, member: str | None, version: int | None
) -> PoolPerson:
    """Make one of a pool's people something else there, from the next request on.

    Refuses: NotFound, NotPermitted, SecondFactorMissing, ConfirmationRequired, UnknownMember, AlreadyThere,
             VersionStale."""
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    office.check_role(pool, role, member)
    office.check_sensitive(caller)
    with writing(office.engine, pool) as connection:
        _lock(connection, pool)
        there = people.read_pool_person(connection, pool, person_id)
        agree("person", person_id, there.version if there else None, version)
        given = Membership(pool=pool, role=role, member=member)
        people.write_membership(connection, person_id, given, at=office.instant(), by=access.signature(caller))
        changed = _found(connection, pool, person_id)
        was_out = there is None or there.ended_at is not None
        before = {"role_before": there.role, "member_before": there.member} if there and not was_out else {}
        kind = EventKind.ROLE_GIVEN if was_out else EventKind.ROLE_CHANGED
        says = {"role": role, "member": member, **before}
        access_log.note(office, connection, kind, caller, about=person_id, pool=pool, **says)
    office.callers.clear()
    _log.info("person %s is %s of %s in %s, by %s", person_id, role, member or "-", pool, caller.key_id)
    return changed


def take_out(office: Office, caller: Caller, pool: str, person_id: str) -> None:
    """Take somebody out of a pool, from the next request on. Doing it twice is as good as once.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    with writing(office.engine, pool) as connection:
        _lock(connection, pool)
        there = _found(connection, pool, person_id)
        people.end_membership(connection, pool, person_id, at=office.instant(), by=access.signature(caller))
        if there.ended_at is None:
            was = {"role_before": there.role, "member_before": there.member}
            access_log.note(office, connection, EventKind.ROLE_TAKEN_AWAY, caller, about=person_id, pool=pool, **was)
    office.callers.clear()
    _log.info("person %s was taken out of %s, by %s", person_id, pool, caller.key_id)


def _found(connection: Connection, pool: str, person_id: str) -> PoolPerson:
    found = people.read_pool_person(connection, pool, person_id)
    if found is None:
        raise NotFound(what="person", name=person_id)
    return found


def _lock(connection: Connection, pool: str) -> None:
    if journal.lock_head(connection, pool) is None:
        raise NotFound(what="pool", name=pool)


# --- invitations -----------------------------------------------------------------------------------------------------


def invite(
    office: Office,
    caller: Caller,
    given: Membership,
    *,
    note: str,
    idempotency_key: str,
    fingerprint: str,
) -> tuple[Invitation, str | None]:
    """Make an invitation and give it with its token, None for a repeated request: it is given only once.

    Refuses: NotFound, NotPermitted, SecondFactorMissing, ConfirmationRequired, UnknownMember, KeyReused."""
    pool = given.pool
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    office.check_role(pool, given.role, given.member)
    office.check_sensitive(caller)
    slot = Slot(caller.key_id, "invitations", idempotency_key)
    issued = issue(Kind.INVITATION, office.random_hex)
    made = Invitation(
        pool=pool,
        invitation_id=issued.public,
        role=given.role,
        member=given.member,
        note=note,
        made_at=office.instant(),
        made_by=access.signature(caller),
        expires_at=instant_text(office.now() + INVITATION_LASTS),
    )
    with writing(office.engine, pool) as connection:
        _lock(connection, pool)
        earlier = answers.outcome_of(connection, pool, slot, fingerprint)
        if earlier is not None:
            return _invitation(connection, pool, earlier["invitation"]), None
        people.write_invitation(connection, made, issued.digest)
        outcome = {"invitation": made.invitation_id}
        answers.write_answers(connection, pool, {slot: Answer(fingerprint, outcome)}, office.instant())
        says = {"role": given.role, "member": given.member}
        kind = EventKind.INVITATION_MADE
        access_log.note(office, connection, kind, caller, about=made.invitation_id, pool=pool, **says)
    _log.info("invitation %s into %s as %s, by %s", made.invitation_id, pool, made.role, caller.key_id)
    return made, issued.text


def list_invitations(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[Invitation]:
    """Give a pool's invitations whose id comes after a text, by id, used and withdrawn ones too."""
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    with reading(office.engine, pool) as connection:
        return people.read_invitations(connection, pool, after=after, limit=limit)


def read_invitation(office: Office, caller: Caller, pool: str, invitation_id: str) -> Invitation:
    """Give one of a pool's invitations. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    with reading(office.engine, pool) as connection:
        return _invitation(connection, pool, invitation_id)


def withdraw(office: Office, caller: Caller, pool: str, invitation_id: str) -> None:
    """Withdraw an invitation; one that was accepted stays so. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.MANAGE_PEOPLE)
    with writing(office.engine, pool) as connection:
        _invitation(connection, pool, invitation_id)
        if people.withdraw_invitation(connection, pool, invitation_id, office.instant()):
            kind = EventKind.INVITATION_WITHDRAWN
            access_log.note(office, connection, kind, caller, about=invitation_id, pool=pool)
    _log.info("invitation %s into %s withdrawn, by %s", invitation_id, pool, caller.key_id)


def look_at(office: Office, token: str) -> tuple[Invitation, str]:
    """Give what a token invites to, and the name of the pool. Refuses: InvitationVoid."""
    with reading(office.engine, None) as connection:
        found = _open(office, connection, token)
    return found, office.directory(found.pool).pool.name


def join(office: Office, token: str, newcomer: Newcomer) -> SignedIn:
    """Accept an invitation as somebody new, who is signed in by that.

    Refuses: InvitationVoid; NameTaken; PasswordUnfit."""
    found, pool_name = look_at(office, token)
    names = [newcomer.name, found.pool, pool_name]
    check_password(newcomer.password, common_passwords(), names)
    now = office.instant()
    person = Person(
        person_id=f"p{office.random_hex(6)}",
        name=newcomer.name,
        sign_in_name=sign_in_name(newcomer.name),
        password=office.passwords.hash(newcomer.password),
        made_at=now,
    )
    with writing(office.engine, found.pool) as connection:
        if people.find_person(connection, person.sign_in_name) is not None:
            raise NameTaken(name=newcomer.name)
        people.write_person(connection, person)
        _accept(connection, found, person.person_id, now)
        _note_accepted(office, connection, found, person.person_id, person_at(person.person_id, newcomer.peer))
        return open_session(office, connection, person, label=newcomer.label, peer=newcomer.peer)


def join_too(office: Office, caller: Caller, token: str) -> tuple[Person, Session]:
    """Accept an invitation as somebody who has signed in already, and give who and in which session.

    Refuses: NotPermitted for a key; InvitationVoid; AlreadyJoined, which leaves the invitation as it was."""
    own, now = access.check_person(caller), office.instant()
    with reading(office.engine, None) as connection:
        found = _open(office, connection, token)
        person = people.read_person(connection, caller.key_id)
        session = people.read_session(connection, caller.key_id, own)
    if person is None or session is None:
        raise NotFound(what="session", name=own)
    with writing(office.engine, found.pool) as connection:
        there = people.read_pool_person(connection, found.pool, caller.key_id)
        if there is not None and there.ended_at is None:
            raise AlreadyJoined(name=caller.name, pool=found.pool)
        _accept(connection, found, caller.key_id, now)
        _note_accepted(office, connection, found, caller.key_id, caller)
    office.callers.clear()
    return person, session


def _accept(connection: Connection, accepted: Invitation, person_id: str, now: str) -> None:
    if not people.use_invitation(connection, accepted, person_id, now):
        raise InvitationVoid
    given = Membership(pool=accepted.pool, role=accepted.role, member=accepted.member)
    people.write_membership(connection, person_id, given, at=now, by=accepted.made_by)
    _log.info("invitation %s into %s accepted by person %s", accepted.invitation_id, accepted.pool, person_id)


def _note_accepted(
    office: Office, connection: Connection, accepted: Invitation, person_id: str, by: Caller | Actor
) -> None:
    says = {"invitation": accepted.invitation_id, "role": accepted.role, "member": accepted.member}
    kind = EventKind.INVITATION_ACCEPTED
    access_log.note(office, connection, kind, by, about=person_id, pool=accepted.pool, **says)


def _open(office: Office, connection: Connection, token: str) -> Invitation:
    found = people.find_invitation(connection, key_digest(token))
    is_over = found is None or found.accepted_at is not None or found.withdrawn_at is not None
    if found is None or is_over or found.expires_at <= office.instant():
        raise InvitationVoid
    return found


def _invitation(connection: Connection, pool: str, invitation_id: str) -> Invitation:
    found = people.read_invitation(connection, pool, invitation_id)
    if found is None:
        raise NotFound(what="invitation", name=invitation_id)
    return found
