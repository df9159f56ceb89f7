"""Second factors of people who sign in, and their recovery codes.

Revision ID: 20261130_factor
Revises: 20261130_people
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_factor"
down_revision = "20261130_people"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

TABLES = ("second_factor", "recovery_code")


def upgrade() -> None:
    op.create_table(
        "second_factor",
        sa.Column("person_id", TEXT, nullable=False),
        sa.Column("secret", TEXT, nullable=True),
        sa.Column("begun_at", TEXT, nullable=False),
        sa.Column("confirmed_at", TEXT, nullable=True),
        sa.Column("last_step", WHOLE, autoincrement=False, nullable=False),
        sa.Column("wrong", WHOLE, autoincrement=False, nullable=False),
        sa.Column("wrong_at", TEXT, nullable=True),
        sa.CheckConstraint(
            "confirmed_at IS NULL OR secret IS NOT NULL", name=op.f("ck_second_factor_confirmed_by_secret")
        ),
        sa.CheckConstraint("(wrong > 0) = (wrong_at IS NOT NULL)", name=op.f("ck_second_factor_wrong_at_some_time")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_second_factor")),
        sqlite_strict=True,
    )
    op.create_table(
        "recovery_code",
        sa.Column("person_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("secret_hash", TEXT, nullable=False),
        sa.Column("used_at", TEXT, nullable=True),
        sa.PrimaryKeyConstraint("person_id", "number", name=op.f("pk_recovery_code")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        for table in TABLES:
            op.execute(f"GRANT SELECT, INSERT, UPDATE ON {table} TO {APP_ROLE}")


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)
