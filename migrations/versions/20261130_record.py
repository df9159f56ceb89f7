"""What later files say of rows of the vendor's record, and rows that a keeper has withdrawn.

Revision ID: 20261130_record
Revises: 20261130_ladder
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_record"
down_revision = "20261130_ladder"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

TABLES = ("vendor_revision", "vendor_withdrawal")


def upgrade() -> None:
    op.create_table(
        "vendor_revision",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("import_id", TEXT, nullable=False),
        sa.Column("account", TEXT, nullable=False),
        sa.Column("content", TEXT, nullable=False),
        sa.Column("occurrence", WHOLE, autoincrement=False, nullable=False),
        sa.Column("day", TEXT, nullable=False),
        sa.Column("became", TEXT, nullable=True),
        sa.Column("shown", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("shown = 0 OR (shown = 1 AND became IS NULL)", name=op.f("ck_vendor_revision_shown_or_not")),
        sa.ForeignKeyConstraint(
            ["pool_id", "import_id"],
            ["vendor_import.pool_id", "vendor_import.import_id"],
            name=op.f("fk_vendor_revision_vendor_import"),
        ),
        sa.PrimaryKeyConstraint(
            "pool_id", "import_id", "account", "content", "occurrence", name=op.f("pk_vendor_revision")
        ),
        sqlite_strict=True,
    )
    op.create_index("ix_vendor_revision_day", "vendor_revision", ["pool_id", "day"], unique=False)
    op.create_table(
        "vendor_withdrawal",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("row", TEXT, nullable=False),
        sa.Column("import_id", TEXT, nullable=False),
        sa.Column("difference", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["pool_id", "import_id"],
            ["vendor_import.pool_id", "vendor_import.import_id"],
            name=op.f("fk_vendor_withdrawal_vendor_import"),
        ),
        sa.PrimaryKeyConstraint("pool_id", "row", "import_id", name=op.f("pk_vendor_withdrawal")),
        sqlite_strict=True,
    )
    guard()


def downgrade() -> None:
    for table in reversed(TABLES):
        op.drop_table(table)


def guard() -> None:
    if op.get_bind().dialect.name == "sqlite":
        guard_sqlite()
    else:
        guard_postgresql()


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
