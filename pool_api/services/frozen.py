"""What a month is costed and settled by: what its close froze, or else what is agreed and said now.

Knows where a close's sheet and settlement have what they rest on; reads nothing and costs nothing.
"""

from collections.abc import Sequence
from dataclasses import replace

from pool_api.domain.book import policy_under
from pool_api.domain.chain import Terms
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
    """Give the members that there were when a close froze their month, with their shares of then; all present ones in
    an open month, and where the close says nothing of shares."""
    weights = close.body.sheet.get("weights") if close and isinstance(close.body, Close) else None
    if weights is None:
        return members
    there = (each for each in members if each.code in weights)
    return [each if each.share == weights[each.code] else replace(each, share=weights[each.code]) for each in there]


def _ladder_of(close: Entry | None) -> Ladder | None:
    """Give the ladder by which a close froze a saving as shared, None where it froze none, and in an open month."""
    saving = close.body.sheet.get(SAVING) if close and isinstance(close.body, Close) else None
    return None if saving is None else ladder_from(saving["ladder"])


def hub_of(close: Entry | None) -> str | None:
    """Give the keeper's member that a close froze, None where it froze none, and in an open month."""
    return close.body.settlement.get(HUB) if close and isinstance(close.body, Close) else None
