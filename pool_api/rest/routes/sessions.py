"""Signing in and out: sessions of people, who is calling, and passwords."""

from datetime import datetime
from functools import partial
from typing import Annotated, Any, Literal

from fastapi import Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.access import Caller
from pool_api.domain.people import SessionRules, sign_in_name
from pool_api.domain.values import instant_text
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import OPEN, gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, also
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.peers import PeerOf
from pool_api.rest.people_forms import (
    Code,
    NewPassword,
    Password,
    PersonName,
    PoolOfCaller,
    SessionId,
    SessionMade,
    SessionShown,
    Ticket,
    show_made,
)
from pool_api.rest.sign_ins import SignInsOf, attempt_own
from pool_api.rest.wire import Flag, ShortText, WireModel, stated
from pool_api.services import sessions
from pool_api.store.people import Session

router = gated_router("sessions")


class SignInForm(WireModel):
    """Who signs in; label tells the session from others in the person's own list."""

    name: PersonName
    password: Password
    label: ShortText | None = None


class CompletionForm(WireModel):
    """Who signs in, the ticket that stands for the password, and a code; label as when signing in."""

    name: PersonName
    ticket: Ticket
    code: Code
    label: ShortText | None = None


class ConfirmationForm(WireModel):
    """The password again."""

    password: Password


class PasswordForm(WireModel):
    """Another password."""

    current: Password
    new: NewPassword


class WhoShown(WireModel):
    """Who is calling: a person with its session, or a key. An operator's key belongs to no pool."""

    kind: Literal["person", "key"]
    id: Annotated[
        str,
        Field(
            pattern="^p?[0-9a-f]{12}$",
            examples=["p4f0c8e12ab34"],
            description="Of a person, or the public part of a key.",
        ),
    ]
    name: ShortText
    is_operator: Flag
    has_second_factor: Flag
    session: SessionShown | None = None
    pools: Annotated[list[PoolOfCaller], Field(max_length=1_000)]


def _show(rules: SessionRules, caller: Caller, session: Session) -> dict[str, Any]:
    used, confirmed = (datetime.fromisoformat(each) for each in (session.last_used_at, session.confirmed_at))
    return stated(
        {
            "session": session.session_id,
            "label": session.label or None,
            "peer": session.peer,
            "made_at": session.made_at,
            "last_used_at": session.last_used_at,
            "idle_until": instant_text(used + rules.idle),
            "expires_at": session.expires_at,
            "confirmed_at": session.confirmed_at,
            "confirmed_until": instant_text(confirmed + rules.fresh),
            "current": session.session_id == caller.session,
        }
    )


@router.post(
    "/sessions",
    status_code=201,
    response_model=SessionMade,
    operation_id="sign_in",
    summary="Sign in",
    openapi_extra=OPEN,
    responses={201: {"headers": LOCATION}, **also(401, 503)},
)
async def sign_in(asked: SignInForm, peer: PeerOf, office: OfficeOf, sign_ins: SignInsOf) -> Response:
    """With name and password. Wrong ones make the next try wait longer and longer (429); the answer doesn't tell which
    of the two was wrong. Where both are right and the person has a second factor, the answer (401, `code-needed`) has
    a ticket to complete the sign-in with, and there is no session yet."""
    is_usual = await run_in_threadpool(sessions.is_usual, office, asked.name, peer)
    work = partial(
        sessions.sign_in, office, name=asked.name, password=asked.password, label=asked.label or "", peer=peer
    )
    delayed = partial(sessions.note_throttled, office, name=asked.name, peer=peer)
    made = await sign_ins.attempt(work, peer=peer, name=sign_in_name(asked.name), is_usual=is_usual, delayed=delayed)
    return replies.made(show_made(made.person, made.session, made.token), "/session")


@router.post(
    "/session/completion",
    status_code=201,
    response_model=SessionMade,
    operation_id="complete_sign_in",
    summary="Sign in: the second factor",
    openapi_extra=OPEN,
    responses={201: {"headers": LOCATION}, **also(401, 503)},
)
async def complete(asked: CompletionForm, peer: PeerOf, office: OfficeOf, sign_ins: SignInsOf) -> Response:
    """With the ticket of a sign-in that needs a code. Each code counts once; wrong ones in a row make the next wait, up
    to a day, but for recovery codes."""
    is_usual = await run_in_threadpool(sessions.is_usual, office, asked.name, peer)
    work = partial(
        sessions.complete_sign_in,
        office,
        name=asked.name,
        ticket=asked.ticket,
        code=asked.code,
        label=asked.label or "",
        peer=peer,
    )
    delayed = partial(sessions.note_throttled, office, name=asked.name, peer=peer)
    made = await sign_ins.attempt(work, peer=peer, name=sign_in_name(asked.name), is_usual=is_usual, delayed=delayed)
    return replies.made(show_made(made.person, made.session, made.token), "/session")


@router.get("/sessions", response_model=Page[SessionShown], operation_id="list_sessions", summary="List my sessions")
def list_(
    caller: CallerOf, office: OfficeOf, cursors: CursorsOf, limit: Limit = USUAL_ROWS, cursor: Cursor = None
) -> Response:
    """Those that last, in order of their ids."""
    return cursors.page(
        "list_sessions",
        {"person": caller.key_id},
        cursor,
        limit,
        read=lambda after, most: sessions.list_sessions(office, caller, after=after or "", limit=most),
        show=lambda session: _show(office.sessions, caller, session),
        place=lambda session: session.session_id,
    )


@router.delete("/sessions", status_code=204, operation_id="end_other_sessions", summary="End my other sessions")
def delete_others(caller: CallerOf, office: OfficeOf) -> Response:
    """All but the present one."""
    sessions.end_other_sessions(office, caller)
    return Response(status_code=204)


@router.delete("/sessions/{session}", status_code=204, operation_id="end_session", summary="End one of my sessions")
def delete(session: SessionId, caller: CallerOf, office: OfficeOf) -> Response:
    """From the next request on its token is worth nothing."""
    sessions.end_session(office, caller, session)
    return Response(status_code=204)


@router.get("/session", response_model=WhoShown, operation_id="read_session", summary="Who am I?")
def read(caller: CallerOf, office: OfficeOf) -> Response:
    """For a person and for a key alike: what it is in which pools."""
    own = sessions.read_own(office, caller)
    shown = {
        "kind": "key" if own is None else "person",
        "id": caller.key_id,
        "name": caller.name,
        "is_operator": caller.role == "operator",
        "has_second_factor": caller.has_second_factor,
        "session": None if own is None else _show(office.sessions, caller, own),
        "pools": [
            stated({"pool": each.pool, "name": name, "role": each.role, "member": each.member})
            for each, name in sessions.list_own_pools(office, caller)
        ],
    }
    return JSONResponse(stated(shown))


@router.delete("/session", status_code=204, operation_id="sign_out", summary="Sign out")
def sign_out(caller: CallerOf, office: OfficeOf) -> Response:
    """The token that this request came with is worth nothing from now on."""
    sessions.end_session(office, caller)
    return Response(status_code=204)


@router.post(
    "/session/confirmation",
    response_model=SessionShown,
    operation_id="confirm_session",
    summary="Give the password again",
)
async def confirm(
    asked: ConfirmationForm, peer: PeerOf, caller: CallerOf, office: OfficeOf, sign_ins: SignInsOf
) -> Response:
    """For a while the session then may do what needs it: make keys and invitations, change roles and the second
    factor."""
    work = partial(sessions.confirm, office, caller, asked.password)
    found = await attempt_own(sign_ins, office, caller, peer, work)
    return JSONResponse(_show(office.sessions, caller, found))


@router.put("/password", status_code=204, operation_id="put_password", summary="Change my password")
async def put_password(
    asked: PasswordForm, peer: PeerOf, caller: CallerOf, office: OfficeOf, sign_ins: SignInsOf
) -> Response:
    """Ends the other sessions."""
    work = partial(sessions.change_password, office, caller, current=asked.current, new=asked.new)
    await attempt_own(sign_ins, office, caller, peer, work)
    return Response(status_code=204)
