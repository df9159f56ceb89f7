"""How journal and record of one vendor account are shown side by side on the wire."""

from typing import Any

from pool_api.domain.matching import AccountProof, Sums
from pool_api.rest.wire import CreditChange, CreditCount, Day, MemberCode, ShortText, WireModel, stated

Json = dict[str, Any]


class SumsShown(WireModel):
    """opening + bought + came_in - went_out - used + refunded = closing; no opening, no closing."""

    opening: CreditChange | None = None
    bought: CreditCount
    came_in: CreditCount
    went_out: CreditCount
    used: CreditCount
    refunded: CreditCount
    closing: CreditChange | None = None


class PartingShown(WireModel):
    """Where journal and record part for the first time, with both balances at the end of that day; row is the first of
    the day's rows that the journal doesn't have alike."""

    day: Day
    journal_balance: CreditChange
    record_balance: CreditChange
    keys: list[str]
    row: str | None = None


class ProofShown(WireModel):
    """Journal and record of one vendor account side by side over a span that the record covers; stated is the record's
    last running balance, residual what it has beyond the record's rows."""

    account: ShortText
    member: MemberCode | None = None
    first_day: Day
    last_day: Day
    journal: SumsShown
    record: SumsShown
    stated: CreditChange | None = None
    residual: CreditChange | None = None
    balanced: bool
    parting: PartingShown | None = None


def show_proof(each: AccountProof, member: str | None) -> Json:
    """Give the proof of an account over a span, without its days."""
    parting = each.parting
    return stated(
        {
            "account": each.account,
            "member": member,
            "first_day": each.first.isoformat(),
            "last_day": each.last.isoformat(),
            "journal": show_sums(each.journal),
            "record": show_sums(each.record),
            "stated": each.stated,
            "residual": each.residual,
            "balanced": each.balanced,
            "parting": None
            if parting is None
            else {
                "day": parting.day.isoformat(),
                "journal_balance": parting.journal_balance,
                "record_balance": parting.record_balance,
                "keys": list(parting.keys),
                **({"row": parting.row} if parting.row else {}),
            },
        }
    )


def show_sums(each: Sums) -> Json:
    """Give what an account opened with, what moved, and what it closed with."""
    return stated(
        {
            "opening": each.opening,
            "bought": each.bought,
            "came_in": each.came_in,
            "went_out": each.went_out,
            "used": each.used,
            "refunded": each.refunded,
            "closing": each.closing,
        }
    )
