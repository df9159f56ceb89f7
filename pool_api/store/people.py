"""Who signs in: persons, their sessions, what they are in which pools, and invitations. Secrets stand here as digests,
passwords as hashes that say by which rule they were made.

Whether a password is right and whether a session still lasts is decided elsewhere. What takes a right away raises the
pool's directory version, whose row the writer locks: when it is done, nothing is being recorded by that right any more.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, RowMapping, exists, insert, select, update

from pool_api.domain.access import Caller, Membership, Role
from pool_api.store.directory import raise_version, read_ended_keys
from pool_api.store.people_tables import invitation, membership, person, session


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who signs in. password is its hash; shut_out_at is when the operator shut the person out."""

    person_id: str
    name: str
    sign_in_name: str
    password: str
    made_at: str
    shut_out_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A person who has signed in somewhere. confirmed_at is when the password was given last; expires_at the latest
    end; peer the address that it was made from."""

    session_id: str
    person_id: str
    label: str
    peer: str
    made_at: str
    confirmed_at: str
    last_used_at: str
    expires_at: str
    ended_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolPerson:
    """What somebody is in a pool, or was until ended_at."""

    person_id: str
    name: str
    role: Role
    member: str | None
    joined_at: str
    ended_at: str | None
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """What its token lets somebody become in a pool, once."""

    pool: str
    invitation_id: str
    role: Role
    member: str | None
    note: str
    made_at: str
    made_by: str
    expires_at: str
    accepted_at: str | None = None
    accepted_by: str | None = None
    withdrawn_at: str | None = None


# --- persons ---------------------------------------------------------------------------------------------------------

_PERSON = (
    person.c.person_id,
    person.c.name,
    person.c.sign_in_name,
    person.c.password,
    person.c.made_at,
    person.c.shut_out_at,
)


def find_person(connection: Connection, sign_in_name: str) -> Person | None:
    """Give the person who signs in by a name, None when there is none."""
    row = connection.execute(select(*_PERSON).where(person.c.sign_in_name == sign_in_name)).mappings().one_or_none()
    return None if row is None else Person(**row)


def read_person(connection: Connection, person_id: str) -> Person | None:
    """Give a person by its id, None when there is none."""
    row = connection.execute(select(*_PERSON).where(person.c.person_id == person_id)).mappings().one_or_none()
    return None if row is None else Person(**row)


def lock_person(connection: Connection, person_id: str) -> Person | None:
    """Give a person, whose password and standing nobody changes until the transaction ends; None when there is none."""
    query = select(*_PERSON).where(person.c.person_id == person_id).with_for_update()
    row = connection.execute(query).mappings().one_or_none()
    return None if row is None else Person(**row)


def write_person(connection: Connection, made: Person) -> None:
    """Write a new person; StoreConflict when somebody signs in by that name already."""
    connection.execute(
        insert(person).values(
            person_id=made.person_id,
            name=made.name,
            sign_in_name=made.sign_in_name,
            password=made.password,
            made_at=made.made_at,
            password_at=made.made_at,
        )
    )


def write_password(connection: Connection, person_id: str, password: str, at: str) -> None:
    """Replace the hash of a person's password."""
    connection.execute(update(person).where(person.c.person_id == person_id).values(password=password, password_at=at))


def shut_out(connection: Connection, person_id: str, at: str | None) -> None:
    """Shut a person out, or with None let it in again."""
    connection.execute(update(person).where(person.c.person_id == person_id).values(shut_out_at=at))


# --- sessions --------------------------------------------------------------------------------------------------------

_SESSION = tuple(each for each in session.c if each.name != "secret_hash")


def write_session(connection: Connection, made: Session, secret_hash: str) -> None:
    """Write a new session; only the hash of its token is kept."""
    connection.execute(
        insert(session).values(
            secret_hash=secret_hash, **{name: getattr(made, name) for name in Session.__dataclass_fields__}
        )
    )


def find_session(connection: Connection, secret_hash: str) -> Session | None:
    """Give the session whose token has a hash, None when there is none."""
    row = connection.execute(select(*_SESSION).where(session.c.secret_hash == secret_hash)).mappings().one_or_none()
    return None if row is None else Session(**row)


def read_session(connection: Connection, person_id: str, session_id: str) -> Session | None:
    """Give one of a person's sessions, None when it has none of that id."""
    at = (session.c.person_id == person_id) & (session.c.session_id == session_id)
    row = connection.execute(select(*_SESSION).where(at)).mappings().one_or_none()
    return None if row is None else Session(**row)


def read_sessions(
    connection: Connection, person_id: str, now: str, *, used_since: str, after: str, limit: int
) -> list[Session]:
    """Give a person's sessions that last, whose id comes after a text, by id."""
    query = select(*_SESSION).where(
        session.c.person_id == person_id,
        session.c.ended_at.is_(None),
        session.c.expires_at > now,
        session.c.last_used_at > used_since,
        session.c.session_id > after,
    )
    rows = connection.execute(query.order_by(session.c.session_id).limit(limit))
    return [Session(**row) for row in rows.mappings()]


def was_at(connection: Connection, sign_in_name: str, peer: str) -> bool:
    """Tell whether somebody has ever signed in by a name from an address."""
    query = select(
        exists().where(
            person.c.sign_in_name == sign_in_name, session.c.person_id == person.c.person_id, session.c.peer == peer
        )
    )
    return bool(connection.execute(query).scalar_one())


def note_use(connection: Connection, session_id: str, at: str) -> None:
    """Note when a session was used."""
    connection.execute(update(session).where(session.c.session_id == session_id).values(last_used_at=at))


def note_confirmation(connection: Connection, session_id: str, at: str) -> None:
    """Note when the password was given in a session."""
    connection.execute(update(session).where(session.c.session_id == session_id).values(confirmed_at=at))


def end_sessions(
    connection: Connection, person_id: str, at: str, *, only: str | None = None, but: str | None = None
) -> int:
    """End a person's sessions: all, only one, or all but one. Gives how many had not ended before."""
    query = update(session).where(session.c.person_id == person_id, session.c.ended_at.is_(None))
    if only is not None:
        query = query.where(session.c.session_id == only)
    if but is not None:
        query = query.where(session.c.session_id != but)
    return connection.execute(query.values(ended_at=at)).rowcount


# --- what people are in pools ----------------------------------------------------------------------------------------


def read_memberships(connection: Connection, person_id: str) -> tuple[Membership, ...]:
    """Give what a person is in its pools now, by pool."""
    query = select(membership).where(membership.c.person_id == person_id, membership.c.ended_at.is_(None))
    rows = connection.execute(query.order_by(membership.c.pool_id))
    return tuple(Membership(pool=row.pool_id, role=Role(row.role), member=row.member) for row in rows)


_PEOPLE = select(
    membership.c.person_id,
    person.c.name,
    membership.c.role,
    membership.c.member,
    membership.c.joined_at,
    membership.c.ended_at,
    membership.c.version,
).join(person, person.c.person_id == membership.c.person_id)


def read_people(connection: Connection, pool_id: str, *, after: str, limit: int) -> list[PoolPerson]:
    """Give the people of a pool whose id comes after a text, by id, former ones too."""
    query = _PEOPLE.where(membership.c.pool_id == pool_id, membership.c.person_id > after)
    rows = connection.execute(query.order_by(membership.c.person_id).limit(limit))
    return [_pool_person(row) for row in rows.mappings()]


def read_pool_person(connection: Connection, pool_id: str, person_id: str) -> PoolPerson | None:
    """Give what somebody is or was in a pool, None for one who never was in it."""
    query = _PEOPLE.where(membership.c.pool_id == pool_id, membership.c.person_id == person_id)
    row = connection.execute(query).mappings().one_or_none()
    return None if row is None else _pool_person(row)


def write_membership(connection: Connection, person_id: str, given: Membership, *, at: str, by: str) -> None:
    """Make somebody something in a pool, for the first time, again, or anew."""
    there = read_pool_person(connection, given.pool, person_id)
    values: dict[str, Any] = {"role": given.role, "member": given.member, "changed_by": by, "ended_at": None}
    if there is None or there.ended_at is not None:
        values["joined_at"] = at
    if there is None:
        connection.execute(insert(membership).values(pool_id=given.pool, person_id=person_id, version=1, **values))
        return
    here = (membership.c.pool_id == given.pool) & (membership.c.person_id == person_id)
    connection.execute(update(membership).where(here).values(version=membership.c.version + 1, **values))
    raise_version(connection, given.pool)


def end_membership(connection: Connection, pool_id: str, person_id: str, *, at: str, by: str) -> None:
    """Take somebody out of a pool; what it was stays on record. One who is out already stays as it was."""
    here = (membership.c.pool_id == pool_id) & (membership.c.person_id == person_id)
    connection.execute(
        update(membership)
        .where(here, membership.c.ended_at.is_(None))
        .values(ended_at=at, changed_by=by, version=membership.c.version + 1)
    )
    raise_version(connection, pool_id)


def read_ended(connection: Connection, pool_id: str, callers: Sequence[Caller], now: str) -> set[str]:
    """Give the ids of the callers' keys and sessions by which nothing may be done any more at an instant: those that
    have ended, and sessions whose person isn't in the pool as the caller says. Idle ones last here: they were in use a
    moment ago."""
    keys = {each.key_id for each in callers if each.session is None}
    ended = read_ended_keys(connection, keys, now) if keys else set()
    asked = [each for each in callers if each.session is not None]
    if not asked:
        return ended
    query = (
        select(session.c.session_id, membership.c.role, membership.c.member)
        .join(membership, membership.c.person_id == session.c.person_id)
        .where(
            session.c.session_id.in_(sorted({str(each.session) for each in asked})),
            session.c.ended_at.is_(None),
            session.c.expires_at > now,
            membership.c.pool_id == pool_id,
            membership.c.ended_at.is_(None),
        )
    )
    last = {row.session_id: (row.role, row.member) for row in connection.execute(query)}
    return ended | {str(each.session) for each in asked if last.get(str(each.session)) != (each.role, each.member)}


def _pool_person(row: RowMapping) -> PoolPerson:
    return PoolPerson(**{**row, "role": Role(row["role"])})


# --- invitations -----------------------------------------------------------------------------------------------------

_INVITATION = tuple(each for each in invitation.c if each.name != "secret_hash")


def write_invitation(connection: Connection, made: Invitation, secret_hash: str) -> None:
    """Write a new invitation; only the hash of its token is kept."""
    connection.execute(
        insert(invitation).values(
            pool_id=made.pool,
            invitation_id=made.invitation_id,
            secret_hash=secret_hash,
            role=made.role,
            member=made.member,
            note=made.note,
            made_at=made.made_at,
            made_by=made.made_by,
            expires_at=made.expires_at,
        )
    )


def find_invitation(connection: Connection, secret_hash: str) -> Invitation | None:
    """Give the invitation whose token has a hash, None when there is none."""
    row = (
        connection.execute(select(*_INVITATION).where(invitation.c.secret_hash == secret_hash)).mappings().one_or_none()
    )
    return None if row is None else _invitation(row)


def read_invitation(connection: Connection, pool_id: str, invitation_id: str) -> Invitation | None:
    """Give one invitation of a pool, None when it has none of that id."""
    here = (invitation.c.pool_id == pool_id) & (invitation.c.invitation_id == invitation_id)
    row = connection.execute(select(*_INVITATION).where(here)).mappings().one_or_none()
    return None if row is None else _invitation(row)


def read_invitations(connection: Connection, pool_id: str, *, after: str, limit: int) -> list[Invitation]:
    """Give the invitations of a pool whose id comes after a text, by id, used and withdrawn ones too."""
    query = select(*_INVITATION).where(invitation.c.pool_id == pool_id, invitation.c.invitation_id > after)
    rows = connection.execute(query.order_by(invitation.c.invitation_id).limit(limit))
    return [_invitation(row) for row in rows.mappings()]


def use_invitation(connection: Connection, used: Invitation, person_id: str, at: str) -> bool:
    """Mark an invitation as accepted; False when somebody was faster, or it was withdrawn meanwhile."""
    done = connection.execute(_open(used.pool, used.invitation_id).values(accepted_at=at, accepted_by=person_id))
    return done.rowcount == 1


def withdraw_invitation(connection: Connection, pool_id: str, invitation_id: str, at: str) -> bool:
    """Withdraw an invitation that nobody has accepted; False when it was accepted or withdrawn before."""
    return connection.execute(_open(pool_id, invitation_id).values(withdrawn_at=at)).rowcount == 1


def _open(pool_id: str, invitation_id: str) -> Any:
    return update(invitation).where(
        invitation.c.pool_id == pool_id,
        invitation.c.invitation_id == invitation_id,
        invitation.c.accepted_at.is_(None),
        invitation.c.withdrawn_at.is_(None),
    )


def _invitation(row: RowMapping) -> Invitation:
    values = dict(row)
    return Invitation(pool=values.pop("pool_id"), role=Role(values.pop("role")), **values)
