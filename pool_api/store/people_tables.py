"""The tables of people: who they are, their sessions and second factors, what they are in which pools, invitations.

A person belongs to no pool and may be in several, so a person and its sessions stand outside of them. What a person is
in its pools, and what an invitation's token opens, is looked up before a pool is known: `membership` and `invitation`
are not divided by row security, as `api_key` isn't. Nothing here is ever deleted, so nothing refers to what is gone.
"""

from sqlalchemy import CheckConstraint, Index, PrimaryKeyConstraint, Table, UniqueConstraint

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

_ROLES = "role IN ('keeper', 'clerk', 'reader')"
_OF_CLERK = "(role = 'clerk') = (member IS NOT NULL)"

person = Table(
    "person",
    metadata,
    text("person_id"),
    text("name"),
    text("sign_in_name"),
    text("password"),
    text("made_at"),
    text("password_at"),
    text("shut_out_at", nullable=True),
    PrimaryKeyConstraint("person_id"),
    UniqueConstraint("sign_in_name"),
    sqlite_strict=True,
)

session = Table(
    "session",
    metadata,
    text("session_id"),
    text("secret_hash"),
    text("person_id"),
    text("label"),
    text("peer"),
    text("made_at"),
    text("confirmed_at"),
    text("last_used_at"),
    text("expires_at"),
    text("ended_at", nullable=True),
    PrimaryKeyConstraint("session_id"),
    UniqueConstraint("secret_hash"),
    sqlite_strict=True,
)
Index("ix_session_person", session.c.person_id, session.c.session_id)

second_factor = Table(
    "second_factor",
    metadata,
    text("person_id"),
    text("secret", nullable=True),
    text("begun_at"),
    text("confirmed_at", nullable=True),
    whole("last_step"),
    whole("wrong"),
    text("wrong_at", nullable=True),
    PrimaryKeyConstraint("person_id"),
    CheckConstraint("confirmed_at IS NULL OR secret IS NOT NULL", name="confirmed_by_secret"),
    CheckConstraint("(wrong > 0) = (wrong_at IS NOT NULL)", name="wrong_at_some_time"),
    sqlite_strict=True,
)

recovery_code = Table(
    "recovery_code",
    metadata,
    text("person_id"),
    whole("number"),
    text("secret_hash"),
    text("used_at", nullable=True),
    PrimaryKeyConstraint("person_id", "number"),
    sqlite_strict=True,
)

membership = Table(
    "membership",
    metadata,
    text("pool_id"),
    text("person_id"),
    text("role"),
    text("member", nullable=True),
    text("joined_at"),
    text("changed_by"),
    text("ended_at", nullable=True),
    whole("version"),
    PrimaryKeyConstraint("pool_id", "person_id"),
    of_pool(),
    CheckConstraint(_ROLES, name="role_known"),
    CheckConstraint(_OF_CLERK, name="clerk_has_member"),
    sqlite_strict=True,
)
Index("ix_membership_person", membership.c.person_id, membership.c.pool_id)

invitation = Table(
    "invitation",
    metadata,
    text("pool_id"),
    text("invitation_id"),
    text("secret_hash"),
    text("role"),
    text("member", nullable=True),
    text("note"),
    text("made_at"),
    text("made_by"),
    text("expires_at"),
    text("accepted_at", nullable=True),
    text("accepted_by", nullable=True),
    text("withdrawn_at", nullable=True),
    PrimaryKeyConstraint("pool_id", "invitation_id"),
    UniqueConstraint("secret_hash"),
    of_pool(),
    CheckConstraint(_ROLES, name="role_known"),
    CheckConstraint(_OF_CLERK, name="clerk_has_member"),
    CheckConstraint("(accepted_at IS NULL) = (accepted_by IS NULL)", name="accepted_by_somebody"),
    CheckConstraint("accepted_at IS NULL OR withdrawn_at IS NULL", name="accepted_or_withdrawn"),
    sqlite_strict=True,
)
