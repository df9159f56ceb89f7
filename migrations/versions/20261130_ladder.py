"""Buying: price ladders with their versions, and the order plans that were made.

Revision ID: 20261130_ladder
Revises: 20261130_mending
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_ladder"
down_revision = "20261130_mending"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

TABLES = ("price_ladder", "order_plan")


def upgrade() -> None:
    op.create_table(
        "price_ladder",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("valid_from", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.Column("tiers", TEXT, nullable=True),
        sa.Column("written_at", TEXT, nullable=False),
        sa.Column("written_by", TEXT, nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_price_ladder_version_positive")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_price_ladder_pool")),
        sa.PrimaryKeyConstraint("pool_id", "valid_from", "version", name=op.f("pk_price_ladder")),
        sqlite_strict=True,
    )
    op.create_table(
        "order_plan",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("plan_id", TEXT, nullable=False),
        sa.Column("setting", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.Column("made_by", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_order_plan_pool")),
        sa.PrimaryKeyConstraint("pool_id", "plan_id", name=op.f("pk_order_plan")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    for table in TABLES:
        op.drop_table(table)


def guard_sqlite() -> None:
    for table in TABLES:
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            )


def guard_postgresql() -> None:
    for table in TABLES:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(
            f"CREATE POLICY own_pool ON {table} "
            "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
            "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
        )
        op.execute(f"GRANT SELECT, INSERT ON {table} TO {APP_ROLE}")
