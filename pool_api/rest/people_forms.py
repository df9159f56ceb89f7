"""How people, sessions and what goes with them look on the wire."""

from typing import Annotated, Any, Literal

from fastapi import Path
from pydantic import Field

from pool_api.domain.people import ADVISED_CHARACTERS, LEAST_CHARACTERS, MOST_CHARACTERS
from pool_api.rest.wire import Flag, Instant, MemberCode, PoolId, ShortText, WireModel, stated
from pool_api.store.people import Person, Session

PERSON_PATTERN = "^p[0-9a-f]{12}$"
_ID_PATTERN = "^[0-9a-f]{12}$"

PersonId = Annotated[str, Path(pattern=PERSON_PATTERN, description="The id of a person.")]
SessionId = Annotated[str, Path(pattern=_ID_PATTERN, description="The id of a session.")]
InvitationId = Annotated[str, Path(pattern=_ID_PATTERN, description="The id of an invitation.")]

ShownId = Annotated[str, Field(pattern=_ID_PATTERN)]
ShownPersonId = Annotated[str, Field(pattern=PERSON_PATTERN, examples=["p4f0c8e12ab34"])]

PersonName = Annotated[
    str,
    Field(
        pattern=r"^[^\x00-\x20\x7f-\xa0][^\x00-\x1f\x7f-\x9f]*$",
        min_length=1,
        max_length=100,
        examples=["Ines Walder"],
        description="The name that somebody signs in by; capitals and blanks more or less are the same.",
    ),
]
_PRINTED = r"^[^\x00-\x1f\x7f-\x9f]+$"

Password = Annotated[
    str,
    Field(
        pattern=_PRINTED,
        min_length=1,
        max_length=MOST_CHARACTERS,
        examples=["four words in a row"],
        description="A password.",
    ),
]
NewPassword = Annotated[
    str,
    Field(
        pattern=_PRINTED,
        min_length=LEAST_CHARACTERS,
        max_length=MOST_CHARACTERS,
        examples=["four words in a row"],
        description=f"At least {LEAST_CHARACTERS} characters, better {ADVISED_CHARACTERS}, of any kind; none that many "
        "people have, and hardly more than a name is refused.",
    ),
]
InvitationToken = Annotated[
    str,
    Field(
        pattern="^cpi_[0-9a-f]{12}_[0-9a-f]{40}$",
        examples=["cpi_" + "0" * 12 + "_" + "0" * 40],
        description="The token of an invitation.",
    ),
]
Ticket = Annotated[
    str,
    Field(
        pattern="^cpt_[0-9a-f]{12}_[0-9a-f]{40}$",
        examples=["cpt_" + "0" * 12 + "_" + "0" * 40],
        description="What stands for a password that was right, for 5 minutes; it opens nothing without a code.",
    ),
]
Code = Annotated[
    str,
    Field(
        pattern="^[0-9A-Za-z -]{6,40}$",
        examples=["492039"],
        description="Six digits of the authenticator app, or a recovery code; blanks, hyphens and capitals are free.",
    ),
]
SessionToken = Annotated[
    str, Field(pattern="^cps_[0-9a-f]{12}_[0-9a-f]{40}$", examples=["cps_" + "0" * 12 + "_" + "0" * 40])
]
PoolRole = Literal["keeper", "clerk", "reader"]


class PersonShown(WireModel):
    """Somebody who signs in."""

    person: ShownPersonId
    name: PersonName


class SessionShown(WireModel):
    """A session. It ends when it isn't used until idle_until, and at expires_at in any case. The password was given
    last at confirmed_at; until confirmed_until it needn't be given again."""

    session: ShownId
    label: ShortText | None = None
    peer: str = Field(max_length=64, description="The address that it was made from.")
    made_at: Instant
    last_used_at: Instant
    idle_until: Instant
    expires_at: Instant
    confirmed_at: Instant
    confirmed_until: Instant
    current: Flag


class SessionMade(WireModel):
    """A session just made: its token is shown this once. Who has accepted an invitation while signed in keeps the
    session, and gets no token."""

    token: SessionToken | None = None
    session: ShownId
    person: PersonShown
    expires_at: Instant


class PoolOfCaller(WireModel):
    """What the caller is in a pool."""

    pool: PoolId
    name: ShortText
    role: PoolRole
    member: MemberCode | None = None


def show_made(person: Person, session: Session, token: str | None) -> dict[str, Any]:
    """Show a session just made."""
    return stated(
        {
            "token": token,
            "session": session.session_id,
            "person": {"person": person.person_id, "name": person.name},
            "expires_at": session.expires_at,
        }
    )
