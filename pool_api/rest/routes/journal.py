"""The journal: its entries, newest first, one entry with all that refers to it, and the verification of the whole."""

from typing import Annotated

from fastapi import Query, Response
from pydantic import Field
from starlette.responses import JSONResponse

from pool_api.domain.entries import BODIES
from pool_api.rest.auth import CallerOf
from pool_api.rest.entry_forms import EntryShown, show_entry
from pool_api.rest.gate import gated_router
from pool_api.rest.office import CursorsOf, OfficeOf
from pool_api.rest.pages import USUAL_ROWS, Cursor, Limit, Page
from pool_api.rest.wire import DIGEST_PATTERN, Day, EntryNumberParam, MemberCode, PoolId, ShortText, WireModel
from pool_api.services import ledger
from pool_api.services.ledger import Known
from pool_api.store.journal import EntryFilter

router = gated_router("journal", "/pools/{pool}/journal")

Kind = Annotated[str, Field(pattern=f"^({'|'.join(BODIES)})$", description="A kind of entry.")]


KnownText = Annotated[
    str,
    Query(
        pattern="^[1-9][0-9]{0,11}:[0-9a-f]{16,64}$",
        max_length=77,
        description="An entry that is known from a statement: its number, and at least 16 characters of its hash.",
    ),
]


class EntryInFullShown(WireModel):
    """An entry, how much of it is reversed (1 for a kind that is reversed as a whole), and what refers to it."""

    entry: EntryShown
    undone: int = Field(ge=0)
    referring: list[EntryShown]


class FindingShown(WireModel):
    """Something that doesn't hold; number is the first entry where it shows, 0 for a projection."""

    number: int = Field(ge=0)
    problem: str


class VerificationShown(WireModel):
    """What a verification found: how many entries the journal has, its last hash, and whether all of it holds."""

    entries: int = Field(ge=0)
    head: str = Field(pattern=DIGEST_PATTERN)
    sound: bool
    findings: list[FindingShown]


@router.get("", response_model=Page[EntryShown], operation_id="list_entries", summary="List entries, newest first")
def list_(
    pool: PoolId,
    caller: CallerOf,
    office: OfficeOf,
    cursors: CursorsOf,
    member: MemberCode | None = None,
    kind: Kind | None = None,
    from_day: Day | None = None,
    to_day: Day | None = None,
    text: Annotated[
        ShortText | None, Query(description="Part of the note; small and capital letters from A to Z are the same.")
    ] = None,
    job: ShortText | None = None,
    limit: Limit = USUAL_ROWS,
    cursor: Cursor = None,
) -> Response:
    """A clerk sees its member's entries and those in which its member is the other side."""
    filters = {
        "pool": pool,
        "member": member,
        "kind": kind,
        "from_day": from_day,
        "to_day": to_day,
        "text": text,
        "job": job,
    }
    wanted = EntryFilter(
        member=member, kinds=(kind,) if kind else (), from_day=from_day, to_day=to_day, text=text, job=job
    )
    return cursors.page(
        "list_entries",
        filters,
        cursor,
        limit,
        read=lambda before, most: ledger.list_entries(office, caller, pool, wanted, before=before, limit=most),
        show=lambda entry: show_entry(entry, office.currency(pool)),
        place=lambda entry: entry.number,
    )


@router.get(
    "/verification", response_model=VerificationShown, operation_id="verify_journal", summary="Verify the journal"
)
def verify(pool: PoolId, caller: CallerOf, office: OfficeOf, known: KnownText | None = None) -> Response:
    """Recomputes every hash, replays every entry, and compares the result with what the service keeps.

    With an entry that a paper names, it tells as well whether the journal still has it: an older backup has not, nor a
    journal that was written anew."""
    report = ledger.verify(office, caller, pool, Known.parse(known) if known else None)
    return JSONResponse(
        {
            "entries": report.entries,
            "head": report.head,
            "sound": not report.findings,
            "findings": [{"number": each.number, "problem": each.problem} for each in report.findings],
        }
    )


@router.get("/{number}", response_model=EntryInFullShown, operation_id="read_entry", summary="Read an entry")
def read(pool: PoolId, number: EntryNumberParam, caller: CallerOf, office: OfficeOf) -> Response:
    """With everything that refers to it: reversals and acknowledgements."""
    found = ledger.read_entry(office, caller, pool, number)
    currency = office.currency(pool)
    return JSONResponse(
        {
            "entry": show_entry(found.entry, currency),
            "undone": found.undone,
            "referring": [show_entry(entry, currency) for entry in found.referring],
        }
    )
