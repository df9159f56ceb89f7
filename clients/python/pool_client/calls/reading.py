"""Reading the book: journal, positions, months, statements, costs of credits and jobs; closing and reopening months."""

from dataclasses import dataclass
from datetime import date

from pool_client.calls.call import CSV, PDF, POOL, XLSX, ZIP, Call, Page, get, get_file, items, model, page, query
from pool_client.models.entries import Entry
from pool_client.models.months import (
    EntryCost,
    Job,
    MemberCost,
    MonthListed,
    Positions,
    Settlement,
    SettlementPayment,
    Sheet,
)
from pool_client.models.report import Report
from pool_client.models.statements import Statement
from pool_client.wire import write

_MONTH = f"{POOL}/months/{{month}}"
_STATEMENT = f"{_MONTH}/statements/{{member}}"


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryInFull:
    """An entry, how much of it is reversed, and what refers to it."""

    entry: Entry
    undone: int
    referring: tuple[Entry, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something that doesn't hold; number is the first entry where it shows, 0 for a projection."""

    number: int
    problem: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What a verification found: how many entries, the last hash, and whether all of it holds."""

    entries: int
    head: str
    sound: bool
    findings: tuple[Finding, ...]


def entries(
    pool: str,
    /,
    *,
    member: str | None = None,
    kind: str | None = None,
    from_day: date | None = None,
    to_day: date | None = None,
    text: str | None = None,
    job: str | None = None,
    limit: int | None = None,
) -> Call[Page[Entry]]:
    """Give entries, newest first; text is part of the note, without regard to case."""
    wanted = query(member=member, kind=kind, from_day=from_day, to_day=to_day, text=text, job=job, limit=limit)
    return get(f"{POOL}/journal", {"pool": pool}, page(Entry), query=wanted)


def entry(pool: str, /, *, number: int) -> Call[EntryInFull]:
    """Give one entry with all that refers to it."""
    return get(f"{POOL}/journal/{{number}}", {"pool": pool, "number": str(number)}, model(EntryInFull))


def verification(pool: str, /, *, known: str | None = None) -> Call[Verification]:
    """Have the whole journal recomputed and every projection compared.

    Takes:   known — an entry that the journal must have, as NUMBER:HASH, from a statement; 16 characters of the hash
             are enough."""
    return get(f"{POOL}/journal/verification", {"pool": pool}, model(Verification), query=query(known=known))


def positions(pool: str, /, *, as_of: date | None = None) -> Call[Positions]:
    """Give everybody's position now, or as of the end of a day."""
    return get(f"{POOL}/positions", {"pool": pool}, model(Positions), query=query(as_of=as_of))


def member_cost(pool: str, /, *, member: str) -> Call[MemberCost]:
    """Give a member's blended unit cost, month by month."""
    return get(f"{POOL}/members/{{member}}/cost", {"pool": pool, "member": member}, model(MemberCost))


def job(pool: str, /, *, job: str) -> Call[Job]:
    """Give what a job cost and what it earned."""
    return get(f"{POOL}/jobs", {"pool": pool}, model(Job), query=query(job=job))


def months(pool: str, /) -> Call[tuple[MonthListed, ...]]:
    """Give every month from the pool's first to the present one."""
    return get(f"{POOL}/months", {"pool": pool}, items(MonthListed))


def sheet(pool: str, /, *, month: str) -> Call[Sheet]:
    """Give a month's sheet, provisional while the month is open."""
    return get(_MONTH, {"pool": pool, "month": month}, model(Sheet))


def entry_costs(pool: str, /, *, month: str, limit: int | None = None) -> Call[Page[EntryCost]]:
    """Give what the credits of each entry of a month had cost, in order of number."""
    return get(f"{_MONTH}/costs", {"pool": pool, "month": month}, page(EntryCost), query=query(limit=limit))


def settlement(pool: str, /, *, month: str) -> Call[Settlement]:
    """Give the preview of a month's settlement, or the final one once it is closed."""
    return get(f"{_MONTH}/settlement", {"pool": pool, "month": month}, model(Settlement))


def close(
    pool: str,
    /,
    *,
    month: str,
    digest: str,
    accept_warnings: bool = False,
    accept_differences: bool = False,
    note: str = "",
    idempotency_key: str | None = None,
) -> Call[Entry]:
    """Close a month as its settlement's preview said.

    Takes:   digest — of the preview that was seen.
    Refuses: Stale when the book has moved since; Refused for warnings and differences that aren't accepted."""
    told = {
        "digest": digest,
        "accept_warnings": accept_warnings,
        "accept_differences": accept_differences,
        "note": note,
    }
    return Call(
        method="POST",
        path=f"{_MONTH}/close",
        places={"pool": pool, "month": month},
        body=write(told),
        understand=model(Entry),
        keyed=True,
        key=idempotency_key,
    )


def reopen(pool: str, /, *, month: str, reason: str, idempotency_key: str | None = None) -> Call[Entry]:
    """Open the last closed month again, while none of its payments is recorded."""
    return Call(
        method="POST",
        path=f"{_MONTH}/reopening",
        places={"pool": pool, "month": month},
        body={"reason": reason},
        understand=model(Entry),
        keyed=True,
        key=idempotency_key,
    )


def statement(pool: str, /, *, month: str, member: str) -> Call[Statement]:
    """Give a member's statement of a month."""
    return get(_STATEMENT, {"pool": pool, "month": month, "member": member}, model(Statement))


def statement_csv(pool: str, /, *, month: str, member: str) -> Call[str]:
    """Give a member's statement of a month as CSV text."""
    places = {"pool": pool, "month": month, "member": member}
    return get(_STATEMENT, places, lambda answer: answer.content.decode(), headers={"Accept": CSV})


def statement_pdf(pool: str, /, *, month: str, member: str) -> Call[bytes]:
    """Give a member's statement of a month as a PDF file, to print and sign."""
    return get_file(_STATEMENT, {"pool": pool, "month": month, "member": member}, PDF)


def statement_xlsx(pool: str, /, *, month: str, member: str) -> Call[bytes]:
    """Give a member's statement of a month as a spreadsheet file that recomputes itself."""
    return get_file(_STATEMENT, {"pool": pool, "month": month, "member": member}, XLSX)


def statements_zip(pool: str, /, *, month: str, form: str = "pdf") -> Call[bytes]:
    """Give all statements of a month as a zip with a file for each member: pdf, xlsx, csv or json."""
    return get_file(f"{_MONTH}/statements", {"pool": pool, "month": month}, ZIP, query={"form": form})


def report(pool: str, /, *, month: str) -> Call[Report]:
    """Give what the keeper's report of a month shows in its plots."""
    return get(f"{_MONTH}/report", {"pool": pool, "month": month}, model(Report))


def report_pdf(pool: str, /, *, month: str) -> Call[bytes]:
    """Give the keeper's report of a month with its plots as a PDF file."""
    return get_file(f"{_MONTH}/report", {"pool": pool, "month": month}, PDF)


def settlement_payments(
    pool: str,
    /,
    *,
    unpaid: bool | None = None,
    member: str | None = None,
    month: str | None = None,
    limit: int | None = None,
) -> Call[Page[SettlementPayment]]:
    """Give the payments that closes asked for, in order of month and place; with unpaid True only those that are not
    paid in full, with False only those that are; member is either side."""
    wanted = query(unpaid=unpaid, member=member, month=month, limit=limit)
    return get(f"{POOL}/settlement-payments", {"pool": pool}, page(SettlementPayment), query=wanted)
