"""What the tables are made of: text, whole numbers, the reference to the pool, and how constraints are named."""

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


def text(name: str, *, nullable: bool = False) -> Column[str]:
    """Make a column of text, which both databases sort alike."""
    return Column(name, _Text, nullable=nullable)


def whole(name: str, *, nullable: bool = False) -> Column[int]:
    """Make a column of whole numbers."""
    return Column(name, _Whole, nullable=nullable, autoincrement=False)


def of_pool() -> ForeignKeyConstraint:
    """Make the reference of a row to its pool."""
    return ForeignKeyConstraint(["pool_id"], ["pool.pool_id"])
