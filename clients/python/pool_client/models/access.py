"""What happened with access: who signed in, was refused, was let in or out, and by whom."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessDetail:
    """What more there is to say of an event, by its kind. of, count and since are of refusals that were left out; code,
    method and path of a write that was refused."""

    label: str | None = None
    session: str | None = None
    invitation: str | None = None
    role: str | None = None
    member: str | None = None
    role_before: str | None = None
    member_before: str | None = None
    code: str | None = None
    method: str | None = None
    path: str | None = None
    of: str | None = None
    count: int | None = None
    since: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessEvent:
    """Something that happened with access. event is its digest in the chain of events; by is role, member or -, and key
    or person, `server` for a command of the server, None for somebody unknown; peer is the address that it came from;
    about is whom or what it happened to: a person, key or invitation.

    kind is text: a service newer than this client may have further ones."""

    event: str
    at: datetime
    kind: str
    detail: AccessDetail
    by: str | None = None
    by_id: str | None = None
    by_name: str | None = None
    session: str | None = None
    peer: str | None = None
    about: str | None = None
    about_name: str | None = None
    pool: str | None = None
