"""Needs of coming months: forecast from what members used, stated otherwise by people who know better, and read.

A statement is of one member and one whole month; it is kept in versions, and the forecast stands beside it.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import NeedUnfit, NotFound
from pool_api.domain.needs import Coming, Measured, Notice, Season, measured
from pool_api.domain.planning import MOST_MONTHS
from pool_api.domain.pool import Member
from pool_api.domain.values import Month
from pool_api.services.forecasts import Basis, basis
from pool_api.services.office import Office
from pool_api.services.versions import agree
from pool_api.store import directory, journal, needs
from pool_api.store.engine import Connection, reading, writing
from pool_api.store.needs import NeedVersion

_WHAT = "need of"
"""What a statement is called where there is none."""

_measured = lru_cache(maxsize=16)(measured)


class NeedOf(NamedTuple):
    """Whose need, in which month."""

    member: str
    month: Month

    def __str__(self) -> str:
        return f"{self.member} in {self.month}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a whole month needs, and how somebody knows; quantity None withdraws."""

    quantity: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """The needs of coming months with what they rest on. Of a clerk's answer members are its own alone; off is how far
    forecasts were off."""

    basis: Basis
    found: Coming
    off: Measured
    notice: Notice

    @property
    def season(self) -> Season | None:
        """The season of the pool."""
        return self.basis.known.season


def read_needs(  # noqa: PLR0917 - what is asked about
    office: Office, caller: Caller, pool: str, months: int, notice: Notice, member: str | None
) -> tuple[Needs, str | None]:
    """Give the needs of the present month and those after it, and the member that they are narrowed to: a clerk's own,
    or the one asked for.

    Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_NEEDS, member=member)
    office.check_pool(pool)
    there = basis(office, pool)
    only = member or access.own_side(caller, Right.READ_NEEDS)
    if member is not None and member not in {shop.member.code for shop in there.shops}:
        raise NotFound(what="member", name=member)
    off = _measured(there.history)
    return Needs(basis=there, found=there.coming(off, months, notice), off=off, notice=notice), only


def read_need(office: Office, caller: Caller, pool: str, of: NeedOf) -> NeedVersion:
    """Give what was stated of a need. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_NEEDS, member=of.member)
    with reading(office.engine, pool) as connection:
        found = needs.read_need(connection, pool, *of)
    if found is None or found.quantity is None:
        raise NotFound(what=_WHAT, name=str(of))
    return found


def list_versions(
    office: Office, caller: Caller, pool: str, of: NeedOf, *, before: int | None, limit: int
) -> list[NeedVersion]:
    """Give all that was stated of a need, newest first. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_NEEDS, member=of.member)
    with reading(office.engine, pool) as connection:
        found = needs.read_versions(connection, pool, *of, before=before, limit=limit)
    if not found and before is None:
        raise NotFound(what=_WHAT, name=str(of))
    return found


def put_need(  # noqa: PLR0917 - a need, what is said of it, and what that replaces
    office: Office, caller: Caller, pool: str, of: NeedOf, said: Said, version: int | None
) -> NeedVersion:
    """State a need (version None), or state it otherwise.

    Refuses: NotFound, NotPermitted, NeedUnfit, AlreadyThere, VersionStale."""
    return _add(office, caller, pool, of, said, version)


def withdraw_need(office: Office, caller: Caller, pool: str, of: NeedOf, version: int) -> None:
    """Let the forecast count again; what was stated stays as versions.

    Refuses: NotFound, NotPermitted, VersionStale."""
    _add(office, caller, pool, of, Said(quantity=None, reason=""), version)


def _add(  # noqa: PLR0917 - a version says all of this
    office: Office, caller: Caller, pool: str, of: NeedOf, said: Said, version: int | None
) -> NeedVersion:
    access.permit_into(caller, pool, Right.STATE_NEEDS, member=of.member)
    with writing(office.engine, pool) as connection:
        if journal.lock_head(connection, pool) is None:
            raise NotFound(what="pool", name=pool)
        member = _member(connection, pool, of.member)
        if said.quantity is not None:
            _check_month(member, of.month, Month.of(office.pool_today(pool)))
        there = needs.read_need(connection, pool, *of)
        agree(_WHAT, str(of), there.version if there and there.quantity is not None else None, version)
        made = NeedVersion(
            member=of.member,
            month=of.month,
            version=there.version + 1 if there else 1,
            quantity=said.quantity,
            reason=said.reason,
            written_at=office.instant(),
            written_by=access.signature(caller),
        )
        needs.write_need(connection, pool, made)
    return made


def _member(connection: Connection, pool: str, code: str) -> Member:
    found = directory.read_directory(connection, pool)
    if found is None or code not in found.members:
        raise NotFound(what="member", name=code)
    return found.members[code]


def _check_month(member: Member, month: Month, present: Month) -> None:
    if month < present:
        raise NeedUnfit(reason=f"{month} is over")
    ahead = 12 * (month.year - present.year) + month.number - present.number
    if ahead >= MOST_MONTHS:
        raise NeedUnfit(reason=f"{month} is {ahead} months ahead, and needs are looked at for {MOST_MONTHS} months")
    if month.last < member.joined_on or (member.left_on is not None and member.left_on < month.first):
        raise NeedUnfit(reason=f"{member.code} is not in the pool in {month}")
