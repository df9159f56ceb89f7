"""The tables of what happened with access: the events, which pools are told of each, and how far their chain reaches.

Events are those of the whole service: somebody who signs in is in no pool yet, and may be in several. So they aren't
divided by row security; a pool is told what `access_told` has a row for, whose key leads with the pool.
"""

from sqlalchemy import CheckConstraint, Index, PrimaryKeyConstraint, Table, UniqueConstraint

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

access_event = Table(
    "access_event",
    metadata,
    whole("number"),
    text("at"),
    text("kind"),
    text("by_whom", nullable=True),
    text("by_id", nullable=True),
    text("session_id", nullable=True),
    text("peer", nullable=True),
    text("about", nullable=True),
    text("pool_id", nullable=True),
    text("detail"),
    text("previous_hash"),
    text("hash"),
    PrimaryKeyConstraint("number"),
    UniqueConstraint("hash"),
    of_pool(),
    CheckConstraint("number >= 1", name="number_positive"),
    sqlite_strict=True,
)
Index("ix_access_event_by", access_event.c.by_id, access_event.c.number)
Index("ix_access_event_about", access_event.c.about, access_event.c.number)

access_told = Table(
    "access_told",
    metadata,
    text("pool_id"),
    whole("number"),
    PrimaryKeyConstraint("pool_id", "number"),
    of_pool(),
    sqlite_strict=True,
)
Index("ix_access_told_number", access_told.c.number)

access_head = Table(
    "access_head",
    metadata,
    text("chain"),
    whole("number"),
    text("hash"),
    PrimaryKeyConstraint("chain"),
    CheckConstraint("number >= 0", name="number_not_negative"),
    sqlite_strict=True,
)
"""One row: the number and hash of the last event, locked by whoever adds the next."""
