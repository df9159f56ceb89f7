"""Reading the book: journal, positions, months, statements, costs of credits and jobs; closing and reopening months."""

from dataclasses import dataclass
from datetime import date

from pool_client.calls.call import CSV, Call, Page, items, model, page, query
from pool_client.models.entries import Entry
from pool_client.models.months import (
    Job,
    MemberCost,
    MonthListed,
    Positions,
    Settlement,
    SettlementPayment,
    Sheet,
    Statement,
)
from pool_client.wire import write

_POOL = "/v1/pools/{pool}"
_MONTH = f"{_POOL}/months/{{month}}"


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
    return Call(
        method="GET",
        path=f"{_POOL}/journal",
        places={"pool": pool},
        query=wanted,
        understand=page(Entry),
        harmless=True,
    )


def entry(pool: str, /, *, number: int) -> Call[EntryInFull]:
    """Give one entry with all that refers to it."""
    return Call(
        method="GET",
        path=f"{_POOL}/journal/{{number}}",
        places={"pool": pool, "number": str(number)},
        understand=model(EntryInFull),
        harmless=True,
    )


def verification(pool: str, /) -> Call[Verification]:
    """Have the whole journal recomputed and every projection compared."""
    return Call(
        method="GET",
        path=f"{_POOL}/journal/verification",
        places={"pool": pool},
        understand=model(Verification),
        harmless=True,
    )


def positions(pool: str, /, *, as_of: date | None = None) -> Call[Positions]:
    """Give everybody's position now, or as of the end of a day."""
    return Call(
        method="GET",
        path=f"{_POOL}/positions",
        places={"pool": pool},
        query=query(as_of=as_of),
        understand=model(Positions),
        harmless=True,
    )


def member_cost(pool: str, /, *, member: str) -> Call[MemberCost]:
    """Give a member's blended unit cost, month by month."""
    return Call(
        method="GET",
        path=f"{_POOL}/members/{{member}}/cost",
        places={"pool": pool, "member": member},
        understand=model(MemberCost),
        harmless=True,
    )


def job(pool: str, /, *, job: str) -> Call[Job]:
    """Give what a job cost and what it earned."""
    return Call(
        method="GET",
        path=f"{_POOL}/jobs",
        places={"pool": pool},
        query=query(job=job),
        understand=model(Job),
        harmless=True,
    )


def months(pool: str, /) -> Call[tuple[MonthListed, ...]]:
    """Give every month from the pool's first to the present one."""
    return Call(
        method="GET",
        path=f"{_POOL}/months",
        places={"pool": pool},
        understand=items(MonthListed),
        harmless=True,
    )


def sheet(pool: str, /, *, month: str) -> Call[Sheet]:
    """Give a month's sheet, provisional while the month is open."""
    return Call(
        method="GET", path=_MONTH, places={"pool": pool, "month": month}, understand=model(Sheet), harmless=True
    )


def settlement(pool: str, /, *, month: str) -> Call[Settlement]:
    """Give the preview of a month's settlement, or the final one once it is closed."""
    return Call(
        method="GET",
        path=f"{_MONTH}/settlement",
        places={"pool": pool, "month": month},
        understand=model(Settlement),
        harmless=True,
    )


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
    return Call(
        method="GET",
        path=f"{_MONTH}/statements/{{member}}",
        places={"pool": pool, "month": month, "member": member},
        understand=model(Statement),
        harmless=True,
    )


def statement_csv(pool: str, /, *, month: str, member: str) -> Call[str]:
    """Give a member's statement of a month as CSV text."""
    return Call(
        method="GET",
        path=f"{_MONTH}/statements/{{member}}",
        places={"pool": pool, "month": month, "member": member},
        headers={"Accept": CSV},
        understand=lambda answer: answer.content.decode(),
        harmless=True,
    )


def settlement_payments(pool: str, /, *, unpaid: bool = False) -> Call[tuple[SettlementPayment, ...]]:
    """Give the payments that closes asked for; with unpaid only those that are not paid in full."""
    return Call(
        method="GET",
        path=f"{_POOL}/settlement-payments",
        places={"pool": pool},
        query=query(unpaid=unpaid or None),
        understand=items(SettlementPayment),
        harmless=True,
    )
