"""The tables of the vendor's catalogues: each with all its versions, and the column profiles of their files."""

from sqlalchemy import CheckConstraint, PrimaryKeyConstraint, Table

from pool_api.store import columns
from pool_api.store.columns import of_pool, text, whole

metadata = columns.metadata

catalogue = Table(
    "catalogue",
    metadata,
    text("pool_id"),
    text("valid_from"),
    whole("version"),
    whole("item_count", nullable=True),
    text("content", nullable=True),
    text("written_at"),
    text("written_by"),
    PrimaryKeyConstraint("pool_id", "valid_from", "version"),
    of_pool(),
    CheckConstraint("version >= 1", name="version_positive"),
    sqlite_strict=True,
)

catalogue_profile = Table(
    "catalogue_profile",
    metadata,
    text("pool_id"),
    text("name"),
    text("profile"),
    whole("version"),
    PrimaryKeyConstraint("pool_id", "name"),
    of_pool(),
    sqlite_strict=True,
)
