"""API keys: making, listing and ending them. A key's text is given once and never stored."""

from datetime import datetime

from pool_api.domain import access
from pool_api.domain.access import Caller, Right, Role
from pool_api.domain.access_log import SERVER, EventKind
from pool_api.domain.errors import NotFound
from pool_api.domain.keys import Kind, issue
from pool_api.domain.values import instant_text
from pool_api.services import access_log
from pool_api.services.office import Office
from pool_api.store import answers, directory, journal
from pool_api.store.answers import Answer, Slot
from pool_api.store.directory import ApiKey
from pool_api.store.engine import reading, writing


def make_key(
    office: Office,
    caller: Caller,
    pool: str,
    *,
    name: str,
    role: Role,
    idempotency_key: str,
    fingerprint: str,
    member: str | None = None,
    expires_at: str | None = None,
) -> tuple[ApiKey, str | None]:
    """Make a key of a pool and give it with its text, None for a repeated request: it is given only once.

    Refuses: NotFound, NotPermitted, SecondFactorMissing, ConfirmationRequired, UnknownMember when a clerk's member
             isn't in the pool, KeyReused."""
    access.permit_into(caller, pool, Right.MANAGE_KEYS)
    office.check_role(pool, role, member)
    office.check_sensitive(caller)
    slot = Slot(caller.key_id, "keys", idempotency_key)
    key, text, secret_hash = _issued(office, name=name, role=role, pool=pool, member=member, expires_at=expires_at)
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        earlier = answers.outcome_of(connection, pool, slot, fingerprint)
        if earlier is not None:
            made = directory.read_key(connection, pool, earlier["key_id"])
            if made is None:
                raise NotFound(what="key", name=earlier["key_id"])
            return made, None
        directory.write_key(connection, key, secret_hash)
        answers.write_answers(connection, pool, {slot: Answer(fingerprint, {"key_id": key.key_id})}, office.instant())
        says = {"role": role, "member": member}
        access_log.note(office, connection, EventKind.KEY_MADE, caller, about=key.key_id, pool=pool, **says)
    return key, text


def read_key(office: Office, caller: Caller, pool: str, key_id: str) -> ApiKey:
    """Give one key of a pool. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.MANAGE_KEYS)
    with reading(office.engine, pool) as connection:
        found = directory.read_key(connection, pool, key_id)
    if found is None:
        raise NotFound(what="key", name=key_id)
    return found


def make_first_key(office: Office, *, name: str) -> str | None:
    """Make an operator's key on a service that has no keys, and give its text; None when there are keys already."""
    with reading(office.engine, None) as connection:
        if directory.has_keys(connection):
            return None
    return make_operator_key(office, name=name)


def make_operator_key(office: Office, *, name: str) -> str:
    """Make another operator's key, by whoever has the database at hand, and give its text."""
    key, text, secret_hash = _issued(office, name=name, role=Role.OPERATOR)
    with writing(office.engine, None) as connection:
        directory.write_key(connection, key, secret_hash)
        access_log.note(office, connection, EventKind.KEY_MADE, SERVER, about=key.key_id, role=Role.OPERATOR)
    return text


def _issued(
    office: Office,
    *,
    name: str,
    role: Role,
    pool: str | None = None,
    member: str | None = None,
    expires_at: str | None = None,
) -> tuple[ApiKey, str, str]:
    issued = issue(Kind.KEY, office.random_hex)
    key = ApiKey(
        key_id=issued.public,
        name=name,
        role=role,
        pool=pool,
        member=member,
        created_at=office.instant(),
        expires_at=None if expires_at is None else instant_text(datetime.fromisoformat(expires_at)),
    )
    return key, issued.text, issued.digest


def list_keys(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[ApiKey]:
    """Give a pool's keys whose id comes after a text, by id, ended ones too."""
    access.permit_into(caller, pool, Right.MANAGE_KEYS)
    with reading(office.engine, pool) as connection:
        return directory.read_keys(connection, pool, after=after, limit=limit)


def end_key(office: Office, caller: Caller, pool: str, key_id: str) -> None:
    """Revoke a pool's key from now on. Refuses: NotFound, NotPermitted. Doing it twice is as good as once."""
    access.permit_into(caller, pool, Right.MANAGE_KEYS)
    with writing(office.engine, pool) as connection:
        if directory.read_key(connection, pool, key_id) is None:
            raise NotFound(what="key", name=key_id)
        if directory.revoke_key(connection, pool, key_id, office.instant()):
            access_log.note(office, connection, EventKind.KEY_REVOKED, caller, about=key_id, pool=pool)
    office.callers.clear()
