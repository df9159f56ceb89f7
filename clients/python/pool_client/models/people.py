"""People who sign in: who is calling, sessions, second factors, what people are in pools, invitations."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from pool_client.models.directory import Role


class Kind(StrEnum):
    """What a caller is."""

    PERSON = "person"
    KEY = "key"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who signs in; person is the id that entries name it by."""

    person: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A session. It ends when it isn't used until idle_until, and at expires_at in any case; until confirmed_until the
    password needn't be given again for what asks for it. peer is the address that it was made from."""

    session: str
    peer: str
    made_at: datetime
    last_used_at: datetime
    idle_until: datetime
    expires_at: datetime
    confirmed_at: datetime
    confirmed_until: datetime
    current: bool
    label: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionMade:
    """A session just made. Its token serves as the key of a client, and isn't in the value's repr; there is none for
    who has accepted an invitation in a session that goes on."""

    session: str
    person: Person
    expires_at: datetime
    token: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolOfCaller:
    """What the caller is in a pool; name is the pool's."""

    pool: str
    name: str
    role: Role
    member: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """Who is calling. id is a person's, or the public part of a key."""

    kind: Kind
    id: str
    name: str
    is_operator: bool
    has_second_factor: bool
    pools: tuple[PoolOfCaller, ...]
    session: Session | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondFactor:
    """Since when somebody has a second factor, if at all; recovery_codes is how many of them are left."""

    recovery_codes: int
    confirmed_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondFactorBegun:
    """What an authenticator app has to take in, by hand or as a picture of the address; neither is in the repr."""

    secret: str = field(repr=False)
    address: str = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecoveryCodes:
    """Codes for when the app is out of reach; each counts once. They aren't in the value's repr."""

    recovery_codes: tuple[str, ...] = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PoolPerson:
    """What somebody is in the pool, or was until ended_at; a clerk's has a member, no other."""

    person: str
    name: str
    role: Role
    joined_at: datetime
    member: str | None = None
    ended_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Invitation:
    """An invitation without its token."""

    invitation: str
    role: Role
    note: str
    made_at: datetime
    made_by: str
    expires_at: datetime
    member: str | None = None
    accepted_at: datetime | None = None
    accepted_by: str | None = None
    withdrawn_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InvitationMade(Invitation):
    """An invitation just made. Its token is in the first answer only, and not in the value's repr."""

    token: str | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class InvitationOpened:
    """What a token invites to; name is the pool's."""

    pool: str
    name: str
    role: Role
    note: str
    expires_at: datetime
    member: str | None = None
