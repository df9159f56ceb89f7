"""Order plans: made from stated or forecast needs, the ladders and the book, kept as what they rest on, and read by
everyone."""

from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from pool_api.domain import access
from pool_api.domain.access import Caller, Right
from pool_api.domain.entries import Json, digest
from pool_api.domain.errors import NoLadder, NotFound, PlanUnfit, UnknownMember
from pool_api.domain.ladder import valid_on
from pool_api.domain.needs import Notice
from pool_api.domain.planning import MOST_MONTHS, Opening, Outlook, PlanShare, Setting, beside_alone, outlook, parts_of
from pool_api.domain.values import Month
from pool_api.services import once
from pool_api.services.forecasts import NOT_MEASURED, basis
from pool_api.services.office import Office
from pool_api.store import answers, directory, journal, plans
from pool_api.store.answers import Slot
from pool_api.store.engine import Connection, reading
from pool_api.store.plans import KeptPlan

OPERATION = "order-plans"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRequest:
    """What a plan is asked for with: as a Setting, but the first month may be the present one (None), and the opening
    what the book has (None); needs None asks for those that are forecast, or stated by hand, for `months` months
    (None: 12)."""

    first_month: Month | None
    needs: tuple[tuple[str, tuple[int, ...]], ...] | None
    months: int | None
    opening: int | None
    order_cost: int
    holding_cost: str
    expiry: int | None
    cash_limit: int | None
    stock_cap: int | None
    key: str

    @property
    def fingerprint(self) -> str:
        """Equal exactly for requests that ask for the same; months say nothing beside needs, and aren't counted then,
        as in requests of before there were forecasts."""
        left_out = {"key"} if self.needs is None else {"key", "months"}
        return digest([repr(getattr(self, name)) for name in PlanRequest.__slots__ if name not in left_out])


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePlan:
    """A plan with what it rests on; replayed where an earlier request made it."""

    kept: KeptPlan
    found: Outlook
    replayed: bool = False


_found = lru_cache(maxsize=64)(outlook)
"""A setting's plan never changes, and many read the same one."""


def make_plan(office: Office, caller: Caller, pool: str, asked: PlanRequest) -> MadePlan:
    """Make the cheapest plan for some needs and keep it. Nothing of a refused one stays.

    Refuses: NotFound, NotPermitted, KeyReused, UnknownMember, PlanUnfit, NoLadder, NeedNotMet."""
    access.permit_into(caller, pool, Right.PLAN_ORDERS)
    request = once.Asked(Slot(caller.key_id, OPERATION, asked.key), asked.fingerprint)
    with reading(office.engine, pool) as connection:
        if before := answers.outcome_of(connection, pool, *request):
            return _again(connection, pool, before)
    forecast = _forecast(office, pool, asked)
    with reading(office.engine, pool) as connection:
        setting = _setting(office, connection, pool, asked, forecast)
    found = _found(setting)

    def write(connection: Connection, at: str) -> tuple[MadePlan, Json]:
        name = f"{plans.count_plans(connection, pool) + 1:08d}"
        kept = KeptPlan(plan_id=name, setting=setting, made_at=at, made_by=access.signature(caller))
        plans.write_plan(connection, pool, kept)
        return MadePlan(kept=kept, found=found), {"plan_id": name}

    return once.do(office, pool, request, lambda connection, before: _again(connection, pool, before), write)


def _again(connection: Connection, pool: str, before: Json) -> MadePlan:
    return replace(_kept(connection, pool, before["plan_id"]), replayed=True)


def _kept(connection: Connection, pool: str, plan_id: str) -> MadePlan:
    kept = plans.read_plan(connection, pool, plan_id)
    if kept is None:
        raise NotFound(what="order plan", name=plan_id)
    return MadePlan(kept=kept, found=_found(kept.setting))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Needs:
    """The needs of members by month, from the present one on where they are forecast: up to the entry `at`."""

    of: Mapping[str, tuple[int, ...]]
    at: int | None = None


def _forecast(office: Office, pool: str, asked: PlanRequest) -> _Needs | None:
    """Give what members will need, where the request leaves it to the forecast."""
    if asked.needs is not None:
        return None
    there = basis(office, pool)
    present = Month.of(there.today)
    if asked.first_month not in {None, present}:
        raise PlanUnfit(reason=f"needs are forecast from {present} on; state those of a plan that begins later")
    found = there.coming(NOT_MEASURED, asked.months or _USUAL_MONTHS, _NO_NOTICE)
    needs = {each.member: tuple(month.need for month in each.months) for each in found.members}
    return _Needs(of=needs, at=there.book.number)


_USUAL_MONTHS = 12

_NO_NOTICE = Notice(level=500, days=0)
"""Plans warn of nothing."""


def _stated(asked: PlanRequest, members: Collection[str]) -> _Needs:
    """Give the needs that the request states. Refuses: UnknownMember, PlanUnfit."""
    stated = asked.needs or ()
    for member, _ in stated:
        if member not in members:
            raise UnknownMember(member=member)
    needs = dict(stated)
    if len(needs) < len(stated):
        raise PlanUnfit(reason="the needs of a member are stated twice")
    for member, credits in stated:
        if asked.months not in {None, len(credits)}:
            raise PlanUnfit(reason=f"the needs of {member} are {len(credits)}, for {asked.months} months")
    return _Needs(of=needs)


def _setting(office: Office, connection: Connection, pool: str, asked: PlanRequest, forecast: _Needs | None) -> Setting:
    """Give what a plan rests on, with what the request leaves to the book, the day and the ladders."""
    found = directory.read_directory(connection, pool)
    if found is None:
        raise NotFound(what="pool", name=pool)
    today = office.today(found.pool.time_zone)
    first = asked.first_month or Month.of(today)
    if first < Month.of(today):
        raise PlanUnfit(reason=f"{first} is over; plans begin with the present month or a later one")
    needs = forecast or _stated(asked, found.members)
    ladders, days = plans.read_lawful(connection, pool, found.pool.currency), [max(first.first, today)]
    while len(days) < min(len(next(iter(needs.of.values()), ())), MOST_MONTHS):
        days.append(Month.of(days[-1]).next().first)
    counting = [(day, valid_on(ladders, day)) for day in days]
    for day, ladder in counting:
        if ladder is None:
            raise NoLadder(day=day.isoformat())
    return Setting(
        first_month=first,
        needs=tuple(sorted(needs.of.items())),
        forecast_at=needs.at,
        opening=_opening(connection, pool) if asked.opening is None else Opening(quantity=asked.opening),
        ladders=tuple(ladder for _, ladder in counting if ladder),
        **{name: getattr(asked, name) for name in _AS_ASKED},
    )


_AS_ASKED = ("order_cost", "holding_cost", "expiry", "cash_limit", "stock_cap")


def _opening(connection: Connection, pool: str) -> Opening:
    """Give all credits that the pool has: those in stock and those that members hold, as members lend to each other."""
    book = journal.read_book(connection, pool)
    if book is None:
        raise NotFound(what="pool", name=pool)
    held = sum(book.held.values())
    return Opening(quantity=book.stock + held, entry=book.number, stock=book.stock, held=held)


def read_plan(office: Office, caller: Caller, pool: str, plan_id: str) -> MadePlan:
    """Give one plan. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_PLANS)
    with reading(office.engine, pool) as connection:
        return _kept(connection, pool, plan_id)


_beside_alone = lru_cache(maxsize=4096)(beside_alone)


def plan_shares(
    office: Office, caller: Caller, pool: str, plan_id: str, *, after: str | None, limit: int
) -> Sequence[PlanShare]:
    """Give what a plan saves members beside ordering alone, in order of their codes. Only those that are asked for are
    reckoned: each takes a plan of its own. Refuses: NotFound, NotPermitted."""
    made = read_plan(office, caller, pool, plan_id)
    parts = parts_of(made.kept.setting, made.found.plan)
    first = 0 if after is None else bisect_right(parts, after, key=lambda part: part.member)
    return [_beside_alone(part) for part in parts[first : first + limit]]


def list_plans(office: Office, caller: Caller, pool: str, *, before: str | None, limit: int) -> list[KeptPlan]:
    """Give plans as they were asked for, newest first. Refuses: NotFound, NotPermitted."""
    access.permit_into(caller, pool, Right.READ_PLANS)
    with reading(office.engine, pool) as connection:
        return plans.read_plans(connection, pool, before=before, limit=limit)
