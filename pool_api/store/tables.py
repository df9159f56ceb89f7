"""The tables of the book and the names of their constraints, for SQLite and PostgreSQL alike.

Text and whole numbers only: days are ISO dates and instants RFC 3339 text, so that both databases sort and compare
them alike. pool_id leads every primary key, unique constraint and foreign key, so that pools can be spread over several
databases; service_setting belongs to no pool, api_key is looked up before a pool is known, as people_tables are, and
access_tables are of the service as a whole.

`pool.policy` is the policy that a pool began with, `policy` has those agreed since. `entry` is the journal. `head`,
`holding`, `open_loan`, `undone` and `settlement_payment` are its projections: what folding the journal gives, kept so
that deciding needs no fold. The rows of the vendor's record stand in record_tables, the vendor's catalogues in
catalogue_tables, joint orders and requests in arrangement_tables, people in people_tables, what happened with access in
access_tables. Triggers and row security stand in the migrations.
"""

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, PrimaryKeyConstraint, Table, UniqueConstraint

from pool_api.store import (
    access_tables,
    arrangement_tables,
    catalogue_tables,
    need_tables,
    people_tables,
    record_tables,
)
from pool_api.store.columns import of_pool as _of_pool
from pool_api.store.columns import text as _text
from pool_api.store.columns import whole as _whole

metadata = record_tables.metadata
"""What all tables belong to, those of ELSEWHERE too."""

ELSEWHERE = (record_tables, catalogue_tables, arrangement_tables, need_tables, people_tables, access_tables)
"""The other files that hold tables, which are read with this one."""

service_setting = Table(
    "service_setting",
    metadata,
    _text("name"),
    _text("value"),
    PrimaryKeyConstraint("name"),
    sqlite_strict=True,
)

pool = Table(
    "pool",
    metadata,
    _text("pool_id"),
    _text("name"),
    _text("vendor"),
    _text("currency"),
    _text("time_zone"),
    _text("began_on"),
    _text("keeper_member", nullable=True),
    _text("custodian", nullable=True),
    _text("policy"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id"),
    sqlite_strict=True,
)

policy = Table(
    "policy",
    metadata,
    _text("pool_id"),
    _text("month"),
    _text("policy"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id", "month"),
    _of_pool(),
    sqlite_strict=True,
)

head = Table(
    "head",
    metadata,
    _text("pool_id"),
    _whole("number"),
    _text("hash"),
    _whole("stock"),
    _text("closed_through", nullable=True),
    _text("custodian", nullable=True),
    _whole("directory_version"),
    PrimaryKeyConstraint("pool_id"),
    _of_pool(),
    CheckConstraint("number >= 0", name="number_not_negative"),
    CheckConstraint("stock >= 0", name="stock_not_negative"),
    sqlite_strict=True,
)

member = Table(
    "member",
    metadata,
    _text("pool_id"),
    _text("code"),
    _text("name"),
    _text("joined_on"),
    _text("left_on", nullable=True),
    _whole("share"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id", "code"),
    _of_pool(),
    CheckConstraint("share >= 0", name="share_not_negative"),
    sqlite_strict=True,
)

handle = Table(
    "handle",
    metadata,
    _text("pool_id"),
    _text("member"),
    _text("since"),
    _text("handle"),
    PrimaryKeyConstraint("pool_id", "member", "since"),
    UniqueConstraint("pool_id", "handle", "since"),
    ForeignKeyConstraint(["pool_id", "member"], ["member.pool_id", "member.code"]),
    sqlite_strict=True,
)

bank_account = Table(
    "bank_account",
    metadata,
    _text("pool_id"),
    _text("member"),
    _text("holder", nullable=True),
    _text("iban", nullable=True),
    _text("bic", nullable=True),
    _text("changed_at"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id", "member"),
    ForeignKeyConstraint(["pool_id", "member"], ["member.pool_id", "member.code"]),
    CheckConstraint("(holder IS NULL) = (iban IS NULL)", name="holder_with_iban"),
    sqlite_strict=True,
)

account_codes = Table(
    "account_codes",
    metadata,
    _text("pool_id"),
    _text("holder"),
    _text("codes"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id", "holder"),
    _of_pool(),
    sqlite_strict=True,
)

api_key = Table(
    "api_key",
    metadata,
    _text("key_id"),
    _text("secret_hash"),
    _text("name"),
    _text("role"),
    _text("pool_id", nullable=True),
    _text("member", nullable=True),
    _text("created_at"),
    _text("expires_at", nullable=True),
    _text("revoked_at", nullable=True),
    _text("last_used_at", nullable=True),
    PrimaryKeyConstraint("key_id"),
    UniqueConstraint("secret_hash"),
    _of_pool(),
    CheckConstraint("role IN ('operator', 'keeper', 'clerk', 'reader')", name="role_known"),
    CheckConstraint("(role = 'operator') = (pool_id IS NULL)", name="operator_has_no_pool"),
    CheckConstraint("(role = 'clerk') = (member IS NOT NULL)", name="clerk_has_member"),
    sqlite_strict=True,
)

entry = Table(
    "entry",
    metadata,
    _text("pool_id"),
    _whole("number"),
    _text("kind"),
    _text("effective_on"),
    _text("recorded_at"),
    _text("recorded_by"),
    _text("note"),
    _text("reference", nullable=True),
    _text("body"),
    _text("previous_hash"),
    _text("hash"),
    _text("member", nullable=True),
    _text("other", nullable=True),
    _text("job", nullable=True),
    _whole("target", nullable=True),
    PrimaryKeyConstraint("pool_id", "number"),
    UniqueConstraint("pool_id", "reference"),
    _of_pool(),
    CheckConstraint("number >= 1", name="number_positive"),
    sqlite_strict=True,
)
Index("ix_entry_day", entry.c.pool_id, entry.c.effective_on, entry.c.number)
Index("ix_entry_member", entry.c.pool_id, entry.c.member, entry.c.number)
Index("ix_entry_other", entry.c.pool_id, entry.c.other, entry.c.number)
Index("ix_entry_job", entry.c.pool_id, entry.c.job, entry.c.number)
Index("ix_entry_target", entry.c.pool_id, entry.c.target, entry.c.number)

holding = Table(
    "holding",
    metadata,
    _text("pool_id"),
    _text("member"),
    _whole("held"),
    PrimaryKeyConstraint("pool_id", "member"),
    ForeignKeyConstraint(["pool_id", "member"], ["member.pool_id", "member.code"]),
    CheckConstraint("held >= 0", name="held_not_negative"),
    sqlite_strict=True,
)

open_loan = Table(
    "open_loan",
    metadata,
    _text("pool_id"),
    _text("lender"),
    _text("borrower"),
    _whole("quantity"),
    PrimaryKeyConstraint("pool_id", "lender", "borrower"),
    _of_pool(),
    CheckConstraint("quantity >= 0", name="quantity_not_negative"),
    sqlite_strict=True,
)

undone = Table(
    "undone",
    metadata,
    _text("pool_id"),
    _whole("number"),
    _whole("quantity"),
    PrimaryKeyConstraint("pool_id", "number"),
    ForeignKeyConstraint(["pool_id", "number"], ["entry.pool_id", "entry.number"]),
    CheckConstraint("quantity >= 1", name="quantity_positive"),
    sqlite_strict=True,
)

settlement_payment = Table(
    "settlement_payment",
    metadata,
    _text("pool_id"),
    _text("payment_id"),
    _text("month"),
    _text("payer"),
    _text("payee"),
    _whole("amount"),
    _whole("paid"),
    PrimaryKeyConstraint("pool_id", "payment_id"),
    _of_pool(),
    CheckConstraint("paid >= 0", name="paid_not_negative"),
    CheckConstraint("paid <= amount", name="paid_within_amount"),
    sqlite_strict=True,
)

answer = Table(
    "answer",
    metadata,
    _text("pool_id"),
    _text("key_id"),
    _text("operation"),
    _text("idempotency_key"),
    _text("fingerprint"),
    _text("outcome"),
    _text("answered_at"),
    PrimaryKeyConstraint("pool_id", "key_id", "operation", "idempotency_key"),
    _of_pool(),
    sqlite_strict=True,
)

column_profile = Table(
    "column_profile",
    metadata,
    _text("pool_id"),
    _text("name"),
    _text("profile"),
    _whole("version"),
    PrimaryKeyConstraint("pool_id", "name"),
    _of_pool(),
    sqlite_strict=True,
)

decision = Table(
    "decision",
    metadata,
    _text("pool_id"),
    _text("difference"),
    _text("verdict"),
    _text("reason"),
    _text("decided_by"),
    _text("decided_at"),
    _text("entries"),
    PrimaryKeyConstraint("pool_id", "difference"),
    _of_pool(),
    CheckConstraint("verdict IN ('accepted', 'dismissed')", name="verdict_known"),
    sqlite_strict=True,
)

reconciliation_act = Table(
    "reconciliation_act",
    metadata,
    _text("pool_id"),
    _whole("number"),
    _text("month"),
    _text("kind"),
    _text("subject"),
    _text("content"),
    _text("word"),
    _text("made_by"),
    _text("made_at"),
    PrimaryKeyConstraint("pool_id", "number"),
    _of_pool(),
    CheckConstraint("number >= 1", name="number_positive"),
    CheckConstraint("kind IN ('confirmed', 'signed', 'taken_back', 'handed', 'answered')", name="kind_known"),
    sqlite_strict=True,
)
Index(
    "ix_reconciliation_act_kind",
    reconciliation_act.c.pool_id,
    reconciliation_act.c.kind,
    reconciliation_act.c.month,
    reconciliation_act.c.number,
)

price_ladder = Table(
    "price_ladder",
    metadata,
    _text("pool_id"),
    _text("valid_from"),
    _whole("version"),
    _text("tiers", nullable=True),
    _text("written_at"),
    _text("written_by"),
    PrimaryKeyConstraint("pool_id", "valid_from", "version"),
    _of_pool(),
    CheckConstraint("version >= 1", name="version_positive"),
    sqlite_strict=True,
)

order_plan = Table(
    "order_plan",
    metadata,
    _text("pool_id"),
    _text("plan_id"),
    _text("setting"),
    _text("made_at"),
    _text("made_by"),
    PrimaryKeyConstraint("pool_id", "plan_id"),
    _of_pool(),
    sqlite_strict=True,
)
