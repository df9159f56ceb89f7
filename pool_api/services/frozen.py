"""What a month is costed and settled by: what its close froze, or else what is agreed and said now.

Knows where a close's sheet and settlement have what they rest on; reads nothing and costs nothing.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from pool_api.domain.book import policy_under
from pool_api.domain.costing import Terms
from pool_api.domain.entries import Close, Entry
from pool_api.domain.ladder import Ladder, ladder_from, valid_on
from pool_api.domain.pool import Member, Pool
from pool_api.domain.values import Month

COSTS = "costs"
"""Where a close's sheet has the digest of what each entry cost: those are as many as entries, which give them again."""

SAVING = "saving"
"""Where a close's sheet has how a saving was shared, with the ladder that it rests on."""

HUB = "hub"
"""Where a close's settlement names the keeper's member, through whom payments go that can't go otherwise."""


def terms_of(pool: Pool, members: list[Member], ladders: Sequence[Ladder], close: Entry | None, month: Month) -> Terms:
    """Give what a month is costed under: as its close froze it, or else as it is agreed and said now."""
    return Terms(
        policy=policy_under(pool, close, month),
        members=_members_of(close, members),
        currency=pool.currency,
        ladder=_ladder_of(close) or valid_on(ladders, month.last),
    )


def _members_of(close: Entry | None, members: list[Member]) -> list[Member]:
    """Give the members that there were when a close froze their month, with their shares and their days of then; all
    present ones in an open month, and where the close says nothing of shares."""
    sheet = close.body.sheet if close and isinstance(close.body, Close) else {}
    weights, days = sheet.get("weights"), sheet.get("member_days", {})
    if weights is None:
        return members
    return [_as_frozen(each, weights[each.code], days.get(each.code)) for each in members if each.code in weights]


def _as_frozen(member: Member, share: int, days: list[str | None] | None) -> Member:
    """Give a member with a share, and with the days that it joined and left on where the close says them."""
    now = [None if day is None else day.isoformat() for day in (member.joined_on, member.left_on)]
    joined_on, left_on = days or now
    if (member.share, now) == (share, [joined_on, left_on]):
        return member
    return replace(
        member,
        share=share,
        joined_on=member.joined_on if joined_on is None else date.fromisoformat(joined_on),
        left_on=None if left_on is None else date.fromisoformat(left_on),
    )


def _ladder_of(close: Entry | None) -> Ladder | None:
    """Give the ladder by which a close froze a saving as shared, None where it froze none, and in an open month."""
    saving = close.body.sheet.get(SAVING) if close and isinstance(close.body, Close) else None
    return None if saving is None else ladder_from(saving["ladder"])


def hub_of(close: Entry | None) -> str | None:
    """Give the keeper's member that a close froze, None where it froze none, and in an open month."""
    return close.body.settlement.get(HUB) if close and isinstance(close.body, Close) else None
