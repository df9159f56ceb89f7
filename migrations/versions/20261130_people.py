"""People who sign in: persons, their sessions, what they are in which pools, invitations; when a key was last used.

Revision ID: 20261130_people
Revises: 20261130_needs
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_people"
down_revision = "20261130_needs"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

TABLES = ("person", "session", "membership", "invitation")

ROLE_KNOWN = "role IN ('keeper', 'clerk', 'reader')"
CLERK_HAS_MEMBER = "(role = 'clerk') = (member IS NOT NULL)"


def upgrade() -> None:
    op.add_column("api_key", sa.Column("last_used_at", TEXT, nullable=True))
    create_persons()
    create_memberships()
    create_invitations()
    if op.get_bind().dialect.name == "postgresql":
        for table in TABLES:
            op.execute(f"GRANT SELECT, INSERT, UPDATE ON {table} TO {APP_ROLE}")


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)
    op.drop_column("api_key", "last_used_at")


def create_persons() -> None:
    op.create_table(
        "person",
        sa.Column("person_id", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("sign_in_name", TEXT, nullable=False),
        sa.Column("password", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.Column("password_at", TEXT, nullable=False),
        sa.Column("shut_out_at", TEXT, nullable=True),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_person")),
        sa.UniqueConstraint("sign_in_name", name=op.f("uq_person_sign_in_name")),
        sqlite_strict=True,
    )
    op.create_table(
        "session",
        sa.Column("session_id", TEXT, nullable=False),
        sa.Column("secret_hash", TEXT, nullable=False),
        sa.Column("person_id", TEXT, nullable=False),
        sa.Column("label", TEXT, nullable=False),
        sa.Column("peer", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.Column("confirmed_at", TEXT, nullable=False),
        sa.Column("last_used_at", TEXT, nullable=False),
        sa.Column("expires_at", TEXT, nullable=False),
        sa.Column("ended_at", TEXT, nullable=True),
        sa.PrimaryKeyConstraint("session_id", name=op.f("pk_session")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_session_secret_hash")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_session_person"), "session", ["person_id", "session_id"])


def create_memberships() -> None:
    op.create_table(
        "membership",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("person_id", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=True),
        sa.Column("joined_at", TEXT, nullable=False),
        sa.Column("changed_by", TEXT, nullable=False),
        sa.Column("ended_at", TEXT, nullable=True),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint(ROLE_KNOWN, name=op.f("ck_membership_role_known")),
        sa.CheckConstraint(CLERK_HAS_MEMBER, name=op.f("ck_membership_clerk_has_member")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_membership_pool")),
        sa.PrimaryKeyConstraint("pool_id", "person_id", name=op.f("pk_membership")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_membership_person"), "membership", ["person_id", "pool_id"])


def create_invitations() -> None:
    op.create_table(
        "invitation",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("invitation_id", TEXT, nullable=False),
        sa.Column("secret_hash", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=True),
        sa.Column("note", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.Column("made_by", TEXT, nullable=False),
        sa.Column("expires_at", TEXT, nullable=False),
        sa.Column("accepted_at", TEXT, nullable=True),
        sa.Column("accepted_by", TEXT, nullable=True),
        sa.Column("withdrawn_at", TEXT, nullable=True),
        sa.CheckConstraint(ROLE_KNOWN, name=op.f("ck_invitation_role_known")),
        sa.CheckConstraint(CLERK_HAS_MEMBER, name=op.f("ck_invitation_clerk_has_member")),
        sa.CheckConstraint(
            "(accepted_at IS NULL) = (accepted_by IS NULL)", name=op.f("ck_invitation_accepted_by_somebody")
        ),
        sa.CheckConstraint(
            "accepted_at IS NULL OR withdrawn_at IS NULL", name=op.f("ck_invitation_accepted_or_withdrawn")
        ),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_invitation_pool")),
        sa.PrimaryKeyConstraint("pool_id", "invitation_id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_invitation_secret_hash")),
        sqlite_strict=True,
    )
