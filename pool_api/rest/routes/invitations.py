"""Invitations: made and withdrawn by a pool's keeper or an operator, accepted by whoever holds the token.

A token stands in bodies only, never in an address: addresses are kept in logs and histories.
"""

from functools import partial
from typing import Any

from fastapi import Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.access import Caller, Membership, Role
from pool_api.domain.entries import digest
from pool_api.domain.errors import AcceptanceUnclear
from pool_api.rest import replies
from pool_api.rest.auth import CallerIfAny, CallerOf
from pool_api.rest.gate import ANYBODY, OPEN, gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, also
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.peers import PeerOf
from pool_api.rest.people_forms import (
    InvitationId,
    InvitationToken,
    NewPassword,
    PersonName,
    PoolRole,
    SessionMade,
    ShownId,
    ShownPersonId,
    show_made,
)
from pool_api.rest.sign_ins import SignInsOf
from pool_api.rest.wire import IdempotencyKey, Instant, MemberCode, Note, PoolId, ShortText, WireModel, stated
from pool_api.services import people
from pool_api.services.people import Newcomer
from pool_api.store.people import Invitation

router = gated_router("people")

_OF_POOL = "/pools/{pool}/invitations"


class InvitationForm(WireModel):
    """What somebody is invited to be; a clerk's names its member, no other does."""

    role: PoolRole
    member: MemberCode | None = None
    note: Note = ""


class InvitationShown(WireModel):
    """An invitation without its token. Open until it is accepted, withdrawn, or expires."""

    invitation: ShownId
    role: PoolRole
    member: MemberCode | None = None
    note: Note
    made_at: Instant
    made_by: str = Field(max_length=200, description="Role, member or -, and key or person.")
    expires_at: Instant
    accepted_at: Instant | None = None
    accepted_by: ShownPersonId | None = None
    withdrawn_at: Instant | None = None


class InvitationMade(InvitationShown):
    """An invitation just made. Its token is shown this once; an answer to a repeated request has none."""

    token: str | None = Field(default=None, max_length=80)


class InvitationOpened(WireModel):
    """What a token invites to."""

    pool: PoolId
    name: ShortText
    role: PoolRole
    member: MemberCode | None = None
    note: Note
    expires_at: Instant


class TokenForm(WireModel):
    """The token of an invitation."""

    token: InvitationToken


class AcceptanceForm(WireModel):
    """The token, and the name and password to sign in with from now on; who has signed in leaves those out."""

    token: InvitationToken
    name: PersonName | None = None
    password: NewPassword | None = None
    label: ShortText | None = None


def _show(invitation: Invitation) -> dict[str, Any]:
    return stated(
        {
            "invitation": invitation.invitation_id,
            "role": invitation.role,
            "member": invitation.member,
            "note": invitation.note,
            "made_at": invitation.made_at,
            "made_by": invitation.made_by,
            "expires_at": invitation.expires_at,
            "accepted_at": invitation.accepted_at,
            "accepted_by": invitation.accepted_by,
            "withdrawn_at": invitation.withdrawn_at,
        }
    )


@router.get(
    _OF_POOL, response_model=Page[InvitationShown], operation_id="list_invitations", summary="List the invitations"
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their ids, used, withdrawn and expired ones too."""
    return cursors.page(
        "list_invitations",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: people.list_invitations(office, caller, pool, after=after or "", limit=most),
        show=_show,
        place=lambda invitation: invitation.invitation_id,
    )


@router.post(_OF_POOL, status_code=201, response_model=InvitationMade, operation_id="invite", summary="Invite somebody")
def create(pool: PoolId, asked: InvitationForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf) -> Response:
    """For 72 hours, for one person. The token is in the first answer only: give it to nobody else."""
    made, token = people.invite(
        office,
        caller,
        Membership(pool=pool, role=Role(asked.role), member=asked.member),
        note=asked.note,
        idempotency_key=key,
        fingerprint=digest(asked.model_dump(mode="json", exclude_none=True)),
    )
    shown = stated({**_show(made), "token": token})
    return replies.made(shown, f"/pools/{pool}/invitations/{made.invitation_id}", replayed=token is None)


@router.get(
    _OF_POOL + "/{invitation}",
    response_model=InvitationShown,
    operation_id="read_invitation",
    summary="Read an invitation",
)
def read(pool: PoolId, invitation: InvitationId, caller: CallerOf, office: OfficeOf) -> Response:
    """Everything about it but its token."""
    return JSONResponse(_show(people.read_invitation(office, caller, pool, invitation)))


@router.delete(
    _OF_POOL + "/{invitation}", status_code=204, operation_id="withdraw_invitation", summary="Withdraw an invitation"
)
def delete(pool: PoolId, invitation: InvitationId, caller: CallerOf, office: OfficeOf) -> Response:
    """Its token is worth nothing from now on; one that was accepted stays so."""
    people.withdraw(office, caller, pool, invitation)
    return Response(status_code=204)


@router.post(
    "/invitations/reading",
    response_model=InvitationOpened,
    operation_id="open_invitation",
    summary="See what a token invites to",
    openapi_extra=OPEN,
    responses=also(409, 503),
)
def open_(asked: TokenForm, office: OfficeOf) -> Response:
    """Changes nothing."""
    found, name = people.look_at(office, asked.token)
    shown = {
        "pool": found.pool,
        "name": name,
        "role": found.role,
        "member": found.member,
        "note": found.note,
        "expires_at": found.expires_at,
    }
    return JSONResponse(stated(shown))


@router.post(
    "/invitations/acceptance",
    status_code=201,
    response_model=SessionMade,
    operation_id="accept_invitation",
    summary="Accept an invitation",
    openapi_extra=ANYBODY,
    responses={201: {"headers": LOCATION}, **also(409)},
)
async def accept(
    asked: AcceptanceForm, caller: CallerIfAny, peer: PeerOf, office: OfficeOf, sign_ins: SignInsOf
) -> Response:
    """As somebody new, who is signed in by it; or as the person that the request's token belongs to."""
    _check_who(asked, caller)
    if caller is not None:
        person, session = await run_in_threadpool(people.join_too, office, caller, asked.token)
        return replies.made(show_made(person, session, None), "/session")
    newcomer = Newcomer(name=asked.name or "", password=asked.password or "", label=asked.label or "", peer=peer)
    made = await sign_ins.run(partial(people.join, office, asked.token, newcomer))
    return replies.made(show_made(made.person, made.session, made.token), "/session")


def _check_who(asked: AcceptanceForm, caller: Caller | None) -> None:
    """Refuses: AcceptanceUnclear unless somebody new gives name and password, or somebody who has signed in neither."""
    given = {asked.name is not None, asked.password is not None}
    if given != {caller is None}:
        raise AcceptanceUnclear
