"""What happened with access: events in a chain of their own, and which pools are told of each.

Revision ID: 20261201_access
Revises: 20261130_factor
"""

import sqlalchemy as sa
from alembic import op

revision = "20261201_access"
down_revision = "20261130_factor"
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

APPEND_ONLY = ("access_event", "access_told")


def upgrade() -> None:
    create_events()
    head = create_head()
    op.bulk_insert(head, [{"chain": "access", "number": 0, "hash": "0" * 64}])
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    for table in ("access_told", "access_event", "access_head"):
        op.drop_table(table)


def create_events() -> None:
    op.create_table(
        "access_event",
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("by_whom", TEXT, nullable=True),
        sa.Column("by_id", TEXT, nullable=True),
        sa.Column("session_id", TEXT, nullable=True),
        sa.Column("peer", TEXT, nullable=True),
        sa.Column("about", TEXT, nullable=True),
        sa.Column("pool_id", TEXT, nullable=True),
        sa.Column("detail", TEXT, nullable=False),
        sa.Column("previous_hash", TEXT, nullable=False),
        sa.Column("hash", TEXT, nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_access_event_number_positive")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_access_event_pool")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_access_event")),
        sa.UniqueConstraint("hash", name=op.f("uq_access_event_hash")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_access_event_by"), "access_event", ["by_id", "number"])
    op.create_index(op.f("ix_access_event_about"), "access_event", ["about", "number"])
    op.create_table(
        "access_told",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_access_told_pool")),
        sa.PrimaryKeyConstraint("pool_id", "number", name=op.f("pk_access_told")),
        sqlite_strict=True,
    )
    op.create_index(op.f("ix_access_told_number"), "access_told", ["number"])


def create_head() -> sa.Table:
    return op.create_table(
        "access_head",
        sa.Column("chain", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("hash", TEXT, nullable=False),
        sa.CheckConstraint("number >= 0", name=op.f("ck_access_head_number_not_negative")),
        sa.PrimaryKeyConstraint("chain", name=op.f("pk_access_head")),
        sqlite_strict=True,
    )


def guard_sqlite() -> None:
    for table in APPEND_ONLY:
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            )


def guard_postgresql() -> None:
    for table in APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
        op.execute(f"GRANT SELECT, INSERT ON {table} TO {APP_ROLE}")
    op.execute(f"GRANT SELECT, UPDATE ON access_head TO {APP_ROLE}")
