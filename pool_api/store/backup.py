"""Copying a SQLite database while it is in use. The copy is one consistent state, checked before it is called done."""

from pathlib import Path

from pysqlite3 import dbapi2 as sqlite
from sqlalchemy.engine import make_url

from pool_api.store.errors import StoreUnfit


def back_up(url: str, target: Path) -> None:
    """Copy a database by SQLite's backup interface.

    Refuses: StoreUnfit for another kind of database, a target that is there already, or a copy that isn't whole."""
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite" or not parsed.database:
        raise StoreUnfit("only SQLite is copied here; use pg_dump for PostgreSQL")
    if target.exists():
        raise StoreUnfit(f"{target} is there already; nothing is overwritten")
    source = sqlite.connect(f"file:{parsed.database}?mode=ro", uri=True)
    copy = sqlite.connect(str(target))
    try:
        source.backup(copy)
        (found,) = copy.execute("PRAGMA integrity_check").fetchone()
    finally:
        copy.close()
        source.close()
    if found != "ok":
        raise StoreUnfit(f"the copy is damaged: {found}")
