"""The vendor's catalogues with their versions, and the column profiles of their files.

Revision ID: 20261130_catalogue
Revises: 20261130_record
"""

import sqlalchemy as sa
from alembic import op

revision = "20261130_catalogue"
down_revision = "20261130_record"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

RIGHTS = {"catalogue": "SELECT, INSERT", "catalogue_profile": "SELECT, INSERT, UPDATE"}


def upgrade() -> None:
    op.create_table(
        "catalogue",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("valid_from", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.Column("item_count", WHOLE, autoincrement=False, nullable=True),
        sa.Column("content", TEXT, nullable=True),
        sa.Column("written_at", TEXT, nullable=False),
        sa.Column("written_by", TEXT, nullable=False),
        sa.CheckConstraint("version >= 1", name=op.f("ck_catalogue_version_positive")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_catalogue_pool")),
        sa.PrimaryKeyConstraint("pool_id", "valid_from", "version", name=op.f("pk_catalogue")),
        sqlite_strict=True,
    )
    op.create_table(
        "catalogue_profile",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("profile", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_catalogue_profile_pool")),
        sa.PrimaryKeyConstraint("pool_id", "name", name=op.f("pk_catalogue_profile")),
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    for table in RIGHTS:
        op.drop_table(table)


def guard_sqlite() -> None:
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER catalogue_no_{act.lower()} BEFORE {act} ON catalogue "
            "BEGIN SELECT RAISE(ABORT, 'catalogue is append-only'); END"
        )


def guard_postgresql() -> None:
    op.execute(
        "CREATE TRIGGER catalogue_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON catalogue "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
    for table, rights in RIGHTS.items():
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(
            f"CREATE POLICY own_pool ON {table} "
            "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
            "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
        )
        op.execute(f"GRANT {rights} ON {table} TO {APP_ROLE}")
