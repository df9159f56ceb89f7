"""Policies that count from a later month on than the pool's first.

Revision ID: 20261125_policies
Revises: 20261125_book
"""

import sqlalchemy as sa
from alembic import op

revision = "20261125_policies"
down_revision = "20261125_book"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"


def upgrade() -> None:
    op.create_table(
        "policy",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("month", TEXT, nullable=False),
        sa.Column("policy", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_policy_pool")),
        sa.PrimaryKeyConstraint("pool_id", "month", name=op.f("pk_policy")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        op.execute("ALTER TABLE policy ENABLE ROW LEVEL SECURITY")
        op.execute("ALTER TABLE policy FORCE ROW LEVEL SECURITY")
        op.execute(
            "CREATE POLICY own_pool ON policy "
            "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
            "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
        )
        op.execute(f"GRANT SELECT, INSERT, UPDATE ON policy TO {APP_ROLE}")


def downgrade() -> None:
    op.drop_table("policy")
