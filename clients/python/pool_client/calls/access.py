"""What happened with access, to a pool and to oneself."""

from datetime import date

from pool_client.calls.call import POOL, Call, Page, get, page, query
from pool_client.models.access import AccessEvent


def access_events(
    pool: str,
    /,
    *,
    kind: str | None = None,
    who: str | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
    limit: int | None = None,
) -> Call[Page[AccessEvent]]:
    """Give what happened with access to the pool, and the sign-ins of its people, newest first; for keepers.

    Takes:   who — a person's or key's id: what it did, and what happened to it; days are the pool's."""
    wanted = query(kind=kind, who=who, from_day=from_day, to_day=to_day, limit=limit)
    return get(f"{POOL}/access-events", {"pool": pool}, page(AccessEvent), query=wanted)


def own_access_events(
    *,
    kind: str | None = None,
    who: str | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
    limit: int | None = None,
) -> Call[Page[AccessEvent]]:
    """Give what the caller did and what happened to it, newest first; for an operator everything. Days are of UTC."""
    wanted = query(kind=kind, who=who, from_day=from_day, to_day=to_day, limit=limit)
    return get("/v1/access-events", {}, page(AccessEvent), query=wanted)
