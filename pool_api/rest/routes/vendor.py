"""The vendor's record: column profiles, and importing files."""

from typing import Annotated, Any, Literal

from fastapi import Path, Query, Request, Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.record import RecordType
from pool_api.intake.cells import DECIMALS, THOUSANDS
from pool_api.intake.days import DayStyle
from pool_api.intake.encoding import CODE_PAGES
from pool_api.intake.profile import Meaning, Profile
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.conditions import IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router, takes_upload
from pool_api.rest.media import TABLES
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.record_forms import (
    ChangeShown,
    ImportMade,
    ImportShown,
    SetAsideShown,
    show_change,
    show_import,
    show_imported,
    show_proposal,
)
from pool_api.rest.wire import (
    Day,
    Flag,
    HeaderWord,
    IdempotencyKey,
    MemberCode,
    PoolId,
    ProfileName,
    SheetParam,
    ShortText,
    TimeZone,
    WireModel,
    stated,
)
from pool_api.services import vendor_files
from pool_api.services.vendor_files import PROFILES, ImportRequest, ProposalRequest

router = gated_router("vendor-records", "/pools/{pool}")

_NO_OTHERS: dict[str, Any] = {"additionalProperties": False}
ImportId = Annotated[str, Path(pattern="^[0-9]{8,12}$", description="The id of an import.")]
_UPLOAD = takes_upload(
    *TABLES, description="The vendor's export: delimited text or a spreadsheet, whichever its bytes say."
)


class ProfileForm(WireModel):
    """Which column, by its header word, says what; kind_words maps the vendor's words to meanings.

    record says what the file shows of an account: all of its movements, or those of one type alone."""

    record: RecordType = RecordType.HISTORY
    day: HeaderWord
    kind: HeaderWord | None = None
    giver: HeaderWord | None = None
    receiver: HeaderWord | None = None
    counterparty: HeaderWord | None = None
    quantity: HeaderWord | None = None
    incoming: HeaderWord | None = None
    outgoing: HeaderWord | None = None
    note: HeaderWord | None = None
    reference: HeaderWord | None = None
    balance: HeaderWord | None = None
    amount: HeaderWord | None = None
    kind_words: Annotated[dict[HeaderWord, Meaning], Field(max_length=100, json_schema_extra=_NO_OTHERS)] = {}
    day_style: DayStyle = DayStyle.ISO
    decimal: Literal[DECIMALS] = "."  # type: ignore[valid-type]
    thousands: Literal[THOUSANDS] = ""  # type: ignore[valid-type]
    signed: Flag = True
    encoding: Literal[CODE_PAGES] | None = None  # type: ignore[valid-type]
    zone: TimeZone | None = None


class ProfileShown(ProfileForm):
    """A column profile."""

    name: ProfileName


class ProposalShown(WireModel):
    """A guess at a file's columns, the doubts about it, the file's first rows, and what stands above its header.

    Text has an encoding and a separator, a spreadsheet the sheet that was read."""

    profile: ProfileShown | None = None
    columns: dict[str, str]
    doubts: list[str]
    form: Literal["text", "xlsx", "xlsb", "xls", "ods"]
    encoding: str | None = None
    separator: str | None = None
    sheet: str | None = None
    other_sheets: list[str]
    header: list[str]
    rows: list[list[str]]
    skipped: list[SetAsideShown]


@router.get(
    "/column-profiles",
    response_model=Page[ProfileShown],
    operation_id="list_column_profiles",
    summary="List column profiles",
)
def list_profiles(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their names."""
    return cursors.page(
        "list_column_profiles",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: PROFILES.after(office, caller, pool, after or "", limit=most),
        show=stated,
        place=lambda profile: profile["name"],
    )


@router.get(
    "/column-profiles/{name}",
    response_model=ProfileShown,
    operation_id="read_column_profile",
    summary="Read a column profile",
)
def read_profile(
    pool: PoolId, name: ProfileName, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """The ETag is what a change has to state."""
    found, version = PROFILES.read(office, caller, pool, name)
    return replies.read(stated(found), version, copies)


@router.put(
    "/column-profiles/{name}",
    response_model=ProfileShown,
    operation_id="put_column_profile",
    summary="Make or change a column profile",
    responses=replaceable(ProfileShown),
)
def put_profile(
    pool: PoolId, name: ProfileName, asked: ProfileForm, caller: CallerOf, office: OfficeOf, tag: IfMatchOrNew = None
) -> Response:
    """Without If-Match a profile is made; with the ETag that was read it is changed."""
    wanted = Profile.from_json({"name": name, **asked.model_dump(mode="json")}).as_json()
    version = PROFILES.put(office, caller, pool, wanted, version_in(tag))
    return replies.put(stated(wanted), version, f"/pools/{pool}/column-profiles/{name}", new=tag is None)


@router.post(
    "/column-profiles/{name}/proposal",
    response_model=ProposalShown,
    operation_id="propose_column_profile",
    summary="Guess a file's column profile",
    openapi_extra=_UPLOAD,
)
async def propose(
    pool: PoolId,
    name: ProfileName,
    request: Request,
    caller: CallerOf,
    office: OfficeOf,
    record: Annotated[RecordType, Query(description="What the file shows of an account.")] = RecordType.HISTORY,
    sheet: SheetParam | None = None,
) -> Response:
    """Nothing is kept: look at the guess and its doubts, correct it, and save it as a column profile."""
    asked = ProposalRequest(name=name, content=await request.body(), sheet=sheet, record=record)
    table, guess = await run_in_threadpool(vendor_files.propose_profile, office, caller, pool, asked)
    return JSONResponse(show_proposal(table, guess))


@router.post(
    "/vendor-records",
    status_code=201,
    response_model=ImportMade,
    operation_id="import_vendor_record",
    summary="Import a file of the vendor's record",
    responses={201: {"headers": LOCATION}},
    openapi_extra=_UPLOAD,
)
async def import_file(
    pool: PoolId,
    request: Request,
    key: IdempotencyKey,
    caller: CallerOf,
    office: OfficeOf,
    member: Annotated[MemberCode, Query(description="Whose account the file is the record of.")],
    profile: Annotated[ProfileName, Query(description="The column profile to read it by.")],
    account: Annotated[ShortText | None, Query(description="The member's present account unless stated.")] = None,
    sheet: SheetParam | None = None,
    from_day: Annotated[Day | None, Query(description="The first day that the export covers, rows or not.")] = None,
    to_day: Annotated[Day | None, Query(description="The last day that the export covers, rows or not.")] = None,
) -> Response:
    """Rows that are on file already are not taken again; rows that can't be read are set aside with reasons. Rows on
    file that the export shows otherwise, or no longer, are told and stay: each is a difference of its month."""
    asked = ImportRequest(
        member=member,
        account=account,
        profile=profile,
        content=await request.body(),
        sheet=sheet,
        first_day=from_day,
        last_day=to_day,
        key=key,
    )
    made = await run_in_threadpool(vendor_files.import_file, office, caller, pool, asked)
    address = f"/pools/{pool}/vendor-records/{made.imported.import_id}"
    return replies.made(show_imported(made), address, replayed=made.replayed)


@router.get(
    "/vendor-records", response_model=Page[ImportShown], operation_id="list_vendor_records", summary="List imports"
)
def list_imports(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """First import first."""
    return cursors.page(
        "list_vendor_records",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: vendor_files.list_imports(office, caller, pool, after=after or "", limit=most),
        show=show_import,
        place=lambda each: each.import_id,
    )


@router.get(
    "/vendor-records/{import_id}",
    response_model=ImportShown,
    operation_id="read_vendor_record",
    summary="Read an import",
)
def read_import(pool: PoolId, import_id: ImportId, caller: CallerOf, office: OfficeOf) -> Response:
    """With the rows that were set aside."""
    return JSONResponse(show_import(vendor_files.read_import(office, caller, pool, import_id)))


@router.get(
    "/vendor-records/{import_id}/changes",
    response_model=Page[ChangeShown],
    operation_id="list_vendor_record_changes",
    summary="List what an import says of rows on file",
)
def list_changes(
    pool: PoolId,
    import_id: ImportId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Rows that were on file before and that the file shows otherwise, or no longer, or again; by day."""
    return cursors.page(
        "list_vendor_record_changes",
        {"pool": pool, "import": import_id},
        cursor,
        limit,
        read=lambda after, most: vendor_files.list_changes(office, caller, pool, import_id, after=after, limit=most),
        show=show_change,
        place=lambda each: each.place,
    )
