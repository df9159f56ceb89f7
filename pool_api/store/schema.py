"""The schema's revisions: this file brings a database to one, and says whether it is at the newest.

It knows Alembic and where the revisions lie; what they do stands in migrations/. A migration is one transaction on both
databases: it happens as a whole or not at all. On SQLite, whose changes of a table rebuild it, foreign keys are off
meanwhile and checked before the commit. On PostgreSQL it runs as the owner of the tables, never as the service's role.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine
from sqlalchemy.engine import make_url

from pool_api.store.engine import open_engine, reading, writing
from pool_api.store.errors import StoreUnfit

MIGRATIONS = Path(__file__).parents[2] / "migrations"


def migrate(url: str) -> None:
    """Bring a database to the newest revision; makes a SQLite database that isn't there yet, and its directory.

    Refuses: StoreUnfit, StoreBusy (a lock was held too long: nothing changed), StoreUnavailable."""
    command.upgrade(migration_config(url), "head")


def migration_config(url: str) -> Config:
    """Give the configuration under which Alembic's own commands work on a database."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["url"] = url
    return config


@contextmanager
def migrating(url: str) -> Iterator[Connection]:
    """Give the one transaction in which migrations/env.py runs the revisions."""
    path = make_url(url).database
    if url.startswith("sqlite") and path:
        Path(path).parent.mkdir(parents=True, exist_ok=True)
    engine = open_engine(url, connections=1, statement_ms=0)
    try:
        sqlite = engine.dialect.name == "sqlite"
        if sqlite:
            _keep_foreign_keys_off(engine)
        with writing(engine, None) as connection:
            yield connection
            if sqlite and (broken := connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()):
                raise StoreUnfit(f"rows of {broken[0][0]} would refer to rows of {broken[0][2]} that aren't there")
    finally:
        engine.dispose()


def _keep_foreign_keys_off(engine: Engine) -> None:
    """Switch the pragma on the engine's only connection, outside a transaction: inside one it would do nothing."""
    with engine.connect() as connection:
        connection.connection.cursor().execute("PRAGMA foreign_keys = OFF")


def refuse_unmigrated(engine: Engine) -> None:
    """Refuse a database that isn't at the newest revision. Refuses: StoreUnfit, naming both revisions."""
    newest = ScriptDirectory(str(MIGRATIONS)).get_current_head()
    with reading(engine, None) as connection:
        found = MigrationContext.configure(connection).get_current_revision()
    if found != newest:
        raise StoreUnfit(f"the database is at revision {found or 'none'}, but must be at {newest}: migrate it first")
