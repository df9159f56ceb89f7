"""Keeping what is valid from a day in versions: price ladders and catalogues alike.

Each is named by its day, and counts until the next one's. A change states the version that it replaces, and adds one;
nothing that was said is lost.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import NotFound
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import directory, journal
from pool_api.store.dated import Dated, Version
from pool_api.store.engine import reading, writing

Said = TypeVar("Said")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptByDay(Generic[Said]):
    """One kind of what is kept so: where it is, what one is called in a refusal, and who reads and changes it.

    moves_costs — what months cost can rest on it, so that a change makes every costing look again."""

    store: Dated[Said]
    what: str
    reads: Right
    changes: Right
    moves_costs: bool = False

    def standing(
        self, office: Office, caller: Caller, pool: str, *, after: date | None, limit: int
    ) -> list[Version[Said]]:
        """Give those that stand, by their days, later ones only. Refuses: NotFound, NotPermitted."""
        access.permit_into(caller, pool, self.reads)
        with reading(office.engine, pool) as connection:
            return self.store.standing(connection, pool, after=after, limit=limit)

    def read(
        self, office: Office, caller: Caller, pool: str, valid_from: date, version: int | None = None
    ) -> Version[Said]:
        """Give the one of a day, as it stands or in a version that it once had. Refuses: NotFound, NotPermitted."""
        access.permit_into(caller, pool, self.reads)
        with reading(office.engine, pool) as connection:
            before = None if version is None else version + 1
            found = next(iter(self.store.versions(connection, pool, valid_from, before=before, limit=1)), None)
        if found is None or found.said is None or version not in (None, found.version):
            name = valid_from.isoformat() + ("" if version is None else f", version {version}")
            raise NotFound(what=self.what, name=name)
        return found

    def versions(
        self, office: Office, caller: Caller, pool: str, valid_from: date, *, before: int | None, limit: int
    ) -> list[Version[Said]]:
        """Give all that was said of the one of a day, newest first. Refuses: NotFound, NotPermitted."""
        access.permit_into(caller, pool, self.reads)
        with reading(office.engine, pool) as connection:
            found = self.store.versions(connection, pool, valid_from, before=before, limit=limit)
        if not found and before is None:
            raise NotFound(what=self.what, name=valid_from.isoformat())
        return found

    def put(  # noqa: PLR0917 - what is said of which day, and what it replaces
        self,
        office: Office,
        caller: Caller,
        pool: str,
        valid_from: date,
        said: Said | None,
        content: Mapping[str, object],
        version: int | None,
    ) -> Version[Said]:
        """Say something of a day (version None where nothing stands), and give its new version.

        Takes:   content — what the columns of content hold for what is said.
        Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
        access.permit_into(caller, pool, self.changes)
        with writing(office.engine, pool) as connection:
            if journal.lock_head(connection, pool) is None:
                raise NotFound(what="pool", name=pool)
            there = self.store.newest(connection, pool, valid_from)
            standing = None if there is None or there.said is None else there.version
            agree(self.what, valid_from.isoformat(), standing, version)
            made = Version(
                valid_from=valid_from,
                version=there.version + 1 if there else 1,
                said=said,
                written_at=office.instant(),
                written_by=access.signature(caller),
            )
            self.store.add(connection, pool, made, content)
            if self.moves_costs:
                directory.raise_version(connection, pool)
        return made

    def withdraw(self, office: Office, caller: Caller, pool: str, valid_from: date, version: int) -> None:
        """Let the one of a day count no more; its versions stay. Refuses: NotFound, NotPermitted, VersionStale."""
        self.put(office, caller, pool, valid_from, None, {}, version)
