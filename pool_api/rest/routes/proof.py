"""The proof of the balances: journal and record of each vendor account side by side, day by day, and the bridge."""

from typing import Annotated, Any

from fastapi import Path, Query, Response
from starlette.responses import JSONResponse

from pool_api.domain.matching import AccountProof, Break, DayProof, Step
from pool_api.domain.values import Month
from pool_api.reports.proof import proof_csv
from pool_api.rest.auth import CallerOf
from pool_api.rest.gate import gated_router
from pool_api.rest.media import CSV, JSON, Accept, choose
from pool_api.rest.office import OfficeOf
from pool_api.rest.openapi import also
from pool_api.rest.proof_forms import ProofShown, SumsShown, show_proof, show_sums
from pool_api.rest.record_forms import VendorRowShown, show_row
from pool_api.rest.wire import CreditChange, Day, MemberCode, MonthText, PoolId, WireModel, stated
from pool_api.services import reconciling
from pool_api.services.reconciling import Reconciliation

router = gated_router("vendor-records", "/pools/{pool}")


class StepShown(WireModel):
    """Credits by which one finding makes the record differ from the journal from a day on. kind is that of the
    difference, `match`, or `cancelled` for entries that cancel each other across the end of the days."""

    day: Day
    credits: CreditChange
    kind: str
    key: str | None = None


class BreakShown(WireModel):
    """A day on which the record's own running balances don't follow from one another; missing is what the rows that it
    lacks have moved, where that can be told."""

    day: Day
    missing: CreditChange | None = None


class DayProofShown(WireModel):
    """A day on which something moved; apart is what the record has at its end beyond the journal."""

    day: Day
    journal: SumsShown
    record: SumsShown
    apart: CreditChange | None = None


class AccountProofShown(ProofShown):
    """The proof of one account over one span: journal closing + opened_apart + all steps = record closing, and residual
    is what the record's last running balance has beyond that."""

    opened_apart: CreditChange | None = None
    steps: list[StepShown]
    breaks: list[BreakShown]
    days: list[DayProofShown]


class MonthProofShown(WireModel):
    """The proof of a month, by account and span; rows are those at which journal and record part."""

    month: MonthText
    accounts: list[AccountProofShown]
    rows: list[VendorRowShown]


@router.get(
    "/reconciliations/{month}/proof",
    response_model=MonthProofShown,
    operation_id="read_proof",
    summary="Prove a month's balances account by account and day by day",
    responses={200: {"content": {CSV: {"schema": {"type": "string"}}}}, **also(406)},
)
def proof(
    pool: PoolId,
    month: Annotated[MonthText, Path()],
    caller: CallerOf,
    office: OfficeOf,
    member: Annotated[MemberCode | None, Query(description="The accounts of this member only.")] = None,
    accept: Accept = None,
) -> Response:
    """As JSON, or the days as CSV for those who accept text/csv. Matched movements count on the vendor's day; days
    without movements are left out."""
    wanted = choose(accept, (JSON, CSV))
    found = reconciling.reconcile(office, caller, pool, Month.parse(month))
    of = {each.account: found.accounts.member_of(each.account, each.last) for each in found.proof}
    chosen = [each for each in found.proof if member is None or of[each.account] == member]
    if wanted == CSV:
        name = f"proof-{pool}-{month}.csv"
        headers = {"Vary": "Accept", "Content-Disposition": f'attachment; filename="{name}"'}
        return Response(proof_csv(chosen), media_type=f"{CSV}; charset=utf-8", headers=headers)
    parted = [each.parting.row for each in chosen if each.parting and each.parting.row]
    shown = {
        "month": month,
        "accounts": [_account(each, of[each.account], _kinds(found)) for each in chosen],
        "rows": [show_row(found.rows[row]) for row in dict.fromkeys(parted)],
    }
    return JSONResponse(shown, headers={"Vary": "Accept"})


def _kinds(found: Reconciliation) -> dict[str, str]:
    return {each.key: each.kind.value for each in found.differences}


def _account(each: AccountProof, member: str | None, kinds: dict[str, str]) -> dict[str, Any]:
    ours, theirs = each.journal.opening, each.record.opening
    apart = None if ours is None or theirs is None else theirs - ours
    return {
        **show_proof(each, member),
        **stated({"opened_apart": apart}),
        "steps": [_step(step, kinds) for step in each.steps],
        "breaks": [_break(found) for found in each.breaks],
        "days": [_day(day) for day in each.days],
    }


def _step(step: Step, kinds: dict[str, str]) -> dict[str, Any]:
    kind = "cancelled" if step.key is None else kinds.get(step.key, "match")
    return stated({"day": step.day.isoformat(), "credits": step.credits, "kind": kind, "key": step.key})


def _break(found: Break) -> dict[str, Any]:
    return stated({"day": found.day.isoformat(), "missing": found.missing})


def _day(day: DayProof) -> dict[str, Any]:
    return stated(
        {
            "day": day.day.isoformat(),
            "journal": show_sums(day.journal),
            "record": show_sums(day.record),
            "apart": day.apart,
        }
    )
