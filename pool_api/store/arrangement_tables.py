"""The table of what members arrange: the steps of joint orders and of requests for credits."""

from sqlalchemy import CheckConstraint, Index, PrimaryKeyConstraint, Table

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

arrangement_step = Table(
    "arrangement_step",
    metadata,
    text("pool_id"),
    text("matter"),
    text("arrangement_id"),
    whole("number"),
    text("kind"),
    text("member", nullable=True),
    text("until", nullable=True),
    text("content"),
    text("made_by"),
    text("made_at"),
    PrimaryKeyConstraint("pool_id", "matter", "arrangement_id", "number"),
    of_pool(),
    CheckConstraint("number >= 1", name="number_positive"),
    CheckConstraint("matter IN ('round', 'request')", name="matter_known"),
    sqlite_strict=True,
)
Index(
    "ix_arrangement_step_until",
    arrangement_step.c.pool_id,
    arrangement_step.c.matter,
    arrangement_step.c.number,
    arrangement_step.c.until,
)
