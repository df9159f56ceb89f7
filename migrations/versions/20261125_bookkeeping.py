"""Bookkeeping: members' bank accounts, and how each holder calls the accounts of its books.

Revision ID: 20261125_bookkeeping
Revises: 20261125_policies
"""

import sqlalchemy as sa
from alembic import op

revision = "20261125_bookkeeping"
down_revision = "20261125_policies"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

TABLES = ("bank_account", "account_codes")


def upgrade() -> None:
    op.create_table(
        "bank_account",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=False),
        sa.Column("holder", TEXT, nullable=True),
        sa.Column("iban", TEXT, nullable=True),
        sa.Column("bic", TEXT, nullable=True),
        sa.Column("changed_at", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("(holder IS NULL) = (iban IS NULL)", name=op.f("ck_bank_account_holder_with_iban")),
        sa.ForeignKeyConstraint(
            ["pool_id", "member"], ["member.pool_id", "member.code"], name=op.f("fk_bank_account_member")
        ),
        sa.PrimaryKeyConstraint("pool_id", "member", name=op.f("pk_bank_account")),
        sqlite_strict=True,
    )
    op.create_table(
        "account_codes",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("holder", TEXT, nullable=False),
        sa.Column("codes", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_account_codes_pool")),
        sa.PrimaryKeyConstraint("pool_id", "holder", name=op.f("pk_account_codes")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)


def guard_postgresql() -> None:
    for table in TABLES:
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(
            f"CREATE POLICY own_pool ON {table} "
            "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
            "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
        )
        op.execute(f"GRANT SELECT, INSERT, UPDATE ON {table} TO {APP_ROLE}")
