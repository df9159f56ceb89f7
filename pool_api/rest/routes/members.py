"""Members of a pool and their vendor accounts over time."""

from typing import Annotated, Any

from fastapi import Response
from pydantic import Field

from pool_api.domain.pool import Handle, Member
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import Day, MemberCode, PoolId, ShortText, WireModel, stated
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
    return stated(
        {
            "code": member.code,
            "name": member.name,
            "joined_on": member.joined_on.isoformat(),
            "share": member.share,
            "handles": [{"handle": each.handle, "since": each.since.isoformat()} for each in member.handles],
            "left_on": None if member.left_on is None else member.left_on.isoformat(),
        }
    )


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
    return cursors.page(
        "list_members",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: terms.list_members(office, caller, pool, after=after or "", limit=most),
        show=_show,
        place=lambda member: member.code,
    )


@router.get("/{member}", response_model=MemberShown, operation_id="read_member", summary="Read a member")
def read(pool: PoolId, member: MemberCode, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None) -> Response:
    """The ETag is what a change has to state."""
    found, version = terms.read_member(office, caller, pool, member)
    return replies.read(_show(found), version, copies)


@router.put(
    "/{member}",
    response_model=MemberShown,
    operation_id="put_member",
    summary="Make or change a member",
    responses=replaceable(MemberShown),
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
    return replies.put(_show(made), version, f"/pools/{pool}/members/{member}", new=tag is None)
