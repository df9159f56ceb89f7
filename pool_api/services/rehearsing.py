"""What would become of commands if they were recorded now, one after the other: decided as the writer would, written
nowhere.
"""

from collections.abc import Sequence

from pool_api.domain.entries import Command, Entry, Reversal
from pool_api.domain.errors import NotFound
from pool_api.domain.hashing import chained
from pool_api.domain.journal import OF_STOCK, Desk
from pool_api.services.office import Office
from pool_api.store import directory, journal
from pool_api.store.engine import Connection, reading
from pool_api.store.journal import EntryFilter


class Rehearsal:
    """A copy of the book on which commands are tried; each sees what those before it changed."""

    def __init__(self, office: Office, pool: str) -> None:
        self._office = office
        self._pool = pool
        self._appended: list[Entry] = []
        with reading(office.engine, pool) as connection:
            book, found = journal.read_book(connection, pool), directory.read_directory(connection, pool)
        if book is None or found is None:
            raise NotFound(what="pool", name=pool)
        self._book, self._directory = book, found
        self._today = office.pool_today(pool)

    def record(self, commands: Sequence[Command]) -> tuple[Entry, ...]:
        """Give the entries that commands would become, all or none. Refuses: as the journal says."""
        before, count = self._book.copy(), len(self._appended)
        try:
            with reading(self._office.engine, self._pool) as connection:
                return tuple([self._decided(connection, command) for command in commands])
        except Exception:
            self._book = before
            del self._appended[count:]
            raise

    def _decided(self, connection: Connection, command: Command) -> Entry:
        body, targets = command.body, {}
        if isinstance(body, Reversal):
            targets = journal.read_numbered(connection, self._pool, [body.entry])
            undone = journal.read_undone(connection, self._pool, targets)
            self._book.undone = undone | self._book.undone
        desk = Desk(
            pool=self._directory.pool,
            members=self._directory.members,
            book=self._book,
            today=self._today,
            targets=targets,
            history=lambda: (
                *journal.read_entries(connection, self._pool, EntryFilter(kinds=OF_STOCK)),
                *self._appended,
            ),
        )
        decided = Command(
            body=desk.decide(command),
            effective_on=command.effective_on,
            recorded_by=command.recorded_by,
            note=command.note,
        )
        entry = chained(self._pool, self._book.number + 1, self._book.hash, decided, self._office.instant())
        self._book.apply(entry, targets.get(body.entry) if isinstance(body, Reversal) else None)
        self._appended.append(entry)
        return entry
