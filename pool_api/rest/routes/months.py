"""Months: their sheets, settlements and statements, closing and reopening."""

from collections.abc import Callable
from typing import Annotated, Any, Literal

from fastapi import Query, Response
from starlette.responses import JSONResponse

from pool_api.domain.values import Month
from pool_api.reports.archive import zipped
from pool_api.reports.cautions import of_record
from pool_api.reports.printed import statement_pdf
from pool_api.reports.spreadsheet import statement_xlsx
from pool_api.reports.statement import MonthFacts, Statement, statement
from pool_api.reports.written import statement_csv, statement_json
from pool_api.rest import replies
from pool_api.rest.auth import CallerOf
from pool_api.rest.entry_forms import EntryShown, entry_answer
from pool_api.rest.gate import gated_router
from pool_api.rest.media import CSV, JSON, PDF, XLSX, Accept, choose
from pool_api.rest.month_forms import (
    EntryCostShown,
    SettlementShown,
    SheetShown,
    payment_names,
    show_settlement,
    show_sheet,
)
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.openapi import LOCATION, also, files
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.replies import Zipped
from pool_api.rest.wire import (
    Digest,
    EntryNumber,
    Flag,
    IdempotencyKey,
    MemberCode,
    MoneyText,
    MonthText,
    Note,
    PoolId,
    ShortText,
    WireModel,
)
from pool_api.services import documents, months
from pool_api.services.costs import CostedMonth
from pool_api.services.documents import MonthEntries

router = gated_router("months", "/pools/{pool}/months")


class MonthListed(WireModel):
    """A month and whether it is closed."""

    month: MonthText
    state: Literal["open", "closed"]
    close_entry: EntryNumber | None = None


class MonthsShown(WireModel):
    """All months of a pool up to the present one, first month first."""

    items: list[MonthListed]


class CloseForm(WireModel):
    """What a close states: the digest of the settlement preview that was seen, and what is accepted with open eyes."""

    digest: Digest
    accept_warnings: Flag = False
    accept_differences: Flag = False
    note: Note | None = None


class ReopeningForm(WireModel):
    """Why a month is opened again."""

    reason: ShortText


class StatementLineShown(WireModel):
    """One entry as it concerns the member."""

    entry: EntryNumber
    on: str
    kind: str
    what: str
    credits: int
    cost: MoneyText | None = None


class StatementShown(WireModel):
    """A member's statement of one month: a working paper, not a tax invoice."""

    pool: PoolId
    pool_name: ShortText
    vendor: ShortText
    currency: str
    member: MemberCode
    member_name: ShortText
    month: MonthText
    state: Literal["open", "closed"]
    rests_on: dict[str, Any]
    opening: dict[str, Any]
    lines: list[StatementLineShown]
    closing: dict[str, Any]
    blended: dict[str, Any]
    loans: list[dict[str, Any]]
    loans_carried: list[dict[str, Any]]
    loans_returned: list[dict[str, Any]]
    carried_settled: list[dict[str, Any]]
    open_loans: list[dict[str, Any]]
    lending_gain: MoneyText
    difference: MoneyText
    due: list[dict[str, Any]]
    due_total: MoneyText
    carried_forward: MoneyText
    too_small_to_pay: MoneyText
    payments: list[dict[str, Any]]
    cautions: list[str]


@router.get("", response_model=MonthsShown, operation_id="list_months", summary="List the months")
def list_(pool: PoolId, caller: CallerOf, office: OfficeOf) -> Response:
    """Every month from the pool's first to the present one."""
    found = months.months_of(office, caller, pool)
    return JSONResponse({"items": [_listed(month) for month in found.months.values()]})


def _listed(month: CostedMonth) -> dict[str, Any]:
    shown: dict[str, Any] = {"month": str(month.month), "state": "open" if month.close is None else "closed"}
    if month.close is not None:
        shown["close_entry"] = month.close.number
    return shown


@router.get("/{month}", response_model=SheetShown, operation_id="read_month", summary="Read a month's sheet")
def read(pool: PoolId, month: MonthText, caller: CallerOf, office: OfficeOf) -> Response:
    """Provisional while the month is open."""
    _, found = months.month_of(office, caller, pool, Month.parse(month))
    return JSONResponse(show_sheet(found, office.currency(pool)))


@router.get(
    "/{month}/costs",
    response_model=Page[EntryCostShown],
    operation_id="list_entry_costs",
    summary="List what a month's entries cost",
)
def list_costs(
    pool: PoolId,
    month: MonthText,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """Every entry by which credits left the stock or a member, in order of number; provisional in an open month."""
    asked, currency = Month.parse(month), office.currency(pool)
    return cursors.page(
        "list_entry_costs",
        {"pool": pool, "month": month},
        cursor,
        limit,
        read=lambda after, most: months.entry_costs(office, caller, pool, asked, after=after or 0, limit=most),
        show=lambda row: {"entry": row[0], "cost": currency.text(row[1])},
        place=lambda row: row[0],
    )


@router.get(
    "/{month}/settlement",
    response_model=SettlementShown,
    operation_id="read_settlement",
    summary="Preview a month's settlement, or read the final one",
)
def settlement(pool: PoolId, month: MonthText, caller: CallerOf, office: OfficeOf) -> Response:
    """The digest of a preview is what a close has to state."""
    _, found = months.month_of(office, caller, pool, Month.parse(month))
    paid = documents.paid_of(office, pool, found)
    return JSONResponse(show_settlement(found, paid, office.currency(pool)))


@router.post(
    "/{month}/close",
    status_code=201,
    response_model=EntryShown,
    operation_id="close_month",
    summary="Close a month",
    responses={201: {"headers": LOCATION}, **also(412)},
)
async def close(
    pool: PoolId, month: MonthText, asked: CloseForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Freezes the sheet and the payments that settle it, if the book is still as it was when the preview was seen."""
    recorded = await months.close_month(
        office,
        caller,
        pool,
        Month.parse(month),
        seen=asked.digest,
        accept_warnings=asked.accept_warnings,
        accept_differences=asked.accept_differences,
        note=asked.note or "",
        key=key,
    )
    return entry_answer(pool, recorded, office.currency(pool))


@router.post(
    "/{month}/reopening",
    status_code=201,
    response_model=EntryShown,
    operation_id="reopen_month",
    summary="Reopen the last closed month",
    responses={201: {"headers": LOCATION}},
)
async def reopen(
    pool: PoolId, month: MonthText, asked: ReopeningForm, key: IdempotencyKey, caller: CallerOf, office: OfficeOf
) -> Response:
    """Possible while none of its payments is recorded."""
    recorded = await months.reopen_month(office, caller, pool, Month.parse(month), reason=asked.reason, key=key)
    return entry_answer(pool, recorded, office.currency(pool))


_FILES: dict[str, Callable[[Statement], str | bytes]] = {
    CSV: statement_csv,
    PDF: statement_pdf,
    XLSX: statement_xlsx,
}
_PACKED = frozenset({PDF, XLSX})
"""Media types whose files are compressed in themselves."""

_MEDIA_TYPES = {replies.SUFFIXES[media_type]: media_type for media_type in (JSON, *_FILES)}


def _written(made: Statement, media_type: str) -> bytes:
    content = replies.json_bytes(statement_json(made)) if media_type == JSON else _FILES[media_type](made)
    return content.encode() if isinstance(content, str) else content


def _name(pool: str, member: str, month: str) -> str:
    return f"statement-{pool}-{member}-{month}"


@router.get(
    "/{month}/statements",
    response_class=Zipped,
    operation_id="read_statements",
    summary="Read all statements of a month",
)
def read_statements(
    pool: PoolId,
    month: MonthText,
    caller: CallerOf,
    office: OfficeOf,
    form: Annotated[Literal["pdf", "xlsx", "csv", "json"], Query(description="What each statement is written as.")] = (
        "pdf"
    ),
) -> Response:
    """A zip with a file for each member, the same as its own statement is; all of them rest on the same entry. It goes
    out while the statements are made: one that breaks off has no end, and is no zip."""
    asked, wanted = Month.parse(month), _MEDIA_TYPES[form]
    there, found = documents.statements_of(office, caller, pool, asked)
    paid = documents.paid_of(office, pool, there)
    files = (
        (f"{_name(pool, member, month)}.{form}", _written(_statement(entries, member, paid), wanted))
        for member, entries in found
    )
    return replies.zip_file(zipped(files, asked.last, packed=wanted in _PACKED), f"statements-{pool}-{month}")


@router.get(
    "/{month}/statements/{member}",
    response_model=StatementShown,
    operation_id="read_statement",
    summary="Read a member's statement",
    responses=files(*_FILES),
)
def read_statement(
    pool: PoolId,
    month: MonthText,
    member: MemberCode,
    caller: CallerOf,
    office: OfficeOf,
    accept: Accept = None,
) -> Response:
    """As JSON, or as a file for those who accept its media type: CSV, PDF, or a spreadsheet that recomputes itself."""
    wanted = choose(accept, (JSON, *_FILES))
    found = documents.statement_of(office, caller, pool, Month.parse(month), member)
    made = _statement(found, member, documents.paid_of(office, pool, found.month))
    if wanted == JSON:
        return replies.told(statement_json(made))
    return replies.file(_FILES[wanted](made), wanted, _name(pool, member, month))


def _statement(found: MonthEntries, member: str, paid: dict[str, int]) -> Statement:
    pool, month = found.pool, found.month
    names = [name for name, _ in payment_names(month)]
    rests_on = month.close or pool
    facts = MonthFacts(
        pool=pool.directory.pool,
        sheet=month.sheet,
        loans=month.loans,
        settlement=month.settlement,
        payments=[(name, paid.get(name, 0)) if month.close else (None, 0) for name in names],
        closed=month.close is not None,
        entries=found.entries,
        targets=found.targets,
        number=rests_on.number,
        hash=rests_on.hash,
        remarks=of_record(month.close.body if month.close else None),
    )
    return statement(facts, pool.directory.members[member], pool.held_before(month.month, member))
