"""The vendor's catalogues: kept in versions, read from files by column profiles, searched and compared.

A catalogue is named by the day that it is valid from, and counts until the next one's. A change states the version that
it replaces, and adds one; nothing that was said is lost. A file is read without keeping anything: whoever has looked at
what was read, and at what was set aside, enters it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.catalogue import Catalogue, Changes, Item, compare, valid_on
from pool_api.domain.errors import NoCatalogue, NotFound
from pool_api.intake.catalogue import CatalogueGuess, CatalogueProfile, ItemsRead, propose_catalogue, read_items
from pool_api.intake.table import Table, read_table
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import catalogues, journal
from pool_api.store.catalogues import CatalogueVersion
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.profiles import OF_CATALOGUES

_WHAT = "catalogue from"


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueRead:
    """What a file says, by a profile (None when none could be guessed): its items, what is set aside, and the changes
    beside the catalogue that counts on the day asked for, None where none does."""

    table: Table
    guess: CatalogueGuess
    read: ItemsRead | None
    beside: date | None
    changes: Changes | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemFilter:
    """Which items to list; None asks for no restriction. text is part of the code or the name, whatever its case."""

    text: str | None = None
    vehicle_class: str | None = None
    family: str | None = None

    def passes(self, item: Item) -> bool:
        """Tell whether an item is one of them."""
        text = (self.text or "").casefold()
        return (
            (text in item.code.casefold() or text in item.name.casefold())
            and self.vehicle_class in (None, item.vehicle_class)
            and self.family in (None, item.family)
        )


# --- catalogues ------------------------------------------------------------------------------------------------------


def list_catalogues(
    office: Office, caller: Caller, pool: str, *, after: date | None, limit: int
) -> list[CatalogueVersion]:
    """Give the catalogues that stand, by the day that they are valid from. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        return catalogues.read_catalogues(connection, pool, after=after, limit=limit)


def read_catalogue(
    office: Office, caller: Caller, pool: str, valid_from: date, version: int | None = None
) -> tuple[CatalogueVersion, Catalogue]:
    """Give the catalogue that is valid from a day, as it stands or in a version that it once had.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        above = None if version is None else version + 1
        found = catalogues.read_versions(connection, pool, valid_from, before=above, limit=1)
        said = catalogues.read_catalogue(connection, pool, found[0]) if found else None
    if said is None or version not in (None, found[0].version):
        name = valid_from.isoformat() + ("" if version is None else f", version {version}")
        raise NotFound(what=_WHAT, name=name)
    return found[0], said


def list_versions(
    office: Office, caller: Caller, pool: str, valid_from: date, *, before: int | None, limit: int
) -> list[CatalogueVersion]:
    """Give all that was said of the catalogue that is valid from a day, newest first.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        found = catalogues.read_versions(connection, pool, valid_from, before=before, limit=limit)
    if not found and before is None:
        raise NotFound(what=_WHAT, name=valid_from.isoformat())
    return found


def put_catalogue(office: Office, caller: Caller, pool: str, said: Catalogue, version: int | None) -> CatalogueVersion:
    """Enter a catalogue (version None) or change one, and give its new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_CATALOGUE)
    return _add(office, caller, pool, said.valid_from, said, version)


def withdraw_catalogue(office: Office, caller: Caller, pool: str, valid_from: date, version: int) -> None:
    """Let the catalogue that is valid from a day count no more; its versions stay.

    Refuses: NotFound, NotPermitted, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_CATALOGUE)
    _add(office, caller, pool, valid_from, None, version)


def _add(  # noqa: PLR0917 - a version says all of this
    office: Office, caller: Caller, pool: str, valid_from: date, said: Catalogue | None, version: int | None
) -> CatalogueVersion:
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        there = catalogues.read_newest(connection, pool, valid_from)
        standing = there.version if there and there.count is not None else None
        agree(_WHAT, valid_from.isoformat(), standing, version)
        made = CatalogueVersion(
            valid_from=valid_from,
            version=there.version + 1 if there else 1,
            count=None if said is None else len(said.items),
            written_at=office.instant(),
            written_by=access.signature(caller),
        )
        catalogues.write_catalogue(connection, pool, made, said)
    return made


def list_items(
    office: Office,
    caller: Caller,
    pool: str,
    on: date | None,
    wanted: ItemFilter,
    *,
    after: str,
    limit: int,
) -> list[Item]:
    """Give items of the catalogue that counts on a day, today unless stated, whose code comes after a text, by code.

    Refuses: NotFound, NotPermitted, NoCatalogue."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        found = counting(connection, pool, on or office.pool_today(pool))
    return [each for each in found.items if each.code > after and wanted.passes(each)][:limit]


def counting(connection: Connection, pool: str, day: date) -> Catalogue:
    """Give the catalogue that counts on a day. Refuses: NoCatalogue."""
    found = valid_on(catalogues.read_lawful(connection, pool, day, day), day)
    if found is None:
        raise NoCatalogue(day=day.isoformat())
    return found


def changes(
    office: Office, caller: Caller, pool: str, valid_from: date, since: date | None
) -> tuple[Catalogue, Catalogue, Changes]:
    """Compare the catalogue that is valid from a day with another one, the one before it unless stated.

    Gives:   the older one, the newer one, and what has changed.
    Refuses: NotFound, NotPermitted; NoCatalogue where there is none before."""
    _, newer = read_catalogue(office, caller, pool, valid_from)
    if since is None:
        with reading(office.engine, pool) as connection:
            earlier = [each for each in catalogues.read_catalogues(connection, pool) if each.valid_from < valid_from]
        if not earlier:
            raise NoCatalogue(day=f"a day before {valid_from.isoformat()}")
        since = earlier[-1].valid_from
    _, older = read_catalogue(office, caller, pool, since)
    return older, newer, compare(older.items, newer.items)


# --- files -----------------------------------------------------------------------------------------------------------


def read_file(
    office: Office, caller: Caller, pool: str, content: bytes, *, profile: str | None, on: date | None
) -> CatalogueRead:
    """Read a catalogue's file by a saved profile, or else by the one guessed from it, beside the catalogue that counts
    on a day, today unless stated; nothing is kept.

    Refuses: NotFound, NotPermitted; FileUnreadable, FileTooLarge, ColumnMissing."""
    access.permit_into(caller, pool, Right.CHANGE_CATALOGUE)
    day = on or office.pool_today(pool)
    table = read_table(content)
    guess = propose_catalogue(table, profile or "guessed")
    if profile is not None:
        saved = CatalogueProfile.from_json(read_profile(office, caller, pool, profile)[0])
        guess = CatalogueGuess(columns=saved.columns, profile=saved, doubts=())
    read = None if guess.profile is None else read_items(table, guess.profile)
    with reading(office.engine, pool) as connection:
        there = valid_on(catalogues.read_lawful(connection, pool, day, day), day)
    newer = sorted(read.items, key=lambda each: each.code) if read else []
    return CatalogueRead(
        table=table,
        guess=guess,
        read=read,
        beside=None if there is None else there.valid_from,
        changes=compare(there.items, newer) if there and read else None,
    )


def list_profiles(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[Mapping[str, Any]]:
    """Give the profiles whose name comes after a text, by name. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        return [*OF_CATALOGUES.after(connection, pool, after, limit)]


def read_profile(office: Office, caller: Caller, pool: str, name: str) -> tuple[Mapping[str, Any], int]:
    """Give one profile and its version. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_CATALOGUE)
    with reading(office.engine, pool) as connection:
        found = OF_CATALOGUES.read(connection, pool, name)
    if found is None:
        raise NotFound(what="catalogue profile", name=name)
    return found


def put_profile(office: Office, caller: Caller, pool: str, wanted: CatalogueProfile, version: int | None) -> int:
    """Make a profile (version None) or replace one, and give its new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
    access.permit_into(caller, pool, Right.CHANGE_CATALOGUE)
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        there = OF_CATALOGUES.read(connection, pool, wanted.name)
        agree("catalogue profile", wanted.name, None if there is None else there[1], version)
        OF_CATALOGUES.write(connection, pool, wanted.name, wanted.as_json(), exists=there is not None)
    return (version or 0) + 1
