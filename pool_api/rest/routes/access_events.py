"""What happened with access: of a pool for its keeper, and one's own for everybody."""

from typing import Annotated, Any, Literal

from fastapi import Depends, Query, Response
from pydantic import Field

from pool_api.domain.access_log import MOST_CHARACTERS, EventKind
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.people_forms import PoolRole
from pool_api.rest.wire import Day, Digest, Instant, MemberCode, PoolId, WireModel, stated
from pool_api.services import access_log
from pool_api.services.access_log import Wanted
from pool_api.store.access_log import Happening

router = gated_router("access")

_ID = "^p?[0-9a-f]{12}$"

ShownWho = Annotated[str, Field(pattern=_ID, examples=["p4f0c8e12ab34"])]
Said = Annotated[str, Field(max_length=MOST_CHARACTERS)]
WantedKind = Annotated[EventKind | None, Query(description="A kind of event.")]
Who = Annotated[
    str | None, Query(pattern=_ID, description="A person or key by its id: what it did, and what happened to it.")
]


class AccessDetailShown(WireModel):
    """What more there is to say of an event, by its kind. of, count and since are of refusals that were left out;
    code, method and path of a write that was refused."""

    label: Said | None = None
    session: Said | None = None
    invitation: Said | None = None
    role: Literal["operator", "keeper", "clerk", "reader"] | None = None
    member: MemberCode | None = None
    role_before: PoolRole | None = None
    member_before: MemberCode | None = None
    code: Said | None = None
    method: Said | None = None
    path: Said | None = None
    of: EventKind | None = None
    count: Annotated[int, Field(strict=True, ge=0)] | None = None
    since: Instant | None = None


class AccessEventShown(WireModel):
    """Something that happened with access. event is the digest by which it stands in the chain of events; by is role,
    member or -, and key or person, `server` for a command of the server, and absent for somebody unknown; peer is the
    address that it came from; about is whom or what it happened to: a person, key or invitation."""

    event: Digest
    at: Instant
    kind: EventKind
    by: Said | None = None
    by_id: ShownWho | None = None
    by_name: Said | None = None
    session: Said | None = None
    peer: Said | None = None
    about: ShownWho | None = None
    about_name: Said | None = None
    pool: PoolId | None = None
    detail: AccessDetailShown


def _show(found: Happening) -> dict[str, Any]:
    return stated(
        {
            "event": found.hash,
            "at": found.at,
            "kind": found.kind,
            "by": found.actor.by,
            "by_id": found.actor.by_id,
            "by_name": found.by_name,
            "session": found.actor.session,
            "peer": found.actor.peer,
            "about": found.about,
            "about_name": found.about_name,
            "pool": found.pool,
            "detail": found.detail,
        }
    )


async def wanted_of(
    kind: WantedKind = None, who: Who = None, from_day: Day | None = None, to_day: Day | None = None
) -> Wanted:
    """Give which events a request asks for."""
    return Wanted(kind=kind, who=who, from_day=from_day, to_day=to_day)


WantedOf = Annotated[Wanted, Depends(wanted_of)]


def _filters(wanted: Wanted) -> dict[str, Any]:
    return {"kind": wanted.kind, "who": wanted.who, "from_day": wanted.from_day, "to_day": wanted.to_day}


@router.get(
    "/pools/{pool}/access-events",
    response_model=Page[AccessEventShown],
    operation_id="list_access_events",
    summary="List what happened with access to the pool, newest first",
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    wanted: WantedOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """What happened in the pool, and the sign-ins of its people while they were in it. For keepers and operators."""
    return cursors.page(
        "list_access_events",
        {"pool": pool, **_filters(wanted)},
        cursor,
        limit,
        read=lambda before, most: access_log.list_of_pool(office, caller, pool, wanted, before=before, limit=most),
        show=_show,
        place=lambda event: event.hash,
    )


@router.get(
    "/access-events",
    response_model=Page[AccessEventShown],
    operation_id="list_own_access_events",
    summary="List what happened with my access, newest first",
)
def list_own(
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    wanted: WantedOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """What the caller did and what happened to it; for an operator everything. Days are those of UTC."""
    return cursors.page(
        "list_own_access_events",
        {"caller": caller.key_id, **_filters(wanted)},
        cursor,
        limit,
        read=lambda before, most: access_log.list_own(office, caller, wanted, before=before, limit=most),
        show=_show,
        place=lambda event: event.hash,
    )
