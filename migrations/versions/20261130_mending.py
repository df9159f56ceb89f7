"""What people did about reconciliations: matches confirmed or taken back, differences handed over and answered.

Revision ID: 20261130_mending
Revises: 20261125_bookkeeping
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_mending"
down_revision = "20261125_bookkeeping"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"


def upgrade() -> None:
    op.create_table(
        "reconciliation_act",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("month", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("content", TEXT, nullable=False),
        sa.Column("word", TEXT, nullable=False),
        sa.Column("made_by", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_reconciliation_act_number_positive")),
        sa.CheckConstraint(
            "kind IN ('confirmed', 'signed', 'taken_back', 'handed', 'answered')",
            name=op.f("ck_reconciliation_act_kind_known"),
        ),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_reconciliation_act_pool")),
        sa.PrimaryKeyConstraint("pool_id", "number", name=op.f("pk_reconciliation_act")),
        sqlite_strict=True,
    )
    op.create_index("ix_reconciliation_act_kind", "reconciliation_act", ["pool_id", "kind", "month", "number"])
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    op.drop_table("reconciliation_act")


def guard_sqlite() -> None:
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER reconciliation_act_no_{act.lower()} BEFORE {act} ON reconciliation_act "
            "BEGIN SELECT RAISE(ABORT, 'reconciliation_act is append-only'); END"
        )


def guard_postgresql() -> None:
    op.execute(
        "CREATE TRIGGER reconciliation_act_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON reconciliation_act "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
    op.execute("ALTER TABLE reconciliation_act ENABLE ROW LEVEL SECURITY")
    op.execute("ALTER TABLE reconciliation_act FORCE ROW LEVEL SECURITY")
    op.execute(
        "CREATE POLICY own_pool ON reconciliation_act "
        "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
        "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
    )
    op.execute(f"GRANT SELECT, INSERT ON reconciliation_act TO {APP_ROLE}")
