"""The table of needs that were stated by hand, each with all its versions."""

from sqlalchemy import CheckConstraint, PrimaryKeyConstraint, Table

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

stated_need = Table(
    "stated_need",
    metadata,
    text("pool_id"),
    text("member"),
    text("month"),
    whole("version"),
    whole("quantity", nullable=True),
    text("reason"),
    text("written_at"),
    text("written_by"),
    PrimaryKeyConstraint("pool_id", "member", "month", "version"),
    of_pool(),
    CheckConstraint("version >= 1", name="version_positive"),
    CheckConstraint("quantity >= 0", name="quantity_not_negative"),
    sqlite_strict=True,
)
