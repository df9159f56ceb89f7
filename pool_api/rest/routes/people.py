"""The people of a pool: who they are and were, and what they may do there."""

from typing import Any

from fastapi import Response
from pydantic import Field

from pool_api.domain.access import Role
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatch, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import ETAG
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.people_forms import PersonId, PersonName, PoolRole, ShownPersonId
from pool_api.rest.wire import Instant, MemberCode, PoolId, WireModel, stated
from pool_api.services import people
from pool_api.store.people import PoolPerson

router = gated_router("people", "/pools/{pool}/people")


class RoleForm(WireModel):
    """What somebody is in the pool; a clerk's names its member, no other does."""

    role: PoolRole
    member: MemberCode | None = None


class PoolPersonShown(RoleForm):
    """What somebody is in the pool, or was until ended_at. Entries name the person by its id."""

    person: ShownPersonId
    name: PersonName
    joined_at: Instant
    ended_at: Instant | None = Field(default=None)


def _show(shown: PoolPerson) -> dict[str, Any]:
    return stated(
        {
            "person": shown.person_id,
            "name": shown.name,
            "role": shown.role,
            "member": shown.member,
            "joined_at": shown.joined_at,
            "ended_at": shown.ended_at,
        }
    )


@router.get("", response_model=Page[PoolPersonShown], operation_id="list_people", summary="List the people")
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their ids, those who were taken out too."""
    return cursors.page(
        "list_people",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: people.list_people(office, caller, pool, after=after or "", limit=most),
        show=_show,
        place=lambda person: person.person_id,
    )


@router.get("/{person}", response_model=PoolPersonShown, operation_id="read_person", summary="Read a person")
def read(pool: PoolId, person: PersonId, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """The ETag is what a change has to state."""
    found = people.read_one(office, caller, pool, person)
    return replies.read(_show(found), found.version, copies)


@router.put(
    "/{person}",
    response_model=PoolPersonShown,
    operation_id="put_person",
    summary="Change a person's role",
    responses={200: {"headers": ETAG}},
)
def put(pool: PoolId, person: PersonId, asked: RoleForm, caller: CallerOf, office: OfficeOf, tag: IfMatch) -> Response:
    """From the next request on. Somebody who was taken out comes in again by it; others come in by invitation."""
    changed = people.change(
        office, caller, pool, person, role=Role(asked.role), member=asked.member, version=version_in(tag)
    )
    return replies.put(_show(changed), changed.version, f"/pools/{pool}/people/{person}", new=False)


@router.delete("/{person}", status_code=204, operation_id="take_person_out", summary="Take a person out")
def delete(pool: PoolId, person: PersonId, caller: CallerOf, office: OfficeOf) -> Response:
    """From the next request on the pool doesn't exist for the person, who stays in the list, since entries name it."""
    people.take_out(office, caller, pool, person)
    return Response(status_code=204)
