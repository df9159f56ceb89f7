"""For whom somebody may act in a pool: a keeper for every member, a clerk for its own, others for none."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from pool_client.models.directory import Member, Role

from pool_web.visit import Visit, listed


async def acted_for(visit: Visit) -> list[Member]:
    """Give the members of today that whoever is signed in may record for."""
    return may_act_for(visit, await listed(visit.book.members()))


def may_act_for(visit: Visit, members: Sequence[Member]) -> list[Member]:
    """Give those of all members that are in the pool today and that whoever is signed in may record for."""
    own = visit.own
    if own is not None and own.role is Role.READER:
        return []
    present = present_on(visit.today, members)
    if own is None or own.role is not Role.CLERK:
        return present
    return [each for each in present if each.code == own.member]


def present_on(day: date, members: Sequence[Member]) -> list[Member]:
    """Give those of all members that are in the pool on a day, the one that they join and the one that they leave on
    with it."""
    return [each for each in members if each.joined_on <= day and (each.left_on is None or day <= each.left_on)]


def zone_of(visit: Visit) -> str:
    """Give the pool's time zone."""
    return visit.pool.time_zone if visit.pool else "UTC"


def later(visit: Visit, wait: timedelta) -> str:
    """Give an instant to come on the pool's clocks, to the half hour, as fields of forms have it."""
    at = visit.site.now().astimezone(ZoneInfo(zone_of(visit))) + wait
    half = at.replace(minute=at.minute // 30 * 30, second=0, microsecond=0, tzinfo=None)
    return datetime.isoformat(half, timespec="minutes")
