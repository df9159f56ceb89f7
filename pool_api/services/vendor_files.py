"""The vendor's files: how their columns are to be read, importing them without doubling, and what is on file."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import HandleUnknown, NotFound, UnknownMember
from pool_api.domain.record import Arrival, Reading, RecordType, SetAside, compare, whole_days
from pool_api.domain.revisions import Change, Says, changes, gone
from pool_api.intake.columns import read
from pool_api.intake.profile import Profile
from pool_api.intake.proposal import Known, Proposal, propose
from pool_api.intake.table import Table, read_table
from pool_api.services.files import ONE_AT_A_TIME
from pool_api.services.office import Office
from pool_api.services.profiles import NamedProfiles
from pool_api.store import answers, journal, revisions, vendor
from pool_api.store.answers import Answer, Slot
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.profiles import OF_RECORDS
from pool_api.store.vendor import Import

OPERATION = "vendor-records"

PROFILES = NamedProfiles(
    store=OF_RECORDS, what="column profile", reads=Right.READ_RECORDS, changes=Right.IMPORT_RECORDS
)

MOST_TOLD = 200
"""Of how many rows on file an import's answer says itself what has become of them; all can be read in pages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """An import, rows that the file leaves out on purpose, and the first of the rows on file that it says something of.

    repeats is the import of which the file is a copy that says nothing new. A replay of an earlier request doesn't tell
    what was left out."""

    imported: Import
    skipped: tuple[SetAside, ...]
    changes: tuple[Change, ...]
    repeats: str | None
    replayed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportRequest:
    """A file and whose record it is. account None asks for the member's present one; the days, if stated, are those
    that the export covers, which may be more than its rows show."""

    member: str
    account: str | None
    profile: str
    content: bytes
    sheet: str | None
    first_day: date | None
    last_day: date | None
    key: str

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same."""
        asked: tuple[object, ...] = (self.member, self.account, self.profile, self.first_day, self.last_day)
        asked += () if self.sheet is None else (self.sheet,)  # what was asked before sheets were is still the same
        return hashlib.sha256(repr(asked).encode() + b"\0" + self.content).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalRequest:
    """A file whose columns are to be guessed, and what the profile shall be called and be for."""

    name: str
    content: bytes
    sheet: str | None
    record: RecordType


# --- column profiles -------------------------------------------------------------------------------------------------


def propose_profile(office: Office, caller: Caller, pool: str, asked: ProposalRequest) -> tuple[Table, Proposal]:
    """Read a file and guess its column profile, knowing the accounts of the pool's members; nothing is kept.

    Refuses: NotFound, NotPermitted, FileUnreadable, FileTooLarge."""
    access.permit_into(caller, pool, Right.IMPORT_RECORDS)
    directory = office.directory(pool)
    accounts = {each.handle for member in directory.members.values() for each in member.handles}
    known = Known(accounts=accounts, record=asked.record, zone=directory.pool.time_zone)
    with ONE_AT_A_TIME:
        table = read_table(asked.content, sheet=asked.sheet)
        return table, propose(table, asked.name, known)


# --- imports ---------------------------------------------------------------------------------------------------------


def import_file(office: Office, caller: Caller, pool: str, asked: ImportRequest) -> Imported:
    """Take the rows of a file that aren't on file yet. Nothing of a refused file stays.

    Refuses: NotFound, NotPermitted, UnknownMember, HandleUnknown, KeyReused; FileUnreadable, FileTooLarge,
             ColumnMissing."""
    access.permit_into(caller, pool, Right.IMPORT_RECORDS)
    account = _account(office, pool, asked)
    stored, _ = PROFILES.read(office, caller, pool, asked.profile)
    profile = Profile.from_json(stored)
    slot = Slot(caller.key_id, OPERATION, asked.key)
    with ONE_AT_A_TIME:
        found = read(read_table(asked.content, sheet=asked.sheet, encoding=profile.encoding), profile, account)
    with writing(office.engine, pool) as connection:
        journal.lock_head(connection, pool)
        earlier = answers.outcome_of(connection, pool, slot, asked.fingerprint)
        if earlier is not None:
            return _taken_before(connection, pool, earlier["import_id"])
        import_id = f"{vendor.count_imports(connection, pool) + 1:08d}"
        arrival, said = _compared(connection, pool, asked, profile, found)
        made = _import(office, caller, asked, profile, found, arrival, import_id)
        repeats = vendor.read_earlier(connection, pool, made)
        said = () if repeats else said
        vendor.write_import(connection, pool, made, arrival.new)
        revisions.write_changes(connection, pool, import_id, said)
        answers.write_answers(
            connection, pool, {slot: Answer(asked.fingerprint, {"import_id": import_id})}, office.instant()
        )
    counted = replace(made, said={says: sum(each.says is says for each in said) for says in Says})
    return Imported(imported=counted, skipped=found.skipped, changes=said[:MOST_TOLD], repeats=repeats, replayed=False)


def _compared(
    connection: Connection, pool: str, asked: ImportRequest, profile: Profile, found: Reading
) -> tuple[Arrival, tuple[Change, ...]]:
    """Hold a reading against what is on file of its days: which rows are new, and what it says of the others.

    A record of one type says nothing of rows of the others."""
    whole = whole_days(found, asked.first_day, asked.last_day)
    days = [day for day in (found.first_day, found.last_day, *(whole or ())) if day is not None]
    if not days:
        return compare((), found, None), ()
    account, first, last = found.account, min(days), max(days)
    on_file = list(vendor.read_rows(connection, pool, account=account, first_day=first, last_day=last))
    words = revisions.read_words(connection, pool, account=account, first_day=first, last_day=last)
    arrival = compare(on_file, found, whole)
    shown = tuple(row for row in arrival.vanished if row.kind in profile.record.kinds)
    return arrival, changes(replace(arrival, vanished=shown), gone(words))


def _taken_before(connection: Connection, pool: str, import_id: str) -> Imported:
    told = _known(connection, pool, import_id)
    said = tuple(revisions.read_changes(connection, pool, import_id, limit=MOST_TOLD))
    earlier = vendor.read_earlier(connection, pool, told)
    repeats = None if earlier == import_id else earlier
    return Imported(imported=told, skipped=(), changes=said, repeats=repeats, replayed=True)


def _counted(connection: Connection, pool: str, found: Sequence[Import]) -> list[Import]:
    """Add to imports of how many rows on file they say what."""
    said = revisions.count_changes(connection, pool, [each.import_id for each in found])
    return [replace(each, said=said[each.import_id]) for each in found]


def _import(  # noqa: PLR0917 - an import says all of this
    office: Office,
    caller: Caller,
    asked: ImportRequest,
    profile: Profile,
    found: Reading,
    arrival: Arrival,
    import_id: str,
) -> Import:
    return Import(
        import_id=import_id,
        account=found.account,
        profile=profile.name,
        record=profile.record,
        file_digest=hashlib.sha256(asked.content).hexdigest(),
        imported_at=office.instant(),
        imported_by=access.signature(caller),
        first_day=min((day for day in (asked.first_day, found.first_day) if day), default=None),
        last_day=max((day for day in (asked.last_day, found.last_day) if day), default=None),
        rows_new=len(arrival.new),
        rows_known=len(arrival.known),
        set_aside=found.set_aside,
    )


def _account(office: Office, pool: str, asked: ImportRequest) -> str:
    member = office.directory(pool).members.get(asked.member)
    if member is None:
        raise UnknownMember(member=asked.member)
    if asked.account is None:
        present = member.handle_on(office.pool_today(pool))
        if present is None:
            raise HandleUnknown(member=asked.member, handle="")
        return present
    for each in member.handles:
        if each.handle.casefold() == asked.account.casefold():
            return each.handle
    raise HandleUnknown(member=asked.member, handle=asked.account)


def list_imports(office: Office, caller: Caller, pool: str, *, after: str, limit: int) -> list[Import]:
    """Give imports whose id comes after a text, by id, first import first. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    with reading(office.engine, pool) as connection:
        return _counted(connection, pool, vendor.read_imports(connection, pool, after=after, limit=limit))


def read_import(office: Office, caller: Caller, pool: str, import_id: str) -> Import:
    """Give one import. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    with reading(office.engine, pool) as connection:
        return _known(connection, pool, import_id)


def list_changes(
    office: Office, caller: Caller, pool: str, import_id: str, *, after: str | None, limit: int
) -> list[Change]:
    """Give what an import says of rows on file that come after a place, by day and name.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_RECORDS)
    with reading(office.engine, pool) as connection:
        _known(connection, pool, import_id)
        return revisions.read_changes(connection, pool, import_id, after=after, limit=limit)


def _known(connection: Connection, pool: str, import_id: str) -> Import:
    found = vendor.read_import(connection, pool, import_id)
    if found is None:
        raise NotFound(what="import", name=import_id)
    return _counted(connection, pool, [found])[0]
