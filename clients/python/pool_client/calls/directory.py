"""Pools, members and API keys."""

from datetime import datetime

from pool_client.calls.call import POOL, Call, Page, Versioned, get, items, model, nothing, page, put, query, versioned
from pool_client.models.directory import Key, KeyMade, Member, PolicyFrom, Pool, Role
from pool_client.wire import write


def pools(*, limit: int | None = None) -> Call[Page[Pool]]:
    """Give every pool that the key may see, in order of their ids."""
    return get("/v1/pools", {}, page(Pool), query=query(limit=limit))


def terms(pool: str, /) -> Call[Versioned[Pool]]:
    """Give the pool's terms."""
    return get(POOL, {"pool": pool}, versioned(Pool))


def put_pool(pool: Pool, /, *, tag: str | None = None) -> Call[Versioned[Pool]]:
    """Make a pool, or change its terms.

    Takes:   tag — None to make it, for operators; else the tag that the terms were read with.
    Refuses: Refused when it is there already, or a term can't change any more; Stale when somebody was faster."""
    return put(POOL, {"pool": pool.id}, pool, named_by="id", tag=tag)


def policies(pool: str, /) -> Call[tuple[PolicyFrom, ...]]:
    """Give the policy that the pool began with and those agreed since, in the order of their months."""
    return get(f"{POOL}/policies", {"pool": pool}, items(PolicyFrom))


def policy(pool: str, /, *, month: str) -> Call[Versioned[PolicyFrom]]:
    """Give the policy that begins with a month."""
    return get(f"{POOL}/policies/{{month}}", {"pool": pool, "month": month}, versioned(PolicyFrom))


def put_policy(pool: str, policy: PolicyFrom, /, *, tag: str | None = None) -> Call[Versioned[PolicyFrom]]:
    """Agree a policy from a month on, or change one.

    Takes:   tag — None where no policy begins with the month yet; else the tag that it was read with.
    Refuses: as put_pool; Refused for a closed month."""
    places = {"pool": pool, "month": policy.from_month}
    return put(f"{POOL}/policies/{{month}}", places, policy, named_by="from_month", tag=tag)


def members(pool: str, /, *, limit: int | None = None) -> Call[Page[Member]]:
    """Give the members, those who left too, in order of their codes."""
    return get(f"{POOL}/members", {"pool": pool}, page(Member), query=query(limit=limit))


def member(pool: str, /, *, code: str) -> Call[Versioned[Member]]:
    """Give one member."""
    return get(f"{POOL}/members/{{member}}", {"pool": pool, "member": code}, versioned(Member))


def put_member(pool: str, member: Member, /, *, tag: str | None = None) -> Call[Versioned[Member]]:
    """Make or change a member.

    Takes:   tag — None to make it; else the tag that the member was read with.
    Refuses: as put_pool."""
    places = {"pool": pool, "member": member.code}
    return put(f"{POOL}/members/{{member}}", places, member, named_by="code", tag=tag)


def keys(pool: str, /, *, limit: int | None = None) -> Call[Page[Key]]:
    """Give the API keys, ended ones too, in order of their ids; never their texts."""
    return get(f"{POOL}/keys", {"pool": pool}, page(Key), query=query(limit=limit))


def key(pool: str, /, *, key_id: str) -> Call[Key]:
    """Give one API key, without its text."""
    return get(f"{POOL}/keys/{{key_id}}", {"pool": pool, "key_id": key_id}, model(Key))


def make_key(
    pool: str,
    /,
    *,
    name: str,
    role: Role,
    member: str | None = None,
    expires_at: datetime | None = None,
    idempotency_key: str | None = None,
) -> Call[KeyMade]:
    """Make an API key; a clerk's names its member. Its text is in the answer to the first request only."""
    return Call(
        method="POST",
        path=f"{POOL}/keys",
        places={"pool": pool},
        body=write({"name": name, "role": role, "member": member, "expires_at": expires_at}),
        understand=model(KeyMade),
        keyed=True,
        key=idempotency_key,
    )


def end_key(pool: str, /, *, key_id: str) -> Call[None]:
    """End an API key: from the next request on it is worth nothing."""
    return Call(
        method="DELETE",
        path=f"{POOL}/keys/{{key_id}}",
        places={"pool": pool, "key_id": key_id},
        understand=nothing,
        harmless=True,
    )
