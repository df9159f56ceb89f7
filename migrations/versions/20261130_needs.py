"""Needs of coming months that were stated by hand, with their versions.

Revision ID: 20261130_needs
Revises: 20261130_rounds
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_needs"
down_revision = "20261130_rounds"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"


def upgrade() -> None:
    op.create_table(
        "stated_need",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=False),
        sa.Column("month", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.Column("quantity", WHOLE, autoincrement=False, nullable=True),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("written_at", TEXT, nullable=False),
        sa.Column("written_by", TEXT, nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_stated_need_version_positive")),
        sa.CheckConstraint("quantity >= 0", name=op.f("ck_stated_need_quantity_not_negative")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_stated_need_pool")),
        sa.PrimaryKeyConstraint("pool_id", "member", "month", "version", name=op.f("pk_stated_need")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    op.drop_table("stated_need")


def guard_sqlite() -> None:
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER stated_need_no_{act.lower()} BEFORE {act} ON stated_need "
            "BEGIN SELECT RAISE(ABORT, 'stated_need is append-only'); END"
        )


def guard_postgresql() -> None:
    op.execute(
        "CREATE TRIGGER stated_need_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON stated_need "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
    op.execute("ALTER TABLE stated_need ENABLE ROW LEVEL SECURITY")
    op.execute("ALTER TABLE stated_need FORCE ROW LEVEL SECURITY")
    op.execute(
        "CREATE POLICY own_pool ON stated_need "
        "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
        "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
    )
    op.execute(f"GRANT SELECT, INSERT ON stated_need TO {APP_ROLE}")
