"""What the tables are made of: two types of column, the key to the pool, and how constraints are named.

Text and whole numbers only, so that both databases keep, sort and compare alike. The tables themselves stand in
tables.py, record_tables.py, catalogue_tables.py, need_tables.py, arrangement_tables.py, people_tables.py and
access_tables.py.
"""

from sqlalchemy import BigInteger, Column, ForeignKeyConstraint, Integer, MetaData, Text

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_Text = Text().with_variant(Text(collation="C"), "postgresql")
_Whole = BigInteger().with_variant(Integer(), "sqlite")


def text(name: str, *, nullable: bool = False, server_default: str | None = None) -> Column[str]:
    """Give a column of text, of the same order on both databases."""
    return Column(name, _Text, nullable=nullable, server_default=server_default)


def whole(name: str, *, nullable: bool = False) -> Column[int]:
    """Give a column of whole numbers of 64 bits."""
    return Column(name, _Whole, nullable=nullable, autoincrement=False)


def of_pool() -> ForeignKeyConstraint:
    """Give the key to the pool that a row belongs to."""
    return ForeignKeyConstraint(["pool_id"], ["pool.pool_id"])
