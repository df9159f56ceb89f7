"""The ways in which the memory can't serve now. Which driver error becomes which is said in engine.py.

StoreError
├── StoreBusy          another holds what is needed, or it took too long: nothing was written, ask again
├── StoreConflict      a constraint of the database said no: nothing was written, asking again won't help
├── StoreUnavailable   the database is gone, full or damaged: whether the last commit stands is unknown
├── StoreDamaged       a stored entry can't be read any more: verify, and restore a backup
└── StoreUnfit         the database is set up in a way that could lose or show what it must not: don't start
"""


class StoreError(Exception):
    """The memory can't do what was asked."""


class StoreBusy(StoreError):
    """Another holds what is needed; asking again is safe and may succeed."""


class StoreConflict(StoreError):
    """A constraint said no. constraint is its name in tables.py, None where the database doesn't tell."""

    def __init__(self, constraint: str | None) -> None:
        super().__init__(f"the constraint {constraint or '(unnamed)'} was violated")
        self.constraint = constraint


class StoreUnavailable(StoreError):
    """The database can't be reached or can't store. A recording may stand or not: repeat it with its key."""


class StoreDamaged(StoreError):
    """A stored entry can't be read. number is its number."""

    def __init__(self, number: int) -> None:
        super().__init__(f"entry {number} can't be read")
        self.number = number


class StoreUnfit(StoreError):
    """The database is unfit for a book; says which setting is what and what it must be."""
