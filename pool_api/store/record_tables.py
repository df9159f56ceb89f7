"""The tables of the vendor's record: imports, their rows, what later files say of rows, and rows withdrawn.

A row of `vendor_revision` says that an import doesn't show a row on file, or shows it again, and what it has become;
`vendor_withdrawal` says which row a keeper withdrew by which import's word, and by the decision on which difference.
"""

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, Index, PrimaryKeyConstraint, Table

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

vendor_import = Table(
    "vendor_import",
    metadata,
    text("pool_id"),
    text("import_id"),
    text("account"),
    text("profile"),
    text("file_digest"),
    text("imported_at"),
    text("imported_by"),
    text("first_day", nullable=True),
    text("last_day", nullable=True),
    whole("rows_new"),
    whole("rows_known"),
    text("set_aside"),
    PrimaryKeyConstraint("pool_id", "import_id"),
    of_pool(),
    sqlite_strict=True,
)

vendor_row = Table(
    "vendor_row",
    metadata,
    text("pool_id"),
    text("account"),
    text("content"),
    whole("occurrence"),
    text("import_id"),
    whole("line"),
    text("day"),
    text("kind"),
    text("giver", nullable=True),
    text("receiver", nullable=True),
    whole("quantity"),
    text("note"),
    text("reference", nullable=True),
    whole("balance", nullable=True),
    text("amount", nullable=True),
    PrimaryKeyConstraint("pool_id", "account", "content", "occurrence"),
    ForeignKeyConstraint(["pool_id", "import_id"], ["vendor_import.pool_id", "vendor_import.import_id"]),
    CheckConstraint("occurrence >= 1", name="occurrence_positive"),
    sqlite_strict=True,
)
Index("ix_vendor_row_day", vendor_row.c.pool_id, vendor_row.c.day)

vendor_revision = Table(
    "vendor_revision",
    metadata,
    text("pool_id"),
    text("import_id"),
    text("account"),
    text("content"),
    whole("occurrence"),
    text("day"),
    text("became", nullable=True),
    whole("shown"),
    PrimaryKeyConstraint("pool_id", "import_id", "account", "content", "occurrence"),
    ForeignKeyConstraint(["pool_id", "import_id"], ["vendor_import.pool_id", "vendor_import.import_id"]),
    CheckConstraint("shown = 0 OR (shown = 1 AND became IS NULL)", name="shown_or_not"),
    sqlite_strict=True,
)
Index("ix_vendor_revision_day", vendor_revision.c.pool_id, vendor_revision.c.day)

vendor_withdrawal = Table(
    "vendor_withdrawal",
    metadata,
    text("pool_id"),
    text("row"),
    text("import_id"),
    text("difference"),
    PrimaryKeyConstraint("pool_id", "row", "import_id"),
    ForeignKeyConstraint(["pool_id", "import_id"], ["vendor_import.pool_id", "vendor_import.import_id"]),
    sqlite_strict=True,
)
