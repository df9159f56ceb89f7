"""The vendor's catalogues: entering, reading and comparing them, searching items, and reading their files."""

from datetime import date
from typing import Annotated

from fastapi import Path, Query, Request, Response
from pydantic import Field
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse

from pool_api.domain.catalogue import Catalogue
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.catalogue_forms import (
    CatalogueForm,
    CatalogueListed,
    CatalogueProfileForm,
    CatalogueProfileShown,
    CatalogueReadShown,
    CatalogueShown,
    CatalogueVersionShown,
    ChangesShown,
    ItemForm,
    profile_of,
    show_catalogue,
    show_changes,
    show_item,
    show_listed,
    show_read,
    show_version,
)
from pool_api.rest.conditions import IfMatch, IfMatchOrNew, IfNoneMatch, version_in
from pool_api.rest.gate import gated_router, takes_upload
from pool_api.rest.media import TABLES
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import also, replaceable
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import PLAIN_DIGITS, Day, PoolId, ProfileName, SheetParam, ShortText, stated
from pool_api.services import catalogues
from pool_api.services.catalogues import CATALOGUES, PROFILES, ItemFilter

router = gated_router("catalogue", "/pools/{pool}")

_CATALOGUE = "/catalogues/{valid_from}"
_PROFILE = "/catalogue-profiles/{name}"
ValidFrom = Annotated[Day, Path(description="The day that the catalogue is valid from.")]
VersionParam = Annotated[
    int, Path(ge=1, le=10**15, description="A version that the catalogue once had."), Field(examples=[1]), PLAIN_DIGITS
]


@router.get(
    "/catalogues", response_model=Page[CatalogueListed], operation_id="list_catalogues", summary="List the catalogues"
)
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """By the day that they are valid from; each counts until the next one's."""
    return cursors.page(
        "list_catalogues",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: CATALOGUES.standing(
            office, caller, pool, after=date.fromisoformat(after) if after else None, limit=most
        ),
        show=show_listed,
        place=lambda each: each.valid_from.isoformat(),
    )


@router.get(_CATALOGUE, response_model=CatalogueShown, operation_id="read_catalogue", summary="Read a catalogue")
def read(
    pool: PoolId, valid_from: ValidFrom, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """All its items. The ETag is what a change has to state."""
    version, said = catalogues.read_catalogue(office, caller, pool, valid_from)
    return replies.read(show_catalogue(version, said), version.version, copies)


@router.put(
    _CATALOGUE,
    response_model=CatalogueShown,
    operation_id="put_catalogue",
    summary="Enter a catalogue or change it",
    responses=replaceable(CatalogueShown),
)
def put(
    pool: PoolId,
    valid_from: ValidFrom,
    asked: CatalogueForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """The whole list: what isn't in it isn't sold from that day on. What is changed stays as a version."""
    said = Catalogue(valid_from=valid_from, items=tuple(each.item() for each in asked.items))
    made = catalogues.put_catalogue(office, caller, pool, said, version_in(tag))
    address = f"/pools/{pool}/catalogues/{valid_from.isoformat()}"
    return replies.put(show_catalogue(made, said), made.version, address, new=tag is None)


@router.delete(_CATALOGUE, status_code=204, operation_id="withdraw_catalogue", summary="Withdraw a catalogue")
def withdraw(pool: PoolId, valid_from: ValidFrom, caller: CallerOf, office: OfficeOf, tag: IfMatch) -> Response:
    """It counts no more, as one entered for the wrong day; its versions stay."""
    CATALOGUES.withdraw(office, caller, pool, valid_from, version_in(tag) or 0)
    return Response(status_code=204)


@router.get(
    f"{_CATALOGUE}/versions",
    response_model=Page[CatalogueVersionShown],
    operation_id="list_catalogue_versions",
    summary="List the versions of a catalogue",
)
def list_versions(
    pool: PoolId,
    valid_from: ValidFrom,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Newest first; one without a count of items withdrew it."""
    return cursors.page(
        "list_catalogue_versions",
        {"pool": pool, "valid_from": valid_from.isoformat()},
        cursor,
        limit,
        read=lambda before, most: CATALOGUES.versions(office, caller, pool, valid_from, before=before, limit=most),
        show=show_version,
        place=lambda each: each.version,
    )


@router.get(
    f"{_CATALOGUE}/versions/{{version}}",
    response_model=CatalogueShown,
    operation_id="read_catalogue_version",
    summary="Read a version of a catalogue",
)
def read_version(
    pool: PoolId, valid_from: ValidFrom, version: VersionParam, caller: CallerOf, office: OfficeOf
) -> Response:
    """As it was entered, whatever has been changed since."""
    return JSONResponse(show_catalogue(*catalogues.read_catalogue(office, caller, pool, valid_from, version)))


@router.get(
    f"{_CATALOGUE}/changes",
    response_model=ChangesShown,
    operation_id="compare_catalogues",
    summary="Compare a catalogue with an older one",
    responses=also(409),
)
def changes(
    pool: PoolId,
    valid_from: ValidFrom,
    caller: CallerOf,
    office: OfficeOf,
    since: Annotated[Day | None, Query(description="The day of the older one; the one before unless stated.")] = None,
) -> Response:
    """What is new, gone, dearer and cheaper."""
    older, _, found = catalogues.changes(office, caller, pool, valid_from, since)
    return JSONResponse(show_changes(older.valid_from.isoformat(), found))


@router.post(
    "/catalogues/proposal",
    response_model=CatalogueReadShown,
    operation_id="propose_catalogue",
    summary="Read a catalogue's file",
    openapi_extra=takes_upload(
        *TABLES, description="The vendor's list, delimited text or a spreadsheet, in whatever columns it has."
    ),
)
async def read_file(
    pool: PoolId,
    request: Request,
    caller: CallerOf,
    office: OfficeOf,
    profile: Annotated[ProfileName | None, Query(description="A saved profile; guessed unless stated.")] = None,
    on: Annotated[Day | None, Query(description="The day of the catalogue to compare with, today's unless so.")] = None,
    sheet: SheetParam | None = None,
) -> Response:
    """Nothing is kept: look at the items, at what was set aside and at the changes, and enter the catalogue."""
    content = await request.body()
    found = await run_in_threadpool(catalogues.read_file, office, caller, pool, content, sheet, profile, on)
    return JSONResponse(show_read(found))


@router.get(
    "/catalogue-items",
    response_model=Page[ItemForm],
    operation_id="list_catalogue_items",
    summary="Search the items that count on a day",
    responses=also(409),
)
def list_items(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    on: Annotated[Day | None, Query(description="Today unless stated.")] = None,
    text: Annotated[ShortText | None, Query(description="A part of the code or the name, whatever its case.")] = None,
    vehicle_class: ShortText | None = None,
    family: ShortText | None = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """In order of their codes."""
    wanted = ItemFilter(text=text, vehicle_class=vehicle_class, family=family)
    return cursors.page(
        "list_catalogue_items",
        {"pool": pool, "on": on, "text": text, "vehicle_class": vehicle_class, "family": family},
        cursor,
        limit,
        read=lambda after, most: catalogues.list_items(office, caller, pool, on, wanted, after=after or "", limit=most),
        show=show_item,
        place=lambda each: each.code,
    )


@router.get(
    "/catalogue-profiles",
    response_model=Page[CatalogueProfileShown],
    operation_id="list_catalogue_profiles",
    summary="List the column profiles of catalogues",
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
        "list_catalogue_profiles",
        {"pool": pool},
        cursor,
        limit,
        read=lambda after, most: PROFILES.after(office, caller, pool, after or "", limit=most),
        show=stated,
        place=lambda profile: profile["name"],
    )


@router.get(
    _PROFILE,
    response_model=CatalogueProfileShown,
    operation_id="read_catalogue_profile",
    summary="Read a column profile of catalogues",
)
def read_profile(
    pool: PoolId, name: ProfileName, caller: CallerOf, office: OfficeOf, copies: IfNoneMatch = None
) -> Response:
    """The ETag is what a change has to state."""
    found, version = PROFILES.read(office, caller, pool, name)
    return replies.read(stated(found), version, copies)


@router.put(
    _PROFILE,
    response_model=CatalogueProfileShown,
    operation_id="put_catalogue_profile",
    summary="Make or change a column profile of catalogues",
    responses=replaceable(CatalogueProfileShown),
)
def put_profile(
    pool: PoolId,
    name: ProfileName,
    asked: CatalogueProfileForm,
    caller: CallerOf,
    office: OfficeOf,
    tag: IfMatchOrNew = None,
) -> Response:
    """Without If-Match a profile is made; with the ETag that was read it is changed."""
    wanted = profile_of(name, asked).as_json()
    version = PROFILES.put(office, caller, pool, wanted, version_in(tag))
    return replies.put(stated(wanted), version, f"/pools/{pool}/catalogue-profiles/{name}", new=tag is None)
