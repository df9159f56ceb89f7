"""The book: pools, members, keys, the journal with its projections, and the vendor's record.

Revision ID: 20261125_book
Revises:
"""

import sqlalchemy as sa
from alembic import op

revision = "20261125_book"
down_revision = None
branch_labels = None
depends_on = None

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

APP_ROLE = "credit_pool_app"

GRANTS = {
    "service_setting": "SELECT, INSERT",
    "pool": "SELECT, INSERT, UPDATE",
    "head": "SELECT, INSERT, UPDATE",
    "member": "SELECT, INSERT, UPDATE",
    "handle": "SELECT, INSERT, DELETE",
    "api_key": "SELECT, INSERT, UPDATE",
    "entry": "SELECT, INSERT",
    "holding": "SELECT, INSERT, UPDATE",
    "open_loan": "SELECT, INSERT, UPDATE",
    "undone": "SELECT, INSERT, UPDATE",
    "settlement_payment": "SELECT, INSERT, UPDATE, DELETE",
    "answer": "SELECT, INSERT",
    "column_profile": "SELECT, INSERT, UPDATE",
    "vendor_import": "SELECT, INSERT",
    "vendor_row": "SELECT, INSERT",
    "decision": "SELECT, INSERT",
}

APPEND_ONLY = ("entry", "answer", "vendor_import", "vendor_row", "decision")

WALLED = (
    "head",
    "member",
    "handle",
    "entry",
    "holding",
    "open_loan",
    "undone",
    "settlement_payment",
    "answer",
    "column_profile",
    "vendor_import",
    "vendor_row",
    "decision",
)


def upgrade() -> None:
    create_tables()
    if op.get_bind().dialect.name == "postgresql":
        guard_postgresql()
    else:
        guard_sqlite()


def downgrade() -> None:
    for table in (
        "vendor_row",
        "undone",
        "holding",
        "handle",
        "vendor_import",
        "settlement_payment",
        "open_loan",
        "member",
        "head",
        "entry",
        "decision",
        "column_profile",
        "api_key",
        "answer",
        "service_setting",
        "pool",
    ):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change()")


def guard_sqlite() -> None:
    for table in APPEND_ONLY:
        for act in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
            )


def guard_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME USING ERRCODE = 'restrict_violation'; END $$"
    )
    for table in APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
    for table in WALLED:
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(
            f"CREATE POLICY own_pool ON {table} "
            "USING (pool_id = nullif(current_setting('app.pool', true), '')) "
            "WITH CHECK (pool_id = nullif(current_setting('app.pool', true), ''))"
        )
    op.execute(
        "DO $$ BEGIN "
        f"IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{APP_ROLE}') "
        f"THEN CREATE ROLE {APP_ROLE} NOLOGIN; END IF; END $$"
    )
    for table, rights in GRANTS.items():
        op.execute(f"GRANT {rights} ON {table} TO {APP_ROLE}")
    op.execute(f"GRANT SELECT ON alembic_version TO {APP_ROLE}")


def create_tables() -> None:
    op.create_table(
        "pool",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("vendor", TEXT, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("time_zone", TEXT, nullable=False),
        sa.Column("began_on", TEXT, nullable=False),
        sa.Column("keeper_member", TEXT, nullable=True),
        sa.Column("custodian", TEXT, nullable=True),
        sa.Column("policy", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.PrimaryKeyConstraint("pool_id", name=op.f("pk_pool")),
        sqlite_strict=True,
    )

    op.create_table(
        "service_setting",
        sa.Column("name", TEXT, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_service_setting")),
        sqlite_strict=True,
    )

    op.create_table(
        "answer",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("key_id", TEXT, nullable=False),
        sa.Column("operation", TEXT, nullable=False),
        sa.Column("idempotency_key", TEXT, nullable=False),
        sa.Column("fingerprint", TEXT, nullable=False),
        sa.Column("outcome", TEXT, nullable=False),
        sa.Column("answered_at", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_answer_pool")),
        sa.PrimaryKeyConstraint("pool_id", "key_id", "operation", "idempotency_key", name=op.f("pk_answer")),
        sqlite_strict=True,
    )

    op.create_table(
        "api_key",
        sa.Column("key_id", TEXT, nullable=False),
        sa.Column("secret_hash", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("pool_id", TEXT, nullable=True),
        sa.Column("member", TEXT, nullable=True),
        sa.Column("created_at", TEXT, nullable=False),
        sa.Column("expires_at", TEXT, nullable=True),
        sa.Column("revoked_at", TEXT, nullable=True),
        sa.CheckConstraint("(role = 'clerk') = (member IS NOT NULL)", name=op.f("ck_api_key_clerk_has_member")),
        sa.CheckConstraint("(role = 'operator') = (pool_id IS NULL)", name=op.f("ck_api_key_operator_has_no_pool")),
        sa.CheckConstraint("role IN ('operator', 'keeper', 'clerk', 'reader')", name=op.f("ck_api_key_role_known")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_api_key_pool")),
        sa.PrimaryKeyConstraint("key_id", name=op.f("pk_api_key")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_api_key_secret_hash")),
        sqlite_strict=True,
    )

    op.create_table(
        "column_profile",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("profile", TEXT, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_column_profile_pool")),
        sa.PrimaryKeyConstraint("pool_id", "name", name=op.f("pk_column_profile")),
        sqlite_strict=True,
    )

    op.create_table(
        "decision",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("difference", TEXT, nullable=False),
        sa.Column("verdict", TEXT, nullable=False),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("decided_by", TEXT, nullable=False),
        sa.Column("decided_at", TEXT, nullable=False),
        sa.Column("entries", TEXT, nullable=False),
        sa.CheckConstraint("verdict IN ('accepted', 'dismissed')", name=op.f("ck_decision_verdict_known")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_decision_pool")),
        sa.PrimaryKeyConstraint("pool_id", "difference", name=op.f("pk_decision")),
        sqlite_strict=True,
    )

    op.create_table(
        "entry",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("effective_on", TEXT, nullable=False),
        sa.Column("recorded_at", TEXT, nullable=False),
        sa.Column("recorded_by", TEXT, nullable=False),
        sa.Column("note", TEXT, nullable=False),
        sa.Column("reference", TEXT, nullable=True),
        sa.Column("body", TEXT, nullable=False),
        sa.Column("previous_hash", TEXT, nullable=False),
        sa.Column("hash", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=True),
        sa.Column("other", TEXT, nullable=True),
        sa.Column("job", TEXT, nullable=True),
        sa.Column("target", WHOLE, autoincrement=False, nullable=True),
        sa.CheckConstraint("number >= 1", name=op.f("ck_entry_number_positive")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_entry_pool")),
        sa.PrimaryKeyConstraint("pool_id", "number", name=op.f("pk_entry")),
        sa.UniqueConstraint("pool_id", "reference", name=op.f("uq_entry_pool_id_reference")),
        sqlite_strict=True,
    )

    op.create_index("ix_entry_day", "entry", ["pool_id", "effective_on", "number"], unique=False)

    op.create_index("ix_entry_job", "entry", ["pool_id", "job", "number"], unique=False)

    op.create_index("ix_entry_member", "entry", ["pool_id", "member", "number"], unique=False)

    op.create_index("ix_entry_other", "entry", ["pool_id", "other", "number"], unique=False)

    op.create_index("ix_entry_target", "entry", ["pool_id", "target", "number"], unique=False)

    op.create_table(
        "head",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("hash", TEXT, nullable=False),
        sa.Column("stock", WHOLE, autoincrement=False, nullable=False),
        sa.Column("closed_through", TEXT, nullable=True),
        sa.Column("custodian", TEXT, nullable=True),
        sa.Column("directory_version", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("number >= 0", name=op.f("ck_head_number_not_negative")),
        sa.CheckConstraint("stock >= 0", name=op.f("ck_head_stock_not_negative")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_head_pool")),
        sa.PrimaryKeyConstraint("pool_id", name=op.f("pk_head")),
        sqlite_strict=True,
    )

    op.create_table(
        "member",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("joined_on", TEXT, nullable=False),
        sa.Column("left_on", TEXT, nullable=True),
        sa.Column("share", WHOLE, autoincrement=False, nullable=False),
        sa.Column("version", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("share >= 0", name=op.f("ck_member_share_not_negative")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_member_pool")),
        sa.PrimaryKeyConstraint("pool_id", "code", name=op.f("pk_member")),
        sqlite_strict=True,
    )

    op.create_table(
        "open_loan",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("lender", TEXT, nullable=False),
        sa.Column("borrower", TEXT, nullable=False),
        sa.Column("quantity", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("quantity >= 0", name=op.f("ck_open_loan_quantity_not_negative")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_open_loan_pool")),
        sa.PrimaryKeyConstraint("pool_id", "lender", "borrower", name=op.f("pk_open_loan")),
        sqlite_strict=True,
    )

    op.create_table(
        "settlement_payment",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("payment_id", TEXT, nullable=False),
        sa.Column("month", TEXT, nullable=False),
        sa.Column("payer", TEXT, nullable=False),
        sa.Column("payee", TEXT, nullable=False),
        sa.Column("amount", WHOLE, autoincrement=False, nullable=False),
        sa.Column("paid", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("paid <= amount", name=op.f("ck_settlement_payment_paid_within_amount")),
        sa.CheckConstraint("paid >= 0", name=op.f("ck_settlement_payment_paid_not_negative")),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_settlement_payment_pool")),
        sa.PrimaryKeyConstraint("pool_id", "payment_id", name=op.f("pk_settlement_payment")),
        sqlite_strict=True,
    )

    op.create_table(
        "vendor_import",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("import_id", TEXT, nullable=False),
        sa.Column("account", TEXT, nullable=False),
        sa.Column("profile", TEXT, nullable=False),
        sa.Column("file_digest", TEXT, nullable=False),
        sa.Column("imported_at", TEXT, nullable=False),
        sa.Column("imported_by", TEXT, nullable=False),
        sa.Column("first_day", TEXT, nullable=True),
        sa.Column("last_day", TEXT, nullable=True),
        sa.Column("rows_new", WHOLE, autoincrement=False, nullable=False),
        sa.Column("rows_known", WHOLE, autoincrement=False, nullable=False),
        sa.Column("set_aside", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["pool_id"], ["pool.pool_id"], name=op.f("fk_vendor_import_pool")),
        sa.PrimaryKeyConstraint("pool_id", "import_id", name=op.f("pk_vendor_import")),
        sqlite_strict=True,
    )

    op.create_table(
        "handle",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=False),
        sa.Column("since", TEXT, nullable=False),
        sa.Column("handle", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["pool_id", "member"], ["member.pool_id", "member.code"], name=op.f("fk_handle_member")
        ),
        sa.PrimaryKeyConstraint("pool_id", "member", "since", name=op.f("pk_handle")),
        sa.UniqueConstraint("pool_id", "handle", "since", name=op.f("uq_handle_pool_id_handle_since")),
        sqlite_strict=True,
    )

    op.create_table(
        "holding",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("member", TEXT, nullable=False),
        sa.Column("held", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("held >= 0", name=op.f("ck_holding_held_not_negative")),
        sa.ForeignKeyConstraint(
            ["pool_id", "member"], ["member.pool_id", "member.code"], name=op.f("fk_holding_member")
        ),
        sa.PrimaryKeyConstraint("pool_id", "member", name=op.f("pk_holding")),
        sqlite_strict=True,
    )

    op.create_table(
        "undone",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("number", WHOLE, autoincrement=False, nullable=False),
        sa.Column("quantity", WHOLE, autoincrement=False, nullable=False),
        sa.CheckConstraint("quantity >= 1", name=op.f("ck_undone_quantity_positive")),
        sa.ForeignKeyConstraint(["pool_id", "number"], ["entry.pool_id", "entry.number"], name=op.f("fk_undone_entry")),
        sa.PrimaryKeyConstraint("pool_id", "number", name=op.f("pk_undone")),
        sqlite_strict=True,
    )

    op.create_table(
        "vendor_row",
        sa.Column("pool_id", TEXT, nullable=False),
        sa.Column("account", TEXT, nullable=False),
        sa.Column("content", TEXT, nullable=False),
        sa.Column("occurrence", WHOLE, autoincrement=False, nullable=False),
        sa.Column("import_id", TEXT, nullable=False),
        sa.Column("line", WHOLE, autoincrement=False, nullable=False),
        sa.Column("day", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("giver", TEXT, nullable=True),
        sa.Column("receiver", TEXT, nullable=True),
        sa.Column("quantity", WHOLE, autoincrement=False, nullable=False),
        sa.Column("note", TEXT, nullable=False),
        sa.Column("reference", TEXT, nullable=True),
        sa.Column("balance", WHOLE, autoincrement=False, nullable=True),
        sa.Column("amount", TEXT, nullable=True),
        sa.CheckConstraint("occurrence >= 1", name=op.f("ck_vendor_row_occurrence_positive")),
        sa.ForeignKeyConstraint(
            ["pool_id", "import_id"],
            ["vendor_import.pool_id", "vendor_import.import_id"],
            name=op.f("fk_vendor_row_vendor_import"),
        ),
        sa.PrimaryKeyConstraint("pool_id", "account", "content", "occurrence", name=op.f("pk_vendor_row")),
        sqlite_strict=True,
    )

    op.create_index("ix_vendor_row_day", "vendor_row", ["pool_id", "day"], unique=False)
