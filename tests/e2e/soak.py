"""A mixed load for as long as one likes, and what it leaves in servers and on the disk: nothing may grow but the book.

    python -m tests.e2e.soak SECONDS [sqlite|postgresql]

Prints a line for each turn of the load; ends with 1 where something grew or the history fits no order.
"""

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
from sqlalchemy.engine import make_url

from tests.databases import Database, PostgresqlTemplate, SqliteTemplate, scratch, start_postgresql, stop_postgresql
from tests.e2e.history import faults
from tests.e2e.mixed_load import MixedLoad
from tests.e2e.servers import Server, Starter, keeper_of, starting
from tests.served import POOL

MOST_WAL = 64 * 1024 * 1024
"""SQLite writes the log back at 4 MiB, unless a reader holds it up."""

MOST_FILES = 8
MOST_CONNECTIONS = 2
MOST_MEMORY = 48 * 1024 * 1024
"""By how much each may grow from the first turn to the last; a process has some memory that it gives back late."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What servers hold together: memory and log in bytes, open files and connections counted."""

    memory: int
    files: int
    connections: int
    log: int
    entries: int

    def grown_since(self, first: "Measure") -> list[str]:
        """Give, in words, what grew and shouldn't have."""
        grown = {
            "memory": (self.memory - first.memory, MOST_MEMORY),
            "open files": (self.files - first.files, MOST_FILES),
            "connections": (self.connections - first.connections, MOST_CONNECTIONS),
            "the write-ahead log": (self.log, MOST_WAL),
        }
        return [f"{name} grew by {by:,}" for name, (by, most) in grown.items() if by > most]


def measure(servers: list[Server], database: Database, entries: int) -> Measure:
    """Look at servers and their database."""
    return Measure(
        memory=sum(_resident(server.process) for server in servers),
        files=sum(len(list(Path(f"/proc/{server.process}/fd").iterdir())) for server in servers),
        connections=_connections(database),
        log=_log_size(database),
        entries=entries,
    )


def soak(database: Database, load: MixedLoad, seconds: float, turns: int) -> Iterator[Measure | str]:
    """Load two servers of a database turn by turn: give what they hold after each, and what is wrong in the end."""
    with starting(database.url) as starter, _both(starter) as servers:
        addresses = [server.address for server in servers]
        first = None
        for _ in range(turns):
            load.run(addresses, seconds / turns)
            found = measure(servers, database, sum(told.is_recorded for told in load.history))
            first = first or found
            yield found
        yield from found.grown_since(first or found)
        yield from faults(load.history, load.journal(addresses[0]))
        yield from (f"{key} was answered otherwise when it was repeated" for key in load.differing)


@contextmanager
def _both(starter: Starter) -> Iterator[list[Server]]:
    with starter.serving() as one, starter.serving() as other:
        yield [one, other]


def _resident(process: int) -> int:
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def _connections(database: Database) -> int:
    if database.backend == "sqlite":
        return 0
    with psycopg.connect(database.superuser_url) as control:
        found = control.execute(
            "SELECT count(*) FROM pg_stat_activity"
            " WHERE application_name = 'credit-pool' AND datname = current_database()"
        ).fetchone()
    return int(found[0]) if found else 0


def _log_size(database: Database) -> int:
    if database.backend != "sqlite":
        return 0
    log = Path(f"{make_url(database.url).database}-wal")
    return log.stat().st_size if log.exists() else 0


def main() -> int:
    """Soak a database that is made for it."""
    seconds, backend = float(sys.argv[1]), (sys.argv[2:] or ["sqlite"])[0]
    directory = Path(tempfile.mkdtemp(prefix="credit-pool-soak-", dir=scratch()))
    template = (
        SqliteTemplate(directory)
        if backend == "sqlite"
        else PostgresqlTemplate(start_postgresql(directory), f"{POOL}-soak")
    )
    wrong = []
    with template.copy() as database:
        load = MixedLoad(keeper_of(database.url), seed=1)
        for turn, found in enumerate(soak(database, load, seconds, max(2, int(seconds / 30))), 1):
            if isinstance(found, str):
                wrong.append(found)
                print(found)  # noqa: T201 - a person waits for it
            else:
                print(f"{turn}: {found}")  # noqa: T201 - as above
    if isinstance(template, PostgresqlTemplate):
        template.close()
        stop_postgresql(directory)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
