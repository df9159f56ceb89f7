"""Who is who: pools with their terms, members with their vendor accounts, API keys, and the service's own secret.

What stands here may change, unlike the journal; every change of a pool's terms, members, keys or price ladders raises
the pool's directory version, which the writer compares under its lock, so that a change counts from the next recording
on.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, or_, select, update

from pool_api.domain.entries import canonical
from pool_api.domain.hashing import GENESIS
from pool_api.domain.pool import Handle, Member, Policy, Pool
from pool_api.domain.values import Currency, Month
from pool_api.store.tables import api_key, handle, head, member, policy, pool, service_setting


@dataclass(frozen=True, slots=True, kw_only=True)
class Directory:
    """A pool's terms and members at one directory version."""

    version: int
    pool: Pool
    members: Mapping[str, Member]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiKey:
    """An API key without its secret. Instants are RFC 3339 text in UTC; an operator's key has no pool."""

    key_id: str
    name: str
    role: str
    pool: str | None
    member: str | None
    created_at: str
    expires_at: str | None = None
    revoked_at: str | None = None
    last_used_at: str | None = None


# --- pools and members -----------------------------------------------------------------------------------------------


def read_directory(connection: Connection, pool_id: str) -> Directory | None:
    """Give a pool's terms and members, None when there is no such pool."""
    terms = connection.execute(select(pool).where(pool.c.pool_id == pool_id)).one_or_none()
    if terms is None:
        return None
    version = connection.execute(select(head.c.directory_version).where(head.c.pool_id == pool_id)).scalar_one()
    handles: dict[str, list[Handle]] = {}
    for row in connection.execute(select(handle).where(handle.c.pool_id == pool_id).order_by(handle.c.since)):
        handles.setdefault(row.member, []).append(Handle(handle=row.handle, since=date.fromisoformat(row.since)))
    rows = connection.execute(select(member).where(member.c.pool_id == pool_id).order_by(member.c.code))
    members = {row.code: _member(row, handles.get(row.code, [])) for row in rows}
    agreed = connection.execute(select(policy).where(policy.c.pool_id == pool_id).order_by(policy.c.month))
    policies = {Month.parse(row.month): _policy(row.policy) for row in agreed}
    return Directory(version=version, pool=replace(_pool(terms), policies=policies), members=members)


def read_pools(connection: Connection, *, after: str, limit: int) -> list[Pool]:
    """Give the pools whose id comes after a text, by id; without the policies agreed since they began."""
    query = select(pool).where(pool.c.pool_id > after).order_by(pool.c.pool_id).limit(limit)
    return [_pool(row) for row in connection.execute(query)]


def read_pool_version(connection: Connection, pool_id: str) -> int | None:
    """Give the version of a pool's terms, None when there is no such pool."""
    return connection.execute(select(pool.c.version).where(pool.c.pool_id == pool_id)).scalar_one_or_none()


def read_member_version(connection: Connection, pool_id: str, code: str) -> int | None:
    """Give the version of a member, None when there is no such member."""
    query = select(member.c.version).where(member.c.pool_id == pool_id, member.c.code == code)
    return connection.execute(query).scalar_one_or_none()


def read_policy_version(connection: Connection, pool_id: str, month: Month) -> int | None:
    """Give the version of the policy agreed from a month on, None when none is."""
    query = select(policy.c.version).where(policy.c.pool_id == pool_id, policy.c.month == str(month))
    return connection.execute(query).scalar_one_or_none()


def create_pool(connection: Connection, made: Pool) -> None:
    """Write a new pool with an empty journal, at version 1."""
    connection.execute(insert(pool).values(pool_id=made.id, version=1, **_terms(made)))
    connection.execute(
        insert(head).values(
            pool_id=made.id, number=0, hash=GENESIS, stock=0, custodian=made.custodian, directory_version=1
        )
    )


def change_pool(connection: Connection, changed: Pool, *, journal_is_empty: bool) -> None:
    """Replace a pool's terms, but not the policies agreed since. While the journal is empty its custodian holds the
    stock from the start."""
    connection.execute(
        update(pool).where(pool.c.pool_id == changed.id).values(version=pool.c.version + 1, **_terms(changed))
    )
    if journal_is_empty:
        connection.execute(update(head).where(head.c.pool_id == changed.id).values(custodian=changed.custodian))
    raise_version(connection, changed.id)


def write_policy(connection: Connection, pool_id: str, month: Month, agreed: Policy, *, exists: bool) -> None:
    """Write a policy agreed from a month on at version 1, or replace one."""
    text = canonical(agreed.as_json()).decode()
    if exists:
        at = (policy.c.pool_id == pool_id) & (policy.c.month == str(month))
        connection.execute(update(policy).where(at).values(policy=text, version=policy.c.version + 1))
    else:
        connection.execute(insert(policy).values(pool_id=pool_id, month=str(month), policy=text, version=1))
    raise_version(connection, pool_id)


def write_member(connection: Connection, pool_id: str, written: Member, *, exists: bool) -> None:
    """Write a new member at version 1, or replace one."""
    values = {
        "name": written.name,
        "joined_on": written.joined_on.isoformat(),
        "left_on": None if written.left_on is None else written.left_on.isoformat(),
        "share": written.share,
    }
    at = (member.c.pool_id == pool_id) & (member.c.code == written.code)
    if exists:
        connection.execute(update(member).where(at).values(version=member.c.version + 1, **values))
        connection.execute(delete(handle).where(handle.c.pool_id == pool_id, handle.c.member == written.code))
    else:
        connection.execute(insert(member).values(pool_id=pool_id, code=written.code, version=1, **values))
    if written.handles:
        rows = [
            {"pool_id": pool_id, "member": written.code, "since": each.since.isoformat(), "handle": each.handle}
            for each in written.handles
        ]
        connection.execute(insert(handle), rows)
    raise_version(connection, pool_id)


def raise_version(connection: Connection, pool_id: str) -> None:
    """Make every recording and costing from now on look at the directory, and the ladders, again."""
    connection.execute(
        update(head).where(head.c.pool_id == pool_id).values(directory_version=head.c.directory_version + 1)
    )


def _terms(given: Pool) -> dict[str, Any]:
    return {
        "name": given.name,
        "vendor": given.vendor,
        "currency": given.currency.code,
        "time_zone": given.time_zone,
        "began_on": given.began_on.isoformat(),
        "keeper_member": given.keeper_member,
        "custodian": given.custodian,
        "policy": canonical(given.policy.as_json()).decode(),
    }


def _pool(row: Row[Any]) -> Pool:
    return Pool(
        id=row.pool_id,
        name=row.name,
        vendor=row.vendor,
        currency=Currency(row.currency),
        time_zone=row.time_zone,
        began_on=date.fromisoformat(row.began_on),
        keeper_member=row.keeper_member,
        custodian=row.custodian,
        policy=_policy(row.policy),
    )


def _policy(text: str) -> Policy:
    return Policy.from_json(json.loads(text))


def _member(row: Row[Any], handles: list[Handle]) -> Member:
    return Member(
        code=row.code,
        name=row.name,
        joined_on=date.fromisoformat(row.joined_on),
        left_on=None if row.left_on is None else date.fromisoformat(row.left_on),
        share=row.share,
        handles=tuple(handles),
    )


# --- keys ------------------------------------------------------------------------------------------------------------


def write_key(connection: Connection, key: ApiKey, secret_hash: str) -> None:
    """Write a new API key; only the hash of its secret is kept."""
    connection.execute(
        insert(api_key).values(
            key_id=key.key_id,
            secret_hash=secret_hash,
            name=key.name,
            role=key.role,
            pool_id=key.pool,
            member=key.member,
            created_at=key.created_at,
            expires_at=key.expires_at,
        )
    )


def find_key(connection: Connection, secret_hash: str) -> ApiKey | None:
    """Give the key whose secret has a hash, None when there is none."""
    row = connection.execute(select(api_key).where(api_key.c.secret_hash == secret_hash)).one_or_none()
    return None if row is None else _key(row)


def read_ended_keys(connection: Connection, key_ids: Iterable[str], now: str) -> set[str]:
    """Give those among some keys that are unknown, revoked or expired at an instant."""
    asked = set(key_ids)
    query = select(api_key.c.key_id).where(
        api_key.c.key_id.in_(sorted(asked)),
        api_key.c.revoked_at.is_(None),
        or_(api_key.c.expires_at.is_(None), api_key.c.expires_at > now),
    )
    return asked - set(connection.execute(query).scalars())


def read_key(connection: Connection, pool_id: str, key_id: str) -> ApiKey | None:
    """Give one key of a pool, None when it has none of that id."""
    query = select(api_key).where(api_key.c.pool_id == pool_id, api_key.c.key_id == key_id)
    row = connection.execute(query).one_or_none()
    return None if row is None else _key(row)


def read_keys(connection: Connection, pool_id: str | None, *, after: str, limit: int) -> list[ApiKey]:
    """Give the keys of a pool (None: the operators') whose id comes after a text, by id."""
    owner = api_key.c.pool_id.is_(None) if pool_id is None else api_key.c.pool_id == pool_id
    query = select(api_key).where(owner, api_key.c.key_id > after).order_by(api_key.c.key_id).limit(limit)
    return [_key(row) for row in connection.execute(query)]


def revoke_key(connection: Connection, pool_id: str, key_id: str, revoked_at: str) -> bool:
    """End a pool's key; it stays on record. False when the pool has none of that id, or it was revoked before."""
    at = (api_key.c.pool_id == pool_id) & (api_key.c.key_id == key_id) & api_key.c.revoked_at.is_(None)
    ended = connection.execute(update(api_key).where(at).values(revoked_at=revoked_at)).rowcount == 1
    raise_version(connection, pool_id)
    return ended


def note_key_use(connection: Connection, key_id: str, at: str) -> None:
    """Note when a key was used."""
    connection.execute(update(api_key).where(api_key.c.key_id == key_id).values(last_used_at=at))


def has_keys(connection: Connection) -> bool:
    """Say whether any API key was ever made."""
    return connection.execute(select(api_key.c.key_id).limit(1)).first() is not None


def _key(row: Row[Any]) -> ApiKey:
    return ApiKey(
        key_id=row.key_id,
        name=row.name,
        role=row.role,
        pool=row.pool_id,
        member=row.member,
        created_at=row.created_at,
        expires_at=row.expires_at,
        revoked_at=row.revoked_at,
        last_used_at=row.last_used_at,
    )


# --- the service's own ----------------------------------------------------------------------------------------------


def read_setting(connection: Connection, name: str) -> str | None:
    """Give a setting that all processes of the service share, None when it was never written."""
    return connection.execute(
        select(service_setting.c.value).where(service_setting.c.name == name)
    ).scalar_one_or_none()


def write_setting(connection: Connection, name: str, value: str) -> None:
    """Write a setting once; StoreConflict when another process was first."""
    connection.execute(insert(service_setting).values(name=name, value=value))
