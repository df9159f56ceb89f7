"""What people are shown of themselves: who is calling, sessions, the people of a pool, invitations, what happened with
access."""

from collections.abc import Iterable

from pool_client.cells import tabulated
from pool_client.happenings import by_whom, in_words, to_whom
from pool_client.models.access import AccessEvent
from pool_client.models.people import (
    Invitation,
    PoolPerson,
    RecoveryCodes,
    SecondFactor,
    SecondFactorBegun,
    Session,
    Who,
)
from pool_client.table import Table


def who(found: Who) -> list[Table]:
    """Show who is calling, and what it is in which pools."""
    what = "an operator's key" if found.is_operator else f"a {found.kind}"
    rows = ((each.pool, each.name, each.role, each.member) for each in found.pools)
    own = found.session
    words = [f"The session ends at {own.expires_at}, or unused at {own.idle_until}."] if own else []
    return [tabulated(f"{found.name}, {what} ({found.id})", "pool|name|role|member", rows, *words)]


def sessions(found: Iterable[Session]) -> list[Table]:
    """Show sessions."""
    rows = (
        (each.session, each.label, each.peer, each.made_at, each.last_used_at, each.expires_at, each.current)
        for each in found
    )
    return [tabulated("Sessions", "id|label|from|made|last used|ends|this one", rows)]


def second_factor(found: SecondFactor) -> list[Table]:
    """Show since when there is a second factor, and how many recovery codes are left."""
    words = [] if found.confirmed_at else ["There is none; 'pool begin-second-factor' sets one up."]
    rows = [(found.confirmed_at, found.recovery_codes)]
    return [tabulated("Second factor", "since|recovery codes left", rows, *words)]


def second_factor_begun(found: SecondFactorBegun) -> list[Table]:
    """Show what an authenticator app has to take in."""
    words = ["Enter the secret in your app, or open the address there; then give a code: pool confirm-second-factor."]
    return [
        tabulated("For your authenticator app", "what|", [("secret", found.secret), ("address", found.address)], *words)
    ]


def recovery_codes(found: RecoveryCodes) -> list[Table]:
    """Show recovery codes."""
    words = ["Keep them on paper, away from the phone: each signs you in once when the app is out of reach."]
    return [tabulated("Recovery codes", "code", ((each,) for each in found.recovery_codes), *words)]


def people(found: Iterable[PoolPerson]) -> list[Table]:
    """Show the people of a pool."""
    rows = ((each.person, each.name, each.role, each.member, each.joined_at, each.ended_at) for each in found)
    return [tabulated("People", "id|name|role|member|joined|taken out", rows)]


def invitations(found: Iterable[Invitation]) -> list[Table]:
    """Show invitations, never their tokens."""
    rows = (
        (
            each.invitation,
            each.role,
            each.member,
            each.note,
            each.expires_at,
            each.accepted_by,
            each.withdrawn_at,
        )
        for each in found
    )
    return [tabulated("Invitations", "id|role|member|note|expires|accepted by|withdrawn", rows)]


def access_events(found: Iterable[AccessEvent]) -> list[Table]:
    """Show what happened with access."""
    rows = (
        (each.at, in_words(each), by_whom(each), to_whom(each), each.peer, each.pool, each.event[:12]) for each in found
    )
    return [tabulated("What happened with access", "when|what|by|to|from|pool|digest", rows)]
