"""The vendor's record by day: what imports say of rows on file, which days are on file, the proof of balances."""

from datetime import date

from pool_client.calls.call import CSV, POOL, Call, Page, get, model, page, query
from pool_client.models.on_file import Coverage, MonthProof
from pool_client.models.vendor import Change

_PROOF = f"{POOL}/reconciliations/{{month}}/proof"


def changes(pool: str, /, *, import_id: str, limit: int | None = None) -> Call[Page[Change]]:
    """Give what an import says of rows that were on file: changed, gone or back; by day."""
    places = {"pool": pool, "import_id": import_id}
    return get(f"{POOL}/vendor-records/{{import_id}}/changes", places, page(Change), query=query(limit=limit))


def coverage(pool: str, /, *, from_day: date | None = None, to_day: date | None = None) -> Call[Coverage]:
    """Give which days of each vendor account are on file, from the month before to the present day unless stated."""
    asked = query(from_day=from_day, to_day=to_day)
    return get(f"{POOL}/vendor-records/coverage", {"pool": pool}, model(Coverage), query=asked)


def proof(pool: str, /, *, month: str, member: str | None = None) -> Call[MonthProof]:
    """Give journal and record side by side, account by account and day by day; of one member's accounts if stated."""
    return get(_PROOF, {"pool": pool, "month": month}, model(MonthProof), query=query(member=member))


def proof_csv(pool: str, /, *, month: str, member: str | None = None) -> Call[str]:
    """Give the days of the same as CSV text."""
    places = {"pool": pool, "month": month}
    headers = {"Accept": CSV}
    return get(_PROOF, places, lambda answer: answer.content.decode(), query=query(member=member), headers=headers)
