"""What ordering together was worth, month by month and in all, to each member."""

from collections.abc import Iterable
from dataclasses import dataclass

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.errors import NoLadder, TooManyRows
from pool_api.domain.values import Currency, Month, Period
from pool_api.domain.worth import MemberWorth, MonthWorth, month_worth
from pool_api.services.costs import costed
from pool_api.services.office import Office

MOST_MONTHS = 36
"""How many months are told at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Savings:
    """What some months were worth, in order; own is the member whose own figures alone the caller may see, None for
    all; without_ladder are the months of which no ladder tells what members would have paid alone."""

    period: Period
    currency: Currency
    months: tuple[tuple[MonthWorth, bool], ...]
    without_ladder: tuple[Month, ...]
    own: str | None

    def told(self, month: MonthWorth) -> Iterable[MemberWorth]:
        """Give the members of a month that the caller may see."""
        return [each for each in month.members if self.own in (None, each.member)]

    @property
    def members(self) -> list[MemberWorth]:
        """Each member's months together, in order of code, shares apart."""
        found: dict[str, list[MemberWorth]] = {}
        for month, _ in self.months:
            for each in self.told(month):
                found.setdefault(each.member, []).append(each)
        return [together(code, found[code]) for code in sorted(found)]


def together(name: str, parts: Iterable[MemberWorth]) -> MemberWorth:
    """Add up what was worth something, under a name; joint orders of several months have no shares together."""
    listed = [*parts]
    sums = {each: sum(getattr(part, each) for part in listed) for each in ("credits", "paid", "alone", "shared")}
    return MemberWorth(member=name, shares={}, **sums)


def savings(office: Office, caller: Caller, pool: str, period: Period) -> Savings:
    """Give what the months of a period were worth, those of the pool's; a clerk's own member's figures only.

    Refuses: NotFound for a first month that isn't one of the pool's; NoLadder where no month of the period has one;
             TooManyRows, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_STATEMENT)
    found = costed(office, pool)
    found.month(period.first)
    wanted = [each for month, each in found.months.items() if period.first <= month <= period.last]
    if len(wanted) > MOST_MONTHS:
        raise TooManyRows(told_by="month", count=len(wanted), most=MOST_MONTHS)
    priced = [(each, each.ladder) for each in wanted]
    if all(ladder is None for _, ladder in priced):
        raise NoLadder(day=wanted[0].month.last.isoformat())
    return Savings(
        period=period,
        currency=found.directory.pool.currency,
        months=tuple(
            (month_worth(each.sheet, ladder), each.close is not None) for each, ladder in priced if ladder is not None
        ),
        without_ladder=tuple(each.month for each, ladder in priced if ladder is None),
        own=access.own_side(caller, Right.READ_STATEMENT),
    )
