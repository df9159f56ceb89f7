"""Who a key or the token of a session belongs to, and when it was used last."""

import logging
from datetime import datetime, timedelta

from pool_api.domain.access import Caller, Role
from pool_api.domain.people import is_live
from pool_api.domain.values import instant_text
from pool_api.services.office import Office
from pool_api.store import directory, people, second_factors
from pool_api.store.directory import ApiKey
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.errors import StoreError
from pool_api.store.people import Session

REMEMBERED = timedelta(seconds=1)
MOST_REMEMBERED = 10_000
NOTED = timedelta(minutes=1)
"""A use is noted when the one noted before is as old as this: not every request is to write."""

_log = logging.getLogger(__name__)


def identify(office: Office, digest: str) -> Caller | None:
    """Give who a key or session belongs to by its digest; None for one that is unknown or has ended."""
    with reading(office.engine, None) as connection:
        key = directory.find_key(connection, digest)
        session = people.find_session(connection, digest) if key is None else None
        caller = _of_key(office, key) if key else _of_session(office, connection, session)
    if caller is None:
        return None
    if len(office.callers) >= MOST_REMEMBERED:
        office.callers.clear()
    office.callers[digest] = (caller, office.now())
    _note(office, key, session)
    return caller


def remembered(office: Office, digest: str) -> Caller | None:
    """Give who a key or session belongs to when that was found out within the last second, unless anything about keys,
    sessions or people was changed here meanwhile.

    A key or session ended by another process of the service reads for that second longer. It records nothing in it,
    since the writer asks again under its lock."""
    caller, at = office.callers.get(digest, (None, None))
    return caller if at is not None and office.now() - at < REMEMBERED else None


def _of_key(office: Office, key: ApiKey) -> Caller | None:
    if key.revoked_at is not None or (key.expires_at is not None and key.expires_at <= office.instant()):
        return None
    return Caller(role=Role(key.role), pool=key.pool, member=key.member, key_id=key.key_id, name=key.name)


def _of_session(office: Office, connection: Connection, session: Session | None) -> Caller | None:
    if session is None or session.ended_at is not None:
        return None
    used, expires = datetime.fromisoformat(session.last_used_at), datetime.fromisoformat(session.expires_at)
    person = people.read_person(connection, session.person_id)
    if person is None or person.shut_out_at is not None:
        return None
    if not is_live(office.sessions, office.now(), last_used_at=used, expires_at=expires):
        return None
    return Caller(
        role=Role.PERSON,
        pool=None,
        member=None,
        key_id=person.person_id,
        name=person.name,
        session=session.session_id,
        fresh_until=instant_text(datetime.fromisoformat(session.confirmed_at) + office.sessions.fresh),
        has_second_factor=second_factors.is_on(connection, person.person_id),
        memberships=people.read_memberships(connection, person.person_id),
    )


def _note(office: Office, key: ApiKey | None, session: Session | None) -> None:
    """Note the use of a key or session. A request doesn't fail because that can't be written now."""
    used = key.last_used_at if key else session.last_used_at if session else None
    if used is not None and office.now() - datetime.fromisoformat(used) < NOTED:
        return
    try:
        with writing(office.engine, None) as connection:
            if key:
                directory.note_key_use(connection, key.key_id, office.instant())
            elif session:
                people.note_use(connection, session.session_id, office.instant())
    except StoreError:
        _log.warning("the use of a key or session could not be noted", exc_info=True)
