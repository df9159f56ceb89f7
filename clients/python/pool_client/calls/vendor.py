"""The vendor's record: column profiles, and importing files."""

from datetime import date

from pool_client.calls.call import (
    POOL,
    Call,
    Page,
    Versioned,
    get,
    model,
    page,
    put,
    query,
    upload,
    versioned,
)
from pool_client.models.vendor import ColumnProfile, Import, ImportMade, Proposal


def column_profiles(pool: str, /, *, limit: int | None = None) -> Call[Page[ColumnProfile]]:
    """Give the column profiles in order of their names."""
    return get(f"{POOL}/column-profiles", {"pool": pool}, page(ColumnProfile), query=query(limit=limit))


def column_profile(pool: str, /, *, name: str) -> Call[Versioned[ColumnProfile]]:
    """Give one column profile."""
    return get(f"{POOL}/column-profiles/{{name}}", {"pool": pool, "name": name}, versioned(ColumnProfile))


def put_column_profile(
    pool: str, profile: ColumnProfile, /, *, tag: str | None = None
) -> Call[Versioned[ColumnProfile]]:
    """Make a column profile, or replace the one that was read with a tag."""
    places = {"pool": pool, "name": profile.name}
    return put(f"{POOL}/column-profiles/{{name}}", places, profile, named_by="name", tag=tag)


def propose_column_profile(
    pool: str, content: bytes, /, *, name: str, record: str | None = None, sheet: str | None = None
) -> Call[Proposal]:
    """Have a file's columns guessed; nothing is kept.

    Takes:   record — history unless stated, or transfers, purchases or uses; sheet — of a spreadsheet, the first that
             holds a table unless stated."""
    return Call(
        method="POST",
        path=f"{POOL}/column-profiles/{{name}}/proposal",
        places={"pool": pool, "name": name},
        query=query(record=record, sheet=sheet),
        body=upload(content),
        understand=model(Proposal),
        harmless=True,
    )


def import_record(
    pool: str,
    content: bytes,
    /,
    *,
    member: str,
    profile: str,
    account: str | None = None,
    sheet: str | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
    idempotency_key: str | None = None,
) -> Call[ImportMade]:
    """Import a file of a member's vendor account; rows that are on file already are not taken again.

    Takes:   account — the member's present one unless stated; sheet — of a spreadsheet, the first that holds a table
             unless stated; from_day and to_day — what the export covers."""
    return Call(
        method="POST",
        path=f"{POOL}/vendor-records",
        places={"pool": pool},
        query=query(member=member, profile=profile, account=account, sheet=sheet, from_day=from_day, to_day=to_day),
        body=upload(content),
        understand=model(ImportMade),
        keyed=True,
        key=idempotency_key,
    )


def imports(pool: str, /, *, limit: int | None = None) -> Call[Page[Import]]:
    """Give the imports, first import first."""
    return get(f"{POOL}/vendor-records", {"pool": pool}, page(Import), query=query(limit=limit))


def imported(pool: str, /, *, import_id: str) -> Call[Import]:
    """Give one import, with the rows that were set aside."""
    return get(f"{POOL}/vendor-records/{{import_id}}", {"pool": pool, "import_id": import_id}, model(Import))
