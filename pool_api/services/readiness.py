"""Whether the service can serve: its database answers and is at the revision that this program was written for; and the
secret that its processes share for the cursors of lists."""

from pool_api.services.office import Office
from pool_api.store import directory
from pool_api.store.engine import reading, writing
from pool_api.store.errors import StoreConflict, StoreError, StoreUnfit
from pool_api.store.schema import refuse_unmigrated

CURSOR_SECRET = "cursor-secret"  # noqa: S105 - the name of the setting, not the secret


def missing(office: Office) -> list[str]:
    """Give the names of what the service needs and hasn't got now; none when it is ready."""
    try:
        refuse_unmigrated(office.engine)
    except StoreUnfit:
        return ["schema"]
    except StoreError:
        return ["database"]
    return []


def cursor_secret(office: Office) -> bytes:
    """Give the secret that all processes share, made by whichever is first."""
    with reading(office.engine, None) as connection:
        kept = directory.read_setting(connection, CURSOR_SECRET)
    if kept is None:
        try:
            with writing(office.engine, None) as connection:
                directory.write_setting(connection, CURSOR_SECRET, office.random_hex(32))
        except StoreConflict:
            pass
        return cursor_secret(office)
    return bytes.fromhex(kept)
