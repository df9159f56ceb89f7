"""What members arrange: the steps of joint orders and of requests for credits.

Revision ID: 20261130_rounds
Revises: 20261130_catalogue
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_rounds"
down_revision = "20261130_catalogue"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"


def upgrade() -> None:
    op.create_table(
        "arrangement_step",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("matter", TEXT, nullable=False),
        sa.Column("arrangement_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=True),
        sa.Column("until", TEXT, nullable=True),
        sa.Column("content", TEXT, nullable=False),
        sa.Column("made_by", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_arrangement_step_number_positive")),
        sa.CheckConstraint("matter IN ('round', 'request')", name=op.f("ck_arrangement_step_matter_known")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_arrangement_step_pool")),
        sa.PrimaryKeyConstraint("pool_id", "matter", "arrangement_id", "number", name=op.f("pk_arrangement_step")),
        sqlite_strict=True,
    )
    op.create_index("ix_arrangement_step_until", "arrangement_step", ["pool_id", "matter", "number", "until"])
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    op.drop_table("arrangement_step")


def guard_sqlite() -> None:
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER arrangement_step_no_{act.lower()} BEFORE {act} ON arrangement_step "
            "BEGIN SELECT RAISE(ABORT, 'arrangement_step is append-only'); END"
        )


def guard_postgresql() -> None:
    op.execute(
        "CREATE TRIGGER arrangement_step_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON arrangement_step "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
    op.execute("ALTER TABLE arrangement_step ENABLE ROW LEVEL SECURITY")
    op.execute("ALTER TABLE arrangement_step FORCE ROW LEVEL SECURITY")
    op.execute(
        "CREATE POLICY own_pool ON arrangement_step "
        "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
        "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
    )
    op.execute(f"GRANT SELECT, INSERT ON arrangement_step TO {APP_ROLE}")
