"""Members of a pool and their vendor accounts over time."""

from typing import Annotated, Any

from fastapi import Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.pool import Handle, Member
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, is_current, version_in, version_tag
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import ETAG, LOCATION
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import Day, MemberCode, PoolId, ShortText, WireModel
from pool_api.services import terms

router = gated_router("members", "/pools/{pool}/members")


class HandleForm(WireModel):
    """The member's account at the vendor from a day on, until the next one."""

    handle: ShortText
    since: Day


class MemberForm(WireModel):
    """A shop in the pool. It can leave only when it holds, owes and is owed nothing."""

    name: ShortText
    joined_on: Day
    left_on: Day | None = None
    share: Annotated[int, Field(strict=True, ge=0, le=1_000_000)] = 1
    handles: Annotated[list[HandleForm], Field(max_length=100)] = []


class MemberShown(MemberForm):
    """A shop in the pool."""

    code: MemberCode


def _show(member: Member) -> dict[str, Any]:
    shown: dict[str, Any] = {
        "code": member.code,
        "name": member.name,
        "joined_on": member.joined_on.isoformat(),
        "share": member.share,
        "handles": [{"handle": each.handle, "since": each.since.isoformat()} for each in member.handles],
    }
    if member.left_on is not None:
        shown["left_on"] = member.left_on.isoformat()
    return shown


@router.get("", response_model=Page[MemberShown], operation_id="list_members", summary="List the members")
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their codes, those who left too."""
    place = cursors.open("list_members", {"pool": pool}, cursor)
    found = terms.list_members(office, caller, pool, after=place[0] if place else "", limit=limit + 1)
    page: dict[str, Any] = {"items": [_show(member) for member in found[:limit]]}
    if len(found) > limit:
        page["next"] = cursors.seal("list_members", {"pool": pool}, [found[limit - 1].code])
    return JSONResponse(page)


@router.get("/{member}", response_model=MemberShown, operation_id="read_member", summary="Read a member")
def read(pool: PoolId, member: MemberCode, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """The ETag is what a change has to state."""
    found, version = terms.read_member(office, caller, pool, member)
    tag = version_tag(version)
    if is_current(copies, tag):
        return Response(status_code=304, headers={"ETag": tag})
    return JSONResponse(_show(found), headers={"ETag": tag})


@router.put(
    "/{member}",
    response_model=MemberShown,
    operation_id="put_member",
    summary="Make or change a member",
    responses={
        200: {"headers": ETAG},
        201: {"model": MemberShown, "headers": {**LOCATION, **ETAG}, "description": "It was made."},
    },
)
def put(
    pool: PoolId, member: MemberCode, asked: MemberForm, caller: CallerOf, office: OfficeOf, tag: IfMatchOrNew = None
) -> Response:
    """Without If-Match a member is made; with the ETag that was read it is changed."""
    wanted = Member(
        code=member,
        name=asked.name,
        joined_on=asked.joined_on,
        left_on=asked.left_on,
        share=asked.share,
        handles=tuple(Handle(handle=each.handle, since=each.since) for each in asked.handles),
    )
    made, version = terms.put_member(office, caller, pool, wanted, version_in(tag))
    headers = {"ETag": version_tag(version)}
    if tag is None:
        headers["Location"] = f"/v1/pools/{pool}/members/{member}"
    return JSONResponse(_show(made), 201 if tag is None else 200, headers)
