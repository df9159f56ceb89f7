"""Column profiles by name, of whichever files: read, made and changed."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import NotFound
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import journal
from pool_api.store.engine import reading, writing
from pool_api.store.profiles import Profiles


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedProfiles:
    """One kind of profiles, as JSON objects: where they are, what one is called in a refusal, who reads and changes."""

    store: Profiles
    what: str
    reads: Right
    changes: Right

    def after(self, office: Office, caller: Caller, pool: str, name: str, *, limit: int) -> list[Mapping[str, Any]]:
        """Give profiles whose name comes after a text, by name. Refuses: NotFound, NotPermitted."""
        access.permit_into(caller, pool, self.reads)
        with reading(office.engine, pool) as connection:
            return [*self.store.after(connection, pool, name, limit)]

    def read(self, office: Office, caller: Caller, pool: str, name: str) -> tuple[Mapping[str, Any], int]:
        """Give one profile and its version. Refuses: NotFound, NotPermitted."""
        access.permit_into(caller, pool, self.reads)
        with reading(office.engine, pool) as connection:
            found = self.store.read(connection, pool, name)
        if found is None:
            raise NotFound(what=self.what, name=name)
        return found

    def put(self, office: Office, caller: Caller, pool: str, profile: Mapping[str, Any], version: int | None) -> int:
        """Make a profile (version None) or replace one, and give its new version.

        Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
        access.permit_into(caller, pool, self.changes)
        name = profile["name"]
        with writing(office.engine, pool) as connection:
            if journal.lock_head(connection, pool) is None:
                raise NotFound(what="pool", name=pool)
            there = self.store.read(connection, pool, name)
            agree(self.what, name, None if there is None else there[1], version)
            self.store.write(connection, pool, name, dict(profile), exists=there is not None)
        return (version or 0) + 1
