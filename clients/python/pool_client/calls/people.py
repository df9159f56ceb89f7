"""People who sign in: sessions, passwords and second factors, the people of a pool, invitations.

What takes a password or a token has no idempotency key: nothing that could be told again is kept of it.
"""

from typing import TypeVar

from pool_client.calls.call import POOL, Call, Page, Versioned, get, model, nothing, page, put, query, versioned
from pool_client.models.directory import Role
from pool_client.models.people import (
    Invitation,
    InvitationMade,
    InvitationOpened,
    PoolPerson,
    RecoveryCodes,
    SecondFactor,
    SecondFactorBegun,
    Session,
    SessionMade,
    Who,
)
from pool_client.wire import write

T = TypeVar("T")

_SESSIONS = "/v1/sessions"
_SECOND_FACTOR = "/v1/second-factor"


def sign_in(*, name: str, password: str, label: str | None = None) -> Call[SessionMade]:
    """Sign in, and give a session whose token serves as the key of another client. Needs no key itself.

    Refuses: NotAllowed when name or password is wrong, and under the code `code-needed` where both are right and there
             is a second factor: its fields have the ticket for complete_sign_in; Busy after too many wrong ones."""
    body = write({"name": name, "password": password, "label": label})
    return Call(method="POST", path=_SESSIONS, body=body, understand=model(SessionMade))


def complete_sign_in(*, name: str, ticket: str, code: str, label: str | None = None) -> Call[SessionMade]:
    """Sign in by a ticket, which stands for the password for 5 minutes, and a code. Needs no key itself.

    Takes:   code — of the authenticator app, or a recovery code; each counts once.
    Refuses: NotAllowed when the ticket is void or the code is wrong; Busy after too many wrong ones."""
    body = write({"name": name, "ticket": ticket, "code": code, "label": label})
    return Call(method="POST", path="/v1/session/completion", body=body, understand=model(SessionMade))


def second_factor() -> Call[SecondFactor]:
    """Give since when one has a second factor, and how many recovery codes are left."""
    return get(_SECOND_FACTOR, {}, model(SecondFactor))


def begin_second_factor() -> Call[SecondFactorBegun]:
    """Begin a second factor, and give what an authenticator app has to take in; a code then confirms it.

    Refuses: NotAllowed until the password is given again; Refused where there is one already."""
    return Call(method="POST", path=_SECOND_FACTOR, understand=model(SecondFactorBegun))


def confirm_second_factor(*, code: str) -> Call[RecoveryCodes]:
    """Confirm the second factor begun by a code of the app, end one's other sessions, and give recovery codes.

    Refuses: NotAllowed for a wrong code; Refused where none was begun."""
    return _with_code("confirmation", code, RecoveryCodes)


def renew_recovery_codes(*, code: str) -> Call[RecoveryCodes]:
    """Make new recovery codes; the old ones are void.

    Refuses: NotAllowed for a wrong code, and until the password is given again; Refused without a second factor."""
    return _with_code("recovery-codes", code, RecoveryCodes)


def take_off_second_factor(*, code: str) -> Call[None]:
    """Take one's second factor off, and end one's other sessions. Refuses as renew_recovery_codes does."""
    return Call(method="POST", path=f"{_SECOND_FACTOR}/removal", body={"code": code}, understand=nothing)


def _with_code(what: str, code: str, shown: type[T]) -> Call[T]:
    return Call(method="POST", path=f"{_SECOND_FACTOR}/{what}", body={"code": code}, understand=model(shown))


def who() -> Call[Who]:
    """Give who is calling, a person or a key, and what it is in which pools."""
    return get("/v1/session", {}, model(Who))


def sign_out() -> Call[None]:
    """End the session that this client's key is the token of."""
    return Call(method="DELETE", path="/v1/session", understand=nothing)


def confirm_session(*, password: str) -> Call[Session]:
    """Give the password again: for a while the session then may make keys and invitations, change roles, and change the
    second factor."""
    return Call(method="POST", path="/v1/session/confirmation", body={"password": password}, understand=model(Session))


def sessions(*, limit: int | None = None) -> Call[Page[Session]]:
    """Give one's own sessions that last, in order of their ids."""
    return get(_SESSIONS, {}, page(Session), query=query(limit=limit))


def end_session(*, session: str) -> Call[None]:
    """End one of one's own sessions."""
    return Call(
        method="DELETE",
        path=f"{_SESSIONS}/{{session}}",
        places={"session": session},
        understand=nothing,
        harmless=True,
    )


def end_other_sessions() -> Call[None]:
    """End one's own sessions but the present one."""
    return Call(method="DELETE", path=_SESSIONS, understand=nothing, harmless=True)


def change_password(*, current: str, new: str) -> Call[None]:
    """Change one's own password, and end one's other sessions.

    Refuses: NotAllowed when current is wrong; Refused for a new one that is too short, common, or hardly a secret."""
    return Call(method="PUT", path="/v1/password", body={"current": current, "new": new}, understand=nothing)


def open_invitation(*, token: str) -> Call[InvitationOpened]:
    """Give what a token invites to. Needs no key. Refuses: Refused for a token that is void."""
    return Call(
        method="POST",
        path="/v1/invitations/reading",
        body={"token": token},
        understand=model(InvitationOpened),
        harmless=True,
    )


def accept_invitation(
    *, token: str, name: str | None = None, password: str | None = None, label: str | None = None
) -> Call[SessionMade]:
    """Accept an invitation: with name and password, and without a key, as somebody new, who is signed in by it; without
    them as the person whose session this client has."""
    body = write({"token": token, "name": name, "password": password, "label": label})
    return Call(method="POST", path="/v1/invitations/acceptance", body=body, understand=model(SessionMade))


def people(pool: str, /, *, limit: int | None = None) -> Call[Page[PoolPerson]]:
    """Give the people, those who were taken out too, in order of their ids."""
    return get(f"{POOL}/people", {"pool": pool}, page(PoolPerson), query=query(limit=limit))


def person(pool: str, /, *, person: str) -> Call[Versioned[PoolPerson]]:
    """Give one of the people."""
    return get(f"{POOL}/people/{{person}}", {"pool": pool, "person": person}, versioned(PoolPerson))


def put_person(pool: str, person: PoolPerson, /, *, tag: str) -> Call[Versioned[PoolPerson]]:
    """Change what somebody is in the pool, from the next request on.

    Takes:   person — of which only role and member can change; tag — the one that it was read with."""
    places = {"pool": pool, "person": person.person}
    told = ("name", "joined_at", "ended_at")
    return put(f"{POOL}/people/{{person}}", places, person, named_by="person", tag=tag, told=told)


def take_person_out(pool: str, /, *, person: str) -> Call[None]:
    """Take somebody out of the pool, from the next request on."""
    return Call(
        method="DELETE",
        path=f"{POOL}/people/{{person}}",
        places={"pool": pool, "person": person},
        understand=nothing,
        harmless=True,
    )


def invitations(pool: str, /, *, limit: int | None = None) -> Call[Page[Invitation]]:
    """Give the invitations, used, withdrawn and expired ones too, in order of their ids; never their tokens."""
    return get(f"{POOL}/invitations", {"pool": pool}, page(Invitation), query=query(limit=limit))


def invitation(pool: str, /, *, invitation: str) -> Call[Invitation]:
    """Give one invitation, without its token."""
    return get(f"{POOL}/invitations/{{invitation}}", {"pool": pool, "invitation": invitation}, model(Invitation))


def invite(
    pool: str, /, *, role: Role, member: str | None = None, note: str = "", idempotency_key: str | None = None
) -> Call[InvitationMade]:
    """Invite somebody; a clerk's invitation names its member. Its token is in the answer to the first request only."""
    return Call(
        method="POST",
        path=f"{POOL}/invitations",
        places={"pool": pool},
        body=write({"role": role, "member": member, "note": note}),
        understand=model(InvitationMade),
        keyed=True,
        key=idempotency_key,
    )


def withdraw_invitation(pool: str, /, *, invitation: str) -> Call[None]:
    """Withdraw an invitation that nobody has accepted."""
    return Call(
        method="DELETE",
        path=f"{POOL}/invitations/{{invitation}}",
        places={"pool": pool, "invitation": invitation},
        understand=nothing,
        harmless=True,
    )
