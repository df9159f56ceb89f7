"""A database URL becomes an Engine that is safe to keep a book in; how its transactions start and what its errors mean.

This file knows the two drivers, and nobody else does but backup.py, which copies a SQLite file. Work happens in units
from `writing` and `reading`: they begin, commit or roll back, name the pool that row security compares with, and raise
StoreErrors in place of a driver's.

SQLite: a write unit takes the write lock at its start (BEGIN IMMEDIATE); a read that turns into a write fails at once
instead of waiting its turn. Write-ahead logging is used only by libraries free of the WAL-reset defect, through which
two connections could damage a file. With recursive_triggers, REPLACE too meets the triggers that refuse deleting.
PostgreSQL: write units run at READ COMMITTED, where what is read after waiting for a lock includes what was committed
meanwhile; at REPEATABLE READ the snapshot would be older than the lock. Read units are one snapshot.

Source: SQLite's manual: "Write-Ahead Logging", "How To Corrupt An SQLite Database File", "Pragma statements";
        PostgreSQL 18's manual: sections 13.2, 19.5, 19.11 and appendix A; libpq's sslmode: section 32.19.
"""

import ipaddress
import re
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from functools import lru_cache
from typing import Any

import psycopg
from psycopg import sql
from pysqlite3 import dbapi2 as sqlite
from sqlalchemy import CompoundSelect, Connection, Engine, Select, UniqueConstraint, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlalchemy.exc import TimeoutError as NoFreeConnection

from pool_api.store.errors import StoreBusy, StoreConflict, StoreError, StoreUnavailable, StoreUnfit
from pool_api.store.tables import metadata

__all__ = [
    "Connection",
    "Engine",
    "Query",
    "flowing",
    "open_engine",
    "reading",
    "sqlite_pragmas",
    "store_error",
    "wal_is_sound",
    "writing",
]

Query = Select[*tuple[Any, ...]] | CompoundSelect[*tuple[Any, ...]]

_START = "credit_pool_start"
"""The execution option that holds the statement by which a unit begins."""

_AT_HAND = 500
"""Rows taken at a time: the memory that they leave is used again while the processor has it at hand."""

_CONNECT_S = 5
_IDLE_IN_TRANSACTION_MS = 60_000


def open_engine(url: str, *, connections: int = 10, lock_wait_ms: int = 5_000, statement_ms: int = 30_000) -> Engine:
    """Open a database and look at once whether it is fit for a book.

    Takes:   url — sqlite:///path or postgresql://…; connections — the most at one time; lock_wait_ms — the longest wait
             for a lock or a free connection; statement_ms — the longest statement (PostgreSQL only).
    Refuses: StoreUnfit for a setting that could lose or show what it must not; StoreUnavailable; StoreBusy."""
    try:
        parsed = make_url(url)
    except ArgumentError as error:
        raise StoreUnfit("the database URL can't be read") from error
    match parsed.drivername:
        case "sqlite":
            engine = _sqlite_engine(parsed, connections, lock_wait_ms)
        case "postgresql" | "postgresql+psycopg":
            engine = _postgresql_engine(parsed, connections, lock_wait_ms, statement_ms)
        case other:
            raise StoreUnfit(f"the database URL starts with {other}, but must start with sqlite or postgresql")
    event.listen(engine, "begin", _begin)
    try:
        with reading(engine, None):
            pass
    except StoreError:
        engine.dispose()
        raise
    return engine


@contextmanager
def writing(engine: Engine, pool: str | None) -> Iterator[Connection]:
    """Give a connection in a transaction that may write: committed at the end, rolled back when anything is raised.

    Takes:   pool — the one pool whose rows PostgreSQL shows and takes; None for rows that belong to no pool.
    Refuses: StoreBusy and StoreConflict, with nothing written; StoreUnavailable, where it may have been."""
    with _unit(engine, _start(engine.dialect.name, pool, writes=True)) as connection:
        yield connection


@contextmanager
def reading(engine: Engine, pool: str | None) -> Iterator[Connection]:
    """Give a connection whose reads all see the same state of the database. Takes and refuses as `writing` does."""
    with _unit(engine, _start(engine.dialect.name, pool, writes=False)) as connection:
        yield connection


@contextmanager
def _unit(engine: Engine, start: str) -> Iterator[Connection]:
    try:
        with engine.connect() as connection:
            connection.execution_options(**{_START: start})
            try:
                with connection.begin():
                    yield connection
            except (DBAPIError, psycopg.Error) as error:
                if isinstance(store_error(error), StoreUnavailable):
                    connection.invalidate()
                raise
    except (DBAPIError, psycopg.Error, NoFreeConnection) as error:
        refusal = store_error(error)
        if refusal is None:
            raise
        raise refusal from error


@contextmanager
def flowing(connection: Connection, query: Query) -> Iterator[Iterator[Sequence[Any]]]:
    """Give the rows of a query as they come: PostgreSQL finds the next ones while the first are worked on.

    Nothing else may be asked of the connection meanwhile; who leaves before the last row leaves its unit."""
    if connection.dialect.name == "sqlite":
        yield (row for some in connection.execute(query).partitions(_AT_HAND) for row in some)
        return
    said = query.compile(connection.engine)
    driver: Any = connection.connection.driver_connection
    # closed at once: what the driver streams holds the connection, which the unit has to end its transaction on
    with driver.cursor() as cursor, closing(cursor.stream(said.string, said.params, size=_AT_HAND)) as rows:
        yield rows


def _begin(connection: Connection) -> None:
    start = connection.get_execution_options().get(_START, "BEGIN")
    connection.exec_driver_sql(start, execution_options={"no_parameters": True})


@lru_cache(maxsize=10_000)
def _start(dialect: str, pool: str | None, *, writes: bool) -> str:
    if dialect == "sqlite":
        return "BEGIN IMMEDIATE" if writes else "BEGIN"
    begin = "BEGIN ISOLATION LEVEL " + ("READ COMMITTED READ WRITE" if writes else "REPEATABLE READ READ ONLY")
    if pool is None:
        return begin
    # One message for both statements: a unit costs no round trip more than its own statements and its commit.
    return f"{begin}; SELECT set_config('app.pool', {sql.Literal(pool).as_string()}, true)"


# --- SQLite ----------------------------------------------------------------------------------------------------------


def wal_is_sound(version: tuple[int, int, int]) -> bool:
    """Say whether a version of SQLite is free of the WAL-reset defect.

    Source: SQLite's release notes: introduced with 3.7.0, mended in 3.51.3, and in 3.44.6 and 3.50.7."""
    line = version[:2]
    if line in {(3, 44), (3, 50)}:
        return version[2] >= {(3, 44): 6, (3, 50): 7}[line]
    return version < (3, 7, 0) or version >= (3, 51, 3)


def sqlite_pragmas(version: tuple[int, int, int], lock_wait_ms: int) -> dict[str, tuple[str, str]]:
    """Give, per pragma in the order of setting, what to set and what it must answer when asked."""
    journal, synchronous = (
        (("WAL", "wal"), ("FULL", "2"))
        if wal_is_sound(version)
        else (
            ("TRUNCATE", "truncate"),
            ("EXTRA", "3"),
        )
    )
    return {
        "busy_timeout": (str(lock_wait_ms), str(lock_wait_ms)),
        "journal_mode": journal,
        "synchronous": synchronous,
        "foreign_keys": ("ON", "1"),
        "recursive_triggers": ("ON", "1"),
        "trusted_schema": ("OFF", "0"),
        "cell_size_check": ("ON", "1"),
    }


def _sqlite_engine(url: URL, connections: int, lock_wait_ms: int) -> Engine:
    if not url.database or url.database == ":memory:" or url.database.startswith("file:") or url.query:
        raise StoreUnfit("the database of a sqlite URL must be the path of a file, without parameters")
    engine = create_engine(
        url,
        module=sqlite,
        pool_size=connections,
        max_overflow=0,
        pool_timeout=-(-lock_wait_ms // 1000),
        connect_args={"isolation_level": None},
    )
    pragmas = sqlite_pragmas(sqlite.sqlite_version_info, lock_wait_ms)

    @event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: object) -> None:
        for pragma, (wanted, _) in pragmas.items():
            connection.execute(f"PRAGMA {pragma} = {wanted}")
        for pragma, (_, expected) in pragmas.items():
            (found,) = connection.execute(f"PRAGMA {pragma}").fetchone()
            if str(found) != expected:
                raise StoreUnfit(f"SQLite's {pragma} is {found}, but must be {expected}")

    return engine


# --- PostgreSQL ------------------------------------------------------------------------------------------------------

_FIT = {
    "fsync": ("on",),
    "full_page_writes": ("on",),
    "synchronous_commit": ("on", "remote_apply"),
    "server_encoding": ("UTF8",),
    "standard_conforming_strings": ("on",),
    "TimeZone": ("UTC",),
}
"""What a connection must find, so that what is committed survives a crash and text means the same everywhere."""


def _postgresql_engine(url: URL, connections: int, lock_wait_ms: int, statement_ms: int) -> Engine:
    _refuse_open_line(url)
    session = {
        "lock_timeout": lock_wait_ms,
        "statement_timeout": statement_ms,
        "idle_in_transaction_session_timeout": _IDLE_IN_TRANSACTION_MS,
        "TimeZone": "UTC",
    }
    engine = create_engine(
        url.set(drivername="postgresql+psycopg"),
        pool_size=connections,
        max_overflow=0,
        pool_timeout=-(-lock_wait_ms // 1000),
        use_native_hstore=False,
        connect_args={
            # The driver then sends no BEGIN of its own; every transaction begins with the statement of its unit.
            "autocommit": True,
            "connect_timeout": _CONNECT_S,
            "application_name": "credit-pool",
            "client_encoding": "UTF8",
            "options": " ".join(f"-c {name}={value}" for name, value in session.items()),
        },
    )

    @event.listens_for(engine, "connect")
    def prove(connection: psycopg.Connection[Any], _record: object) -> None:
        asked = ", ".join(f"current_setting('{name}')" for name in _FIT)
        row: Any = connection.execute(f"SELECT pg_is_in_recovery(), {asked}", prepare=False).fetchone()
        standby, *found = row
        if standby:
            raise StoreUnavailable("this PostgreSQL is a standby: it takes no entries")
        for (name, fit), value in zip(_FIT.items(), found, strict=True):
            if value not in fit:
                raise StoreUnfit(f"PostgreSQL's {name} is {value}, but must be {' or '.join(fit)}")

    return engine


def _refuse_open_line(url: URL) -> None:
    """Refuse a server on another host whose identity would not be proved. The URL goes before libpq's environment."""
    given = {option.keyword.decode(): (option.val or b"").decode() for option in psycopg.pq.Conninfo.get_defaults()}
    given |= {name: value if isinstance(value, str) else ",".join(value) for name, value in url.query.items()}
    if url.host:
        given["host"] = url.host
    hosts = [host for host in (given["hostaddr"] or given["host"]).split(",") if host]
    if given["sslmode"] != "verify-full" and not all(map(_on_this_machine, hosts)):
        raise StoreUnfit("a PostgreSQL on another host needs sslmode=verify-full in its URL")


def _on_this_machine(host: str) -> bool:
    if host == "localhost" or host[0] in "/@":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


# --- what a driver's error means -------------------------------------------------------------------------------------

_BUSY_STATES = {"40001", "40P01", "53300", "55P03", "57014"}
"""Serialization failure, deadlock, too many connections, lock not available, statement cancelled (timed out)."""

_GONE_STATES = {"0A000", "25P03", "25P04"}
"""Writing refused because the server became a standby; the transaction timed out while idle, or as a whole."""

_GONE_CLASSES = {"08", "53", "57", "58", "F0", "XX"}
"""Connection, resources, operator's intervention, system, configuration file, internal."""

_BUSY_CODES = {sqlite.SQLITE_BUSY, sqlite.SQLITE_LOCKED}
_GONE_CODES = {
    sqlite.SQLITE_CANTOPEN,
    sqlite.SQLITE_CORRUPT,
    sqlite.SQLITE_FULL,
    sqlite.SQLITE_IOERR,
    sqlite.SQLITE_NOMEM,
    sqlite.SQLITE_NOTADB,
    sqlite.SQLITE_PROTOCOL,
    sqlite.SQLITE_READONLY,
}


def store_error(error: DBAPIError | psycopg.Error | NoFreeConnection) -> StoreError | None:
    """Give what a database error means to those who know no driver; None for a mistake of the program."""
    if isinstance(error, NoFreeConnection):
        return StoreBusy("all connections are in use")
    driver = error.driver_exception if isinstance(error, DBAPIError) else error
    return _postgresql_error(driver) if isinstance(driver, psycopg.Error) else _sqlite_error(driver)


def _postgresql_error(error: psycopg.Error) -> StoreError | None:
    state = error.sqlstate
    if state in _BUSY_STATES:
        return StoreBusy(f"SQLSTATE {state}")
    if state is None:
        lost = isinstance(error, psycopg.OperationalError | psycopg.InterfaceError)
        return StoreUnavailable("the connection to PostgreSQL is lost") if lost else None
    if state[:2] == "23":
        return StoreConflict(error.diag.constraint_name)
    gone = state in _GONE_STATES or state[:2] in _GONE_CLASSES
    return StoreUnavailable(f"SQLSTATE {state}") if gone else None


def _sqlite_error(error: Any) -> StoreError | None:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in _BUSY_CODES:
        return StoreBusy(f"SQLite error {code}")
    if code == sqlite.SQLITE_CONSTRAINT:
        return StoreConflict(_sqlite_constraint(str(error)))
    return StoreUnavailable(f"SQLite error {code}") if code in _GONE_CODES else None


def _sqlite_constraint(message: str) -> str | None:
    """Find a constraint's name. SQLite tells it of checks only, of keys the columns, and both only in its message."""
    if check := re.fullmatch(r"CHECK constraint failed: (\w+)", message):
        return check[1]
    if unique := re.fullmatch(r"UNIQUE constraint failed: (.+)", message):
        return _UNIQUE.get(unique[1])
    return None


_UNIQUE = {
    ", ".join(f"{table.name}.{column.name}" for column in constraint.columns): str(constraint.name)
    for table in metadata.sorted_tables
    for constraint in (table.primary_key, *(each for each in table.constraints if isinstance(each, UniqueConstraint)))
}
