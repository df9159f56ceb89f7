"""The vendor's catalogues: kept in versions, read from files by column profiles, searched and compared.

A catalogue is named by the day that it is valid from, and counts until the next one's. A file is read without keeping
anything: whoever has looked at what was read, and at what was set aside, enters it.
"""

from dataclasses import dataclass
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.catalogue import Catalogue, Changes, Item, compare, valid_on
from pool_api.domain.errors import NoCatalogue
from pool_api.intake.catalogue import CatalogueGuess, CatalogueProfile, ItemsRead, propose_catalogue, read_items
from pool_api.intake.table import Table, read_table
from pool_api.services.dated import KeptByDay
from pool_api.services.files import ONE_AT_A_TIME
from pool_api.services.office import Office
from pool_api.services.profiles import NamedProfiles
from pool_api.store import catalogues
from pool_api.store.catalogues import CatalogueVersion
from pool_api.store.engine import Connection, reading
from pool_api.store.profiles import OF_CATALOGUES

CATALOGUES = KeptByDay(
    store=catalogues.DATED, what="catalogue from", reads=Right.READ_CATALOGUE, changes=Right.CHANGE_CATALOGUE
)
PROFILES = NamedProfiles(
    store=OF_CATALOGUES, what="catalogue profile", reads=Right.READ_CATALOGUE, changes=Right.CHANGE_CATALOGUE
)


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


def read_catalogue(
    office: Office, caller: Caller, pool: str, valid_from: date, version: int | None = None
) -> tuple[CatalogueVersion, Catalogue]:
    """Give the catalogue that is valid from a day, as it stands or in a version that it once had.

    Refuses: NotFound, NotPermitted."""
    found = CATALOGUES.read(office, caller, pool, valid_from, version)
    with reading(office.engine, pool) as connection:
        return found, catalogues.read_catalogue(connection, pool, found)


def put_catalogue(office: Office, caller: Caller, pool: str, said: Catalogue, version: int | None) -> CatalogueVersion:
    """Enter a catalogue (version None) or change one, and give its new version.

    Refuses: NotFound, NotPermitted, AlreadyThere, VersionStale."""
    content = catalogues.content_of(said)
    return CATALOGUES.put(office, caller, pool, said.valid_from, len(said.items), content, version)


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
            earlier = [each for each in catalogues.DATED.standing(connection, pool) if each.valid_from < valid_from]
        if not earlier:
            raise NoCatalogue(day=f"a day before {valid_from.isoformat()}")
        since = earlier[-1].valid_from
    _, older = read_catalogue(office, caller, pool, since)
    return older, newer, compare(older.items, newer.items)


# --- files -----------------------------------------------------------------------------------------------------------


def read_file(  # noqa: PLR0917 - a file, and how it is to be read
    office: Office, caller: Caller, pool: str, content: bytes, sheet: str | None, profile: str | None, on: date | None
) -> CatalogueRead:
    """Read a catalogue's file by a saved profile, or else by the one guessed from it, beside the catalogue that counts
    on a day, today unless stated; nothing is kept.

    Refuses: NotFound, NotPermitted; FileUnreadable, FileTooLarge, ColumnMissing."""
    access.permit_into(caller, pool, Right.CHANGE_CATALOGUE)
    day = on or office.pool_today(pool)
    saved = profile and CatalogueProfile.from_json(PROFILES.read(office, caller, pool, profile)[0])
    with ONE_AT_A_TIME:
        table = read_table(content, sheet=sheet)
        guess = propose_catalogue(table, "guessed")
        if saved:
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
